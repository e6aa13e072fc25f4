"""What is wrong with a shell: reported by a worker, settled or sent back by a supervisor at the same tablet."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from quality.dispositions import rework
from quality.models import Defect
from quality.pins import confirm_pin
from quality.problems import report_problem, settle_problem
from routing.models import Shell
from shopfloor.floor.step_page import answers_of, photo_of, position_of, shell_tap
from shopfloor.floor.tablet import Tablet, at_station, worker_needed
from shopfloor.photos import photo_response


@shell_tap
def problem(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    report_problem(
        serial=shell.serial,
        position=position_of(request),
        person=tablet.person,
        text=request.POST.get("text", ""),
        defect=Defect.objects.filter(code=request.POST.get("defect", "")).first(),
        answers=answers_of(request),
        photo=photo_of(request, tablet),
        stamp=tablet.stamp(request),
    )
    messages.warning(
        request, _("{serial} is on hold. A supervisor decides what happens to it.").format(serial=shell.serial)
    )
    return redirect("floor:queue", tablet.station.code)


@require_safe
@at_station
@worker_needed
def photo(request: HttpRequest, tablet: Tablet, pk: int) -> HttpResponse:
    return photo_response(pk)


@shell_tap
def settle(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    """Release from hold at the station: the supervisor's PIN is asked again."""
    confirm_pin(person=tablet.person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
    settle_problem(
        serial=shell.serial,
        person=tablet.person,
        settlement=request.POST.get("settlement", ""),
        stamp=tablet.stamp(request),
    )
    messages.success(request, _("{serial} is released from hold.").format(serial=shell.serial))
    return redirect("floor:step", tablet.station.code, shell.serial)


@shell_tap
def rework_here(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    """Send a shell on hold back to its step at this station: the supervisor's PIN is asked again."""
    confirm_pin(person=tablet.person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
    rework(
        serial=shell.serial,
        position=position_of(request),
        person=tablet.person,
        reason=request.POST.get("settlement", ""),
        stamp=tablet.stamp(request),
    )
    said = _("{serial} is worked again from here; what was signed since then is void.")
    messages.success(request, said.format(serial=shell.serial))
    return redirect("floor:step", tablet.station.code, shell.serial)
