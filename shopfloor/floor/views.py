"""The tablet at a station: sign in, see the queue, open a shell, sign its step or say what is wrong."""

from __future__ import annotations

import secrets
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.actions import (
    begin_step,
    measure_plates,
    pause_step,
    report_problem,
    settle_problem,
    sign_off,
    withdraw_sign_off,
)
from quality.dispositions import rework
from quality.errors import PinRefused, QualityError
from quality.made_here import steps_waiting
from quality.models import Defect, Person, Qualification
from quality.photos import KeptPhoto, keep_photo
from quality.pins import confirm_pin
from quality.rights import Right, has_right
from quality.tablets import seen
from routing.actions import cut_list_after
from routing.errors import RoutingError
from routing.frozen import current_spec
from routing.models import Shell, StationKind
from routing.specs.errors import SpecError
from shopfloor.access import the_serial, the_shell
from shopfloor.floor.glue import batches_in_use, version_of
from shopfloor.floor.link import refused_json, wants_json
from shopfloor.floor.materials import material_answers
from shopfloor.floor.queue import last_tap, lately_here, queue_of, queue_version, waiting_at
from shopfloor.floor.room import room_of
from shopfloor.floor.step import step_of
from shopfloor.floor.tablet import Tablet, at_station, not_a_tablet, worker_needed
from shopfloor.photos import photo_response
from shopfloor.refusals import status_of
from shopfloor.tablet_station import this_tablet
from shopfloor.worker_token import WorkerAtTablet

MOST_PHOTOS = 3  # with one signature
Refusal = RoutingError | QualityError | SpecError
REFUSALS = (RoutingError, QualityError, SpecError)


@require_safe
def stations(request: HttpRequest) -> HttpResponseBase:
    """The stations of this tablet; with only one there is nothing to choose."""
    tablet = this_tablet(request)
    if tablet is None:
        return not_a_tablet(request)
    seen(tablet=tablet, at=timezone.now())
    here = list(tablet.stations.filter(is_active=True))
    if len(here) == 1:
        return redirect("floor:queue", here[0].code)
    return render(request, "floor/stations.html", {"stations": here, "tablet": tablet})


@require_safe
@at_station
@worker_needed
def queue(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    """The station's queue; as a refresh only its list, and 204 when nothing was recorded since the last one."""
    glue = batches_in_use(tablet.station, tablet.now)
    version = queue_version(tablet.station, tablet.now) + version_of(glue)
    refresh = request.headers.get("HX-Request") == "true"
    if refresh and request.GET.get("version") == version:
        return HttpResponse(status=204)
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "glue_batches": glue,
        "queue": queue_of(tablet.station, tablet.now),
        "undo": last_tap(tablet.station, tablet.person, tablet.now),
        "tap_key": secrets.token_urlsafe(16),
        "version": version,
        "others": [] if refresh else lately_here(tablet.station, tablet.person, tablet.now),
        "made_here": 0 if refresh else len(steps_waiting(tablet.station)),
        "room": room_of(tablet.station, tablet.now),
        "now": tablet.now,
    }
    response = render(request, "floor/queue.html#live" if refresh else "floor/queue.html", context)
    patch_cache_control(response, no_store=True)
    return response


@require_safe
@at_station
def sign_in(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    """Choose who you are: those who are qualified here first."""
    today = timezone.localdate(tablet.now)
    here = {
        qualification.person_id
        for qualification in Qualification.objects.filter(station=tablet.station)
        if qualification.holds_on(today)
    }
    people = [
        person
        for person in Person.objects.filter(is_active=True).exclude(pin="").order_by("name")
        if has_right(person, Right.SIGN_STEPS)
    ]
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "qualified": [person for person in people if person.pk in here],
        "others": [person for person in people if person.pk not in here],
        "asked": urlencode(_asked(request)),
        "waiting": waiting_at(tablet.station, tablet.now),
        "has_choice": tablet.enrolled.stations.filter(is_active=True).exclude(pk=tablet.station.pk).exists(),
    }
    return render(request, "floor/sign_in.html", context)


