"""Sub-assemblies in the office: how they are made, lots begun, and what each lot waits for."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import QualityError
from quality.made_here import begin_lot, steps_waiting
from quality.models import LotRoute, LotRouteStep, MadeLot
from quality.rights import Right, has_right
from routing.errors import RoutingError
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.made_here.forms import BeginForm, LotRouteForm, LotStepFormSet
from shopfloor.refusals import status_of
from shopfloor.stamps import office_stamp

MANAGES = needs(Right.MANAGE_MATERIALS)
LATELY = 30
CHANGED_MEANWHILE = gettext_noop(
    "Somebody changed this route meanwhile. What you see now is theirs; make your change again."
)


@require_safe
@MANAGES
def overview(request: HttpRequest) -> HttpResponse:
    return _overview(request, BeginForm())


@require_POST
@MANAGES
def begin(request: HttpRequest) -> HttpResponse:
    form, who = BeginForm(request.POST), signed_in(request)
    if form.is_valid():
        try:
            made = begin_lot(**form.cleaned_data, person=who, stamp=office_stamp(request, who))
        except (RoutingError, QualityError) as refused:
            form.add_error(None, refused.message)
            return _overview(request, form, status=status_of(refused))
        said = _("{lot} is begun. Write its code on the tray; its first step is open.")
        messages.success(request, said.format(lot=made.lot.code))
        return redirect("materials:lot", made.lot_id)
    return _overview(request, form, status=422)


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def new_route(request: HttpRequest) -> HttpResponse:
    return _edit(request, None)


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def route(request: HttpRequest, code: str) -> HttpResponse:
    return _edit(request, get_object_or_404(LotRoute, code=code, is_current=True))


def _overview(request: HttpRequest, form: BeginForm, *, status: int = 200) -> HttpResponse:
    now = timezone.now()
    context = {
        "form": form,
        "routes": LotRoute.objects.filter(is_current=True).prefetch_related("steps__station"),
        "waiting": [(each, each.waits(now)) for each in steps_waiting()],
        "lately": MadeLot.objects.exclude(lot__state="making").select_related("lot", "route", "begun_by")[:LATELY],
        "may_edit": has_right(signed_in(request), Right.EDIT_RECIPES),
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "made_here/list.html", context, status=status)


def _edit(request: HttpRequest, current: LotRoute | None) -> HttpResponse:
    """A change makes the next revision: lots that are begun go on by the one they began with."""
    data = request.POST if request.method == "POST" else None
    initial = {name: getattr(current, name) for name in LotRouteForm.Meta.fields} if current else None
    form = LotRouteForm(data, instance=LotRoute(), initial=initial, current=current)
    steps = LotStepFormSet(data, instance=current or LotRoute(), prefix="steps")
    seen = current.revision if current else 0
    if data is not None and data.get("revision", "") != str(seen):
        steps = LotStepFormSet(instance=current or LotRoute(), prefix="steps")
        form.add_error(None, _(CHANGED_MEANWHILE))
    elif data is not None and form.is_valid() & steps.is_valid():
        saved = _save_revision(form.save(commit=False), steps.kept(), seen)
        if saved is not None:
            said = _("{route}, revision {revision} is in force for lots begun from now on.")
            messages.success(request, said.format(route=saved.name, revision=saved.revision))
            return redirect("made_here:list")
        form.add_error(None, _(CHANGED_MEANWHILE))
    context = {"form": form, "steps": steps, "current": current, "revision": seen}
    return render(request, "made_here/route.html", context, status=200 if data is None else 422)


def _save_revision(route: LotRoute, steps: list[LotRouteStep], seen: int) -> LotRoute | None:
    """None when ``seen`` is not the newest revision any more."""
    with writing():
        others = LotRoute.objects.select_for_update().filter(code=route.code)
        newest = others.order_by("-revision").first()
        if (newest.revision if newest else 0) != seen:
            return None
        others.filter(is_current=True).update(is_current=False)
        route.revision = seen + 1
        route.save()
        for step in steps:
            step.route = route
        LotRouteStep.objects.bulk_create(steps)
    return route
