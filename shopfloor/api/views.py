"""Keys for scripts and calendars: made, named and revoked by an administrator. A key's secret is shown once."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.api_keys import make_key, rename_key, revoke_key
from quality.errors import QualityError
from quality.models import ApiKey, KeyOpens
from quality.rights import Right
from shopfloor.access import needs, signed_in
from shopfloor.api.forms import KeyForm, NameForm
from shopfloor.qr import base_url

MANAGES_KEYS = needs(Right.MANAGE_API_KEYS)


@require_safe
@MANAGES_KEYS
def keys(request: HttpRequest) -> HttpResponse:
    rows = list(ApiKey.objects.select_related("created_by", "revoked_by"))
    context = {
        "in_use": [key for key in rows if key.revoked_at is None],
        "revoked": [key for key in rows if key.revoked_at is not None],
        "base": base_url(request),
    }
    return render(request, "api/keys.html", context)


@require_http_methods(["GET", "POST"])
@MANAGES_KEYS
def new_key(request: HttpRequest) -> HttpResponse:
    form = KeyForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        opens = KeyOpens(form.cleaned_data["opens"])
        try:
            key, secret = make_key(
                name=form.cleaned_data["name"], opens=opens, by=signed_in(request), at=timezone.now()
            )
        except QualityError as refused:
            form.add_error("name", refused.message)
        else:
            return _shown_once(request, key, secret)
    return render(request, "api/new.html", {"form": form}, status=422 if request.method == "POST" else 200)


@require_http_methods(["GET", "POST"])
@MANAGES_KEYS
def key(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Its name, and the button that revokes it."""
    which = get_object_or_404(ApiKey.objects.select_related("created_by", "revoked_by"), pk=pk)
    form = NameForm(request.POST if request.method == "POST" else None, initial={"name": which.name})
    if request.method == "POST" and form.is_valid():
        try:
            rename_key(key=which, name=form.cleaned_data["name"], by=signed_in(request))
        except QualityError as refused:
            form.add_error("name", refused.message)
        else:
            messages.success(request, _("The key is called {name} now.").format(name=which.name))
            return redirect("api:keys")
    context = {"form": form, "key": which}
    return render(request, "api/key.html", context, status=422 if request.method == "POST" else 200)


@require_POST
@MANAGES_KEYS
def revoke(request: HttpRequest, pk: int) -> HttpResponse:
    which = get_object_or_404(ApiKey, pk=pk)
    revoke_key(key=which, by=signed_in(request), at=timezone.now())
    messages.success(request, _("{name} is revoked: it opens nothing any more.").format(name=which.name))
    return redirect("api:keys")


def _shown_once(request: HttpRequest, made: ApiKey, secret: str) -> HttpResponse:
    """The secret, once: it is kept nowhere, so whoever loses this page revokes the key and makes another."""
    base = base_url(request)
    is_calendar = made.opens == KeyOpens.CALENDAR
    context = {
        "key": made,
        "secret": secret,
        "is_calendar": is_calendar,
        "address": base + (reverse("api:calendar", args=[secret]) if is_calendar else reverse("api:orders")),
    }
    response = render(request, "api/made.html", context)
    patch_cache_control(response, no_store=True)
    return response
