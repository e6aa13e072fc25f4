"""Several shells at once at the tablet: choose them, answer once, sign once, see shell by shell what was signed."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from quality.errors import QualityError
from quality.racks import RackResult, RackStep, checks_of, rack_of, sign_rack
from routing.errors import RoutingError
from routing.frozen import current_spec
from shopfloor.floor.link import refused_json, wants_json
from shopfloor.floor.materials import MaterialField, material_answers, material_fields
from shopfloor.floor.queue import queue_of
from shopfloor.floor.tablet import Tablet, at_station, worker_needed


@require_safe
@at_station
@worker_needed
def choose(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    """Every shell that can be worked now, by kit; ``?kit=`` chooses a whole kit."""
    kit = request.GET.get("kit", "")
    now = queue_of(tablet.station, tablet.now).now
    kits = list(dict.fromkeys(shell.order for shell in now))
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "kits": [(order, [shell for shell in now if shell.order == order]) for order in kits],
        "chosen": {shell.serial for shell in now if shell.order == kit},
        "kit": kit,
        "now": tablet.now,
    }
    return _fresh(render(request, "floor/rack_choose.html", context))


@require_http_methods(["GET", "POST"])
@at_station
@worker_needed
def sign(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    asked = request.POST if request.method == "POST" else request.GET
    try:
        rack = rack_of(tablet.station, asked.getlist("shell"), tablet.stamp(request))
    except (QualityError, RoutingError) as refused:
        if wants_json(request):
            return refused_json(refused.message, 422)
        messages.error(request, refused.message)
        return redirect("floor:queue", tablet.station.code)
    if request.method == "POST":
        return _signed(request, tablet)
    if not rack:
        messages.error(request, _("Choose at least one shell that is ready to be worked here."))
        return redirect("floor:rack", tablet.station.code)
    context: dict[str, Any] = {
        "station": tablet.station,
        "worker": tablet.worker,
        "rack": rack,
        "checks": checks_of(rack),
        "materials": _materials(rack, tablet),
        "tap_key": secrets.token_urlsafe(16),
        "as_mark": tablet.mark,
        "now": tablet.now,
    }
    return _fresh(render(request, "floor/rack.html", context))


def _signed(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    positions = {
        serial: int(position)
        for serial, position in ((serial, request.POST.get(f"position-{serial}", "")) for serial in _serials(request))
        if position.isdecimal() and len(position) < 6
    }
    shared, each = _answers(request, list(positions))
    results = sign_rack(
        station=tablet.station,
        positions=positions,
        person=tablet.person,
        shared=shared,
        each=each,
        materials=material_answers(request.POST),
        note=request.POST.get("note", ""),
        stamp=tablet.stamp(request),
    )
    refused = [result for result in results if result.signed is None]
    if wants_json(request):
        return _in_a_word(len(results) - len(refused), refused)
    context: dict[str, Any] = {
        "station": tablet.station,
        "worker": tablet.worker,
        "results": results,
        "signed": len(results) - len(refused),
        "refused": refused,
        "now": tablet.now,
    }
    status = 200 if results and not refused else 422
    if refused:
        # What was refused can be corrected here and sent again; what was signed is left alone.
        reasons = {result.serial: result.refusal for result in refused}
        rack = [
            replace(step, refusal=reasons[step.shell.serial])
            for step in rack_of(tablet.station, list(reasons), tablet.stamp(request))
        ]
        context |= {
            "rack": rack,
            "checks": checks_of(rack),
            "materials": _materials(rack, tablet, request.POST.dict()),
            "tap_key": secrets.token_urlsafe(16),
            "as_mark": tablet.mark,
            "typed": request.POST,
        }
    return _fresh(render(request, "floor/rack_done.html", context, status=status))


def _materials(
    rack: Sequence[RackStep], tablet: Tablet, typed: Mapping[str, str] | None = None
) -> tuple[MaterialField, ...]:
    steps = [(step.operation, current_spec(step.shell)) for step in rack]
    return material_fields(steps, device=tablet.device, now=tablet.now, typed=typed)


def _in_a_word(signed: int, refused: list[RackResult]) -> HttpResponse:
    """For the script that keeps taps: whoever stands there sees the page with the results, or finds the reasons listed."""
    if refused:
        reasons = " ".join(f"{result.serial}: {result.refusal}" for result in refused)
        said = _("{signed} signed, {refused} not.").format(signed=signed, refused=len(refused))
        return refused_json(f"{said} {reasons}", 422)
    if not signed:
        return refused_json(_("No shell was chosen."), 422)
    return JsonResponse({"ok": True})


def _serials(request: HttpRequest) -> list[str]:
    return list(dict.fromkeys(request.POST.getlist("shell")))


def _answers(request: HttpRequest, serials: list[str]) -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """``check-<point>`` holds for all, ``check-<point>-<serial>`` for one shell."""
    shared: dict[str, str] = {}
    each: dict[str, dict[str, str]] = {}
    for name in request.POST:
        point, _, serial = name.removeprefix("check-").partition("-")
        if not name.startswith("check-"):
            continue
        answer = " ".join(request.POST.getlist(name)).strip()
        if not serial:
            shared[point] = answer
        elif serial in serials:
            each.setdefault(serial, {})[point] = answer
    return shared, each


def _fresh(response: HttpResponse) -> HttpResponse:
    patch_cache_control(response, no_store=True)
    return response
