"""Sub-assemblies at a tablet: the lots that wait here, and signing their steps."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.errors import QualityError
from quality.made_here import components_of, sign_lot_step, steps_waiting
from quality.models import LotState, MadeLot
from routing.errors import RoutingError
from shopfloor.floor.tablet import Tablet, at_station, worker_needed
from shopfloor.refusals import status_of


@require_safe
@at_station
@worker_needed
def made_lots(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    """What waits at this station, oldest lot first."""
    return _page(request, tablet)


@require_POST
@at_station
@worker_needed
def sign_made_lot(request: HttpRequest, tablet: Tablet, pk: int) -> HttpResponse:
    made = get_object_or_404(MadeLot.objects.select_related("lot", "route"), pk=pk)
    try:
        signed = sign_lot_step(
            made=made,
            position=_number(request.POST.get("position", "")),
            person=tablet.person,
            station=tablet.station,
            good=_number(request.POST.get("good", "")),
            checked=request.POST.get("check") == "yes",
            components=request.POST.get("components", "").replace(";", ",").split(","),
            note=request.POST.get("note", ""),
            stamp=tablet.stamp(request),
        )
    except (RoutingError, QualityError) as refused:
        return _page(
            request,
            tablet,
            error=refused.message,
            refused=made.pk,
            status=status_of(refused),
        )
    made.lot.refresh_from_db()
    done = _("It is in stock now.") if made.lot.state == LotState.RECEIVED else ""
    said = _("{title} of {serial} is signed by {name}.").format(
        title=_("“{name}”").format(name=signed.step.title), serial=made.lot.code, name=tablet.person.name
    )
    messages.success(request, f"{said} {done}")
    return redirect("floor:made_here", tablet.station.code)


def _page(
    request: HttpRequest, tablet: Tablet, *, error: str = "", refused: int = 0, status: int = 200
) -> HttpResponse:
    waiting = steps_waiting(tablet.station)
    inside = components_of([each.made for each in waiting])
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "waiting": [
            (each, each.waits(tablet.now), inside.get(each.made.pk, []), secrets.token_urlsafe(16)) for each in waiting
        ],
        "error": error,
        "refused": refused,
        "typed": request.POST,
        "now": tablet.now,
    }
    response = render(request, "floor/made_here.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response


def _number(words: str) -> int:
    """What was typed; nothing sensible is −1, which every rule refuses with a sentence."""
    clean = words.strip()
    return int(clean) if clean.isdecimal() and len(clean) < 8 else -1
