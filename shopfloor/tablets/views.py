"""The shop's tablets: add one with a code or on the spot, change its stations, unlock it, revoke it."""

from __future__ import annotations

from urllib.parse import urlencode, urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import QualityError
from quality.models import Tablet
from quality.pins import is_locked
from quality.rights import Right
from quality.tablets import CODE_LIVES, as_shown, change_tablet, enrol_here, make_code, revoke, unlock_tablet
from shopfloor.access import needs, signed_in
from shopfloor.qr import base_url, qr_svg
from shopfloor.tablet_station import keep_key, this_tablet
from shopfloor.tablets.forms import TabletForm

MANAGES_TABLETS = needs(Right.MANAGE_TABLETS)
THIS_MACHINE = {"localhost", "127.0.0.1", "::1"}


@require_safe
@MANAGES_TABLETS
def tablets(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    rows = list(Tablet.objects.prefetch_related("stations").select_related("enrolled_by", "revoked_by"))
    context = {
        "in_use": [(tablet, is_locked(tablet, now)) for tablet in rows if tablet.revoked_at is None],
        "revoked": [tablet for tablet in rows if tablet.revoked_at is not None],
        "this": this_tablet(request),
    }
    return render(request, "tablets/list.html", context)


@require_http_methods(["GET", "POST"])
@MANAGES_TABLETS
def new_tablet(request: HttpRequest) -> HttpResponse:
    """A tablet that somebody holds elsewhere: its name and stations, then a code to type or scan there."""
    form = TabletForm(request.POST if request.method == "POST" else None)
    now = timezone.now()
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data
        try:
            code = make_code(name=chosen["name"], stations=chosen["stations"], by=signed_in(request), at=now)
        except QualityError as refused:
            form.add_error("name", refused.message)
        else:
            return _code_page(request, chosen["name"], code)
    status = 422 if request.method == "POST" else 200
    return render(request, "tablets/new.html", {"form": form, "this": this_tablet(request)}, status=status)


@require_POST
@MANAGES_TABLETS
def here(request: HttpRequest) -> HttpResponseBase:
    """The very browser that asks becomes a tablet. Whoever was led here by the first steps is led back to them."""
    asked = request.POST.get("next")
    after = asked if asked in (reverse("start:steps"), reverse("start:round")) else reverse("floor:stations")
    if (this := this_tablet(request)) is not None:
        messages.success(request, _("This browser is a tablet already: {name}.").format(name=this.name))
        return redirect(after)
    form = TabletForm(request.POST)
    if form.is_valid():
        chosen = form.cleaned_data
        try:
            tablet, key = enrol_here(
                name=chosen["name"], stations=chosen["stations"], by=signed_in(request), at=timezone.now()
            )
        except QualityError as refused:
            form.add_error("name", refused.message)
        else:
            said = _("This browser is a tablet of the shop now: {name}.")
            messages.success(request, said.format(name=tablet.name))
            response = redirect(after)
            keep_key(response, key)
            return response
    return render(request, "tablets/new.html", {"form": form, "this": None}, status=422)


@require_http_methods(["GET", "POST"])
@MANAGES_TABLETS
def tablet(request: HttpRequest, pk: int) -> HttpResponse:
    """Its name and its stations."""
    which = get_object_or_404(Tablet, pk=pk)
    form = TabletForm(request.POST if request.method == "POST" else None, tablet=which)
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data
        try:
            change_tablet(tablet=which, name=chosen["name"], stations=chosen["stations"], by=signed_in(request))
        except QualityError as refused:
            form.add_error(None if refused.code == "revoked" else "name", refused.message)
        else:
            messages.success(request, _("{name} is saved.").format(name=which.name))
            return redirect("tablets:list")
    context = {"form": form, "tablet": which, "is_locked": is_locked(which, timezone.now())}
    return render(request, "tablets/tablet.html", context, status=422 if request.method == "POST" else 200)


@require_POST
@MANAGES_TABLETS
def revoke_tablet(request: HttpRequest, pk: int) -> HttpResponse:
    which = get_object_or_404(Tablet, pk=pk)
    revoke(tablet=which, by=signed_in(request), at=timezone.now())
    messages.success(request, _("{name} is revoked: it shows nothing any more.").format(name=which.name))
    return redirect("tablets:list")


@require_POST
@MANAGES_TABLETS
def unlock(request: HttpRequest, pk: int) -> HttpResponse:
    which = get_object_or_404(Tablet, pk=pk)
    unlock_tablet(tablet=which, by=signed_in(request))
    messages.success(request, _("At {name} people may sign in again.").format(name=which.name))
    return redirect("tablets:list")


def _code_page(request: HttpRequest, name: str, code: str) -> HttpResponse:
    """The code, once: it is kept nowhere, so whoever loses this page makes a new one."""
    base = base_url(request)
    address = base + reverse("floor:enrol")
    context = {
        "name": name,
        "code": as_shown(code),
        "address": address,
        "qr": qr_svg(f"{address}?{urlencode({'code': code})}"),
        "minutes": int(CODE_LIVES.total_seconds() // 60),
        "only_here": urlsplit(base).hostname in THIS_MACHINE,
    }
    response = render(request, "tablets/code.html", context)
    patch_cache_control(response, no_store=True)
    return response