@require_http_methods(["GET", "POST"])
@at_station
def enter_pin(request: HttpRequest, tablet: Tablet, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk, is_active=True)
    if not has_right(person, Right.SIGN_STEPS):
        raise Http404(f"{person.name} does not sign steps.")
    error, status = "", 200
    if request.method == "POST":
        try:
            confirm_pin(person=person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
        except PinRefused as refused:
            error, status = refused.message, 422
        else:
            response = redirect(_way_back(request, tablet))
            response.worker_at_tablet = WorkerAtTablet(person, tablet.now)  # type: ignore[attr-defined]
            return response
    context = {"station": tablet.station, "worker": tablet.worker, "person": person, "error": error}
    return render(request, "floor/pin.html", context | {"asked": _asked(request)}, status=status)


@require_POST
@at_station
def sign_out(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    response = redirect("floor:sign_in", tablet.station.code)
    response.worker_at_tablet = None  # type: ignore[attr-defined]
    return response


@require_safe
@at_station
@worker_needed
def step(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    return _step_page(request, tablet, the_shell(serial))


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
            position=_position(request),
            person=tablet.person,
            answers=_answers(request),
            materials=material_answers(request.POST),
            photos=_photos(request, tablet),
            note=request.POST.get("note", ""),
            pin_confirmed=final,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except Shell.DoesNotExist:
        the_shell(serial)  # says what is wrong with it
        raise
    except REFUSALS as refused:
        return _refused(request, tablet, the_shell(serial), refused)
    if not final:  # the queue says it, with the button to take it back
        return redirect("floor:queue", tablet.station.code)
    operation = signed.sign_off.operation
    messages.success(request, f"{operation.title} of {operation.shell.serial} is signed by {tablet.person.name}.")
    return redirect("floor:step", tablet.station.code, operation.shell.serial)


@require_POST
@at_station
@worker_needed
def start(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    try:
        begin_step(
            serial=shell.serial,
            position=_position(request),
            person=tablet.person,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    return redirect("floor:step", tablet.station.code, shell.serial)


@require_POST
@at_station
@worker_needed
def pause(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    try:
        pause_step(
            serial=shell.serial,
            position=_position(request),
            person=tablet.person,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    return redirect("floor:step", tablet.station.code, shell.serial)


@require_POST
@at_station
@worker_needed
def problem(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    try:
        report_problem(
            serial=shell.serial,
            position=_position(request),
            person=tablet.person,
            text=request.POST.get("text", ""),
            defect=Defect.objects.filter(code=request.POST.get("defect", "")).first(),
            answers=_answers(request),
            photo=_photo(request, tablet),
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    messages.warning(request, f"{shell.serial} is on hold. A supervisor decides what happens to it.")
    return redirect("floor:queue", tablet.station.code)


@require_safe
@at_station
@worker_needed
def photo(request: HttpRequest, tablet: Tablet, pk: int) -> HttpResponse:
    return photo_response(pk)


@require_POST
@at_station
@worker_needed
def withdraw(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    try:
        withdraw_sign_off(
            serial=shell.serial,
            position=_position(request),
            person=tablet.person,
            reason=request.POST.get("reason", ""),
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    messages.success(request, f"The signature is withdrawn; {shell.serial} is at {tablet.station.name} again.")
    return redirect("floor:step", tablet.station.code, shell.serial)


@require_POST
@at_station
@worker_needed
def settle(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    """Release from hold at the station: the supervisor's PIN is asked again."""
    shell = the_shell(serial)
    try:
        confirm_pin(person=tablet.person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
        settle_problem(
            serial=shell.serial,
            person=tablet.person,
            settlement=request.POST.get("settlement", ""),
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    messages.success(request, f"{shell.serial} is released from hold.")
    return redirect("floor:step", tablet.station.code, shell.serial)


@require_POST
@at_station
@worker_needed
def rework_here(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    """Send a shell on hold back to its step at this station: the supervisor's PIN is asked again."""
    shell = the_shell(serial)
    try:
        confirm_pin(person=tablet.person, pin=request.POST.get("pin", ""), at=tablet.now, tablet=tablet.enrolled)
        rework(
            serial=shell.serial,
            position=_position(request),
            person=tablet.person,
            reason=request.POST.get("settlement", ""),
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    messages.success(request, f"{shell.serial} is worked again from here; what was signed since then is void.")
    return redirect("floor:step", tablet.station.code, shell.serial)


@require_POST
@at_station
@worker_needed
def thickness(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    """Plates measured at the cut station: the spec is issued again and every length follows."""
    shell = the_shell(serial)
    before = current_spec(shell)
    try:
        measured = _measured(request)
        spec = measure_plates(
            serial=shell.serial,
            measured_mm=measured,
            person=tablet.person,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _refused(request, tablet, shell, refused)
    cut = [int(place) for place in request.POST.getlist("cut-already") if place.isdecimal() and len(place) < 3]
    rest = cut_list_after(before, spec, cut)
    lengths = ", ".join(f"plate {plate.position}: {plate.blank_length_mm:.1f} mm" for plate in rest.to_cut)
    messages.success(
        request,
        f"The lengths below follow your measurement (spec revision {spec.revision})."
        + (f" Still to cut: {lengths}." if cut and lengths else ""),
    )
    for warning in rest.warnings:
        messages.warning(request, warning.message)
    return redirect("floor:step", tablet.station.code, shell.serial)


def _step_page(
    request: HttpRequest, tablet: Tablet, shell: Shell, *, error: str = "", out: bool = False, status: int = 200
) -> HttpResponse:
    context: dict[str, Any] = {
        "station": tablet.station,
        "worker": tablet.worker,
        "step": step_of(
            shell,
            tablet.station,
            tablet.person,
            tablet.now,
            paper_revision=_small_number(request.GET.get("r", "")),
            device=tablet.device,
            typed=request.POST.dict(),
        ),
        "tap_key": secrets.token_urlsafe(16),
        "as_mark": tablet.mark,
        "error": error,
        "out": out,
        "typed": request.POST,
        "measuring": any(name.startswith("plate-") for name in request.POST),
        "now": tablet.now,
    }
    response = render(request, "floor/step.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response


def _refused(request: HttpRequest, tablet: Tablet, shell: Shell, refused: Refusal) -> HttpResponse:
    status = status_of(refused)
    if wants_json(request):
        return refused_json(refused.message, status)
    shell.refresh_from_db()
    return _step_page(request, tablet, shell, error=refused.message, out=refused.code == "out_of_limits", status=status)


def _answers(request: HttpRequest) -> dict[str, str]:
    """Check point id → what was entered."""
    names = [name for name in request.POST if name.startswith("check-")]
    return {name.removeprefix("check-"): " ".join(request.POST.getlist(name)) for name in names}


def _photo(request: HttpRequest, tablet: Tablet) -> KeptPhoto | None:
    upload = request.FILES.get("photo")
    return None if upload is None else keep_photo(upload, upload.size or 0, tablet.now)


def _photos(request: HttpRequest, tablet: Tablet) -> list[KeptPhoto]:
    """Those that go with a signature; a field without a picture sends an empty file."""
    uploads = [upload for upload in request.FILES.getlist("sign-photo") if upload.size]
    if len(uploads) > MOST_PHOTOS:
        raise QualityError("too_many_photos", f"At most {MOST_PHOTOS} photos go with a signature.")
    return [keep_photo(upload, upload.size or 0, tablet.now) for upload in uploads]


def _position(request: HttpRequest) -> int:
    """The step that the screen showed; a form without one asks for a step that no shell has."""
    return _small_number(request.POST.get("position", "")) or 0


def _small_number(words: str) -> int | None:
    return int(words) if words.isdecimal() and len(words) < 6 else None


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
                "not_a_number", name, f"“{value[:20]}” is not a thickness; enter millimetres, for example 3.05."
            ) from error
    return measured


def _asked(request: HttpRequest) -> dict[str, str]:
    """The shell that was asked for before signing in, and the revision of the paper it was scanned from."""
    return {name: request.GET[name] for name in ("shell", "r") if request.GET.get(name)}


def _way_back(request: HttpRequest, tablet: Tablet) -> str:
    serial, revision = request.POST.get("shell", ""), request.POST.get("r", "")
    if serial and Shell.objects.filter(serial=serial).exists():
        paper = f"?r={revision}" if _small_number(revision) else ""
        return reverse("floor:step", args=[tablet.station.code, serial]) + paper
    return reverse("floor:queue", args=[tablet.station.code])
