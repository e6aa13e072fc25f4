"""One step at a tablet: look at it, begin it, sign it, take the signature back, measure its plates."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.actions import begin_step, measure_plates, pause_step, sign_off, withdraw_sign_off
from quality.pins import confirm_pin
from routing.frozen import current_spec
from routing.languages import numeral
from routing.models import Shell, StationKind
from routing.reissue import cut_list_after
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from shopfloor.access import the_serial, the_shell
from shopfloor.floor.materials import material_answers
from shopfloor.floor.step_page import REFUSALS, answers_of, photos_of, position_of, shell_tap, step_page, step_refused
from shopfloor.floor.tablet import Tablet, at_station, worker_needed


@require_safe
@at_station
@worker_needed
def step(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    return step_page(request, tablet, the_shell(serial))


@require_POST
@at_station
@worker_needed
def sign(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    final = tablet.station.kind == StationKind.FINAL_CHECK
    try:
        if final:
            confirm_pin(person=tablet.person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
        signed = sign_off(
            serial=the_serial(serial),
            position=position_of(request),
            person=tablet.person,
            answers=answers_of(request),
            materials=material_answers(request.POST),
            photos=photos_of(request, tablet),
            note=request.POST.get("note", ""),
            pin_confirmed=final,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except Shell.DoesNotExist:
        the_shell(serial)  # says what is wrong with it
        raise
    except REFUSALS as refused:
        return step_refused(request, tablet, the_shell(serial), refused)
    if not final:  # the queue says it, with the button to take it back
        return redirect("floor:queue", tablet.station.code)
    operation = signed.sign_off.operation
    said = _("{title} of {serial} is signed by {name}.")
    messages.success(
        request, said.format(title=operation.title, serial=operation.shell.serial, name=tablet.person.name)
    )
    return redirect("floor:step", tablet.station.code, operation.shell.serial)


@shell_tap
def start(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    begin_step(
        serial=shell.serial,
        position=position_of(request),
        person=tablet.person,
        station=tablet.station,
        stamp=tablet.stamp(request),
    )
    return redirect("floor:step", tablet.station.code, shell.serial)


@shell_tap
def pause(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    pause_step(
        serial=shell.serial,
        position=position_of(request),
        person=tablet.person,
        station=tablet.station,
        stamp=tablet.stamp(request),
    )
    return redirect("floor:step", tablet.station.code, shell.serial)


@shell_tap
def withdraw(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    withdraw_sign_off(
        serial=shell.serial,
        position=position_of(request),
        person=tablet.person,
        reason=request.POST.get("reason", ""),
        stamp=tablet.stamp(request),
    )
    said = _("The signature is withdrawn; {serial} is at {station} again.")
    messages.success(request, said.format(serial=shell.serial, station=tablet.station.name))
    return redirect("floor:step", tablet.station.code, shell.serial)


@shell_tap
def thickness(request: HttpRequest, tablet: Tablet, shell: Shell) -> HttpResponse:
    """Plates measured at the cut station: the spec is issued again and every length follows."""
    before = current_spec(shell)
    measured = _measured(request)
    spec = measure_plates(
        serial=shell.serial,
        measured_mm=measured,
        person=tablet.person,
        station=tablet.station,
        stamp=tablet.stamp(request),
    )
    cut = [int(place) for place in request.POST.getlist("cut-already") if place.isdecimal() and len(place) < 3]
    rest = cut_list_after(before, spec, cut)
    one = _("plate {place}: {length} mm")
    lengths = ", ".join(
        one.format(place=plate.position, length=numeral(plate.blank_length_mm, ".1f")) for plate in rest.to_cut
    )
    said = _("The lengths below follow your measurement (spec revision {revision}).").format(revision=spec.revision)
    if cut and lengths:
        said += " " + _("Still to cut: {lengths}.").format(lengths=lengths)
    messages.success(request, said)
    for warning in rest.warnings:
        messages.warning(request, spoken(warning.message))
    return redirect("floor:step", tablet.station.code, shell.serial)


def _measured(request: HttpRequest) -> dict[int, float]:
    """Plate place → thickness; empty fields are left out. Raises SpecError for what is no number."""
    measured: dict[int, float] = {}
    for name in request.POST:
        value = request.POST.get(name, "")
        place = name.removeprefix("plate-")
        if name == place or not place.isdecimal() or not value.strip():
            continue
        try:
            measured[int(place)] = float(value.replace(",", "."))
        except ValueError as error:
            raise SpecError(
                "not_a_number",
                name,
                _("“{typed}” is not a thickness; enter millimetres, for example 3.05.").format(typed=value[:20]),
            ) from error
    return measured
