"""Scanning anywhere opens the right thing: at a station the shell's step there, in the office its story."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_safe

from quality.models import Tablet
from routing.specs.errors import SpecError
from shopfloor.asker import speak_at
from shopfloor.tablet_station import station_of, this_tablet
from shopfloor.typed_serial import parts_of, serial_made_here


@require_safe
def typed(request: HttpRequest) -> HttpResponse:
    """A serial number typed, or a whole address read by a scanner that types."""
    return _open(request, *parts_of(request.GET.get("q", "")))


@require_safe
def scanned(request: HttpRequest, serial: str) -> HttpResponse:
    """The address in a traveler's QR code."""
    return _open(request, serial, request.GET.get("r", ""))


def _open(request: HttpRequest, words: str, revision: str) -> HttpResponse:
    tablet = this_tablet(request)
    at_station = _station(request, tablet) if tablet is not None else None
    if tablet is not None and at_station is not None:
        speak_at(request, tablet)
    try:
        serial = serial_made_here(words)
    except SpecError as error:
        messages.error(request, error.message)
        return redirect("floor:queue", at_station) if at_station else redirect("trace:search")
    if at_station is None:
        return redirect("trace:shell", serial)
    paper = f"?r={revision}" if revision.isdecimal() else ""
    return redirect(reverse("floor:step", args=[at_station, serial]) + paper)


def _station(request: HttpRequest, tablet: Tablet) -> str | None:
    """The station the scan belongs to: the one that the floor's own form names, else that of the tablet.

    A browser that is no tablet of the shop is a desk, and so is one in which somebody is signed in to the office,
    whatever station was opened in it before.
    """
    if named := request.GET.get("at"):
        return named if tablet.stations.filter(code=named).exists() else None
    return None if request.user.is_authenticated else station_of(request, tablet)
