"""Who is at the tablet: choose a name, enter the PIN, sign out."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import PinRefused
from quality.models import Person, Qualification
from quality.pins import confirm_pin
from quality.rights import Right, has_right
from routing.models import Shell
from shopfloor.floor.queue import waiting_at
from shopfloor.floor.step_page import small_number
from shopfloor.floor.tablet import Tablet, at_station
from shopfloor.worker_token import WorkerAtTablet


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
        raise Http404(_("{name} does not sign steps.").format(name=person.name))
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


def _asked(request: HttpRequest) -> dict[str, str]:
    """The shell that was asked for before signing in, and the revision of the paper it was scanned from."""
    return {name: request.GET[name] for name in ("shell", "r") if request.GET.get(name)}


def _way_back(request: HttpRequest, tablet: Tablet) -> str:
    serial, revision = request.POST.get("shell", ""), request.POST.get("r", "")
    if serial and Shell.objects.filter(serial=serial).exists():
        paper = f"?r={revision}" if small_number(revision) else ""
        return reverse("floor:step", args=[tablet.station.code, serial]) + paper
    return reverse("floor:queue", args=[tablet.station.code])
