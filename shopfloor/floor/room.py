"""The air at a station: entered once a shift, shown with the queue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from quality.errors import QualityError
from routing.climate import asks_for_air, newest_reading, read_room
from routing.errors import RoutingError
from routing.models import RoomReading, Station
from routing.specs.errors import SpecError
from shopfloor.floor.tablet import Tablet, at_station, worker_needed


@dataclass(frozen=True, slots=True)
class Room:
    """Whether the air is read here, and what it was in this shift."""

    is_asked: bool
    reading: RoomReading | None


def room_of(station: Station, now: datetime) -> Room:
    return Room(asks_for_air(station), newest_reading(station, now))


@require_http_methods(["GET", "POST"])
@at_station
@worker_needed
def read(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    if not asks_for_air(tablet.station):
        raise Http404(f"The air is not read at {tablet.station.name}: no figure there follows it.")
    if request.method == "GET":
        return _page(request, tablet)
    try:
        reading = read_room(
            station=tablet.station,
            temperature_c=_number(request, "temperature_c", "temperature"),
            humidity_pct=_number(request, "humidity_pct", "humidity"),
            stamp=tablet.stamp(request),
        )
    except (QualityError, RoutingError, SpecError) as refused:
        return _page(request, tablet, error=refused.message)
    messages.success(
        request,
        f"Dwells and glue clocks at {tablet.station.name} follow {reading.temperature_c:g} °C and "
        f"{reading.humidity_pct:g} % from now on.",
    )
    return redirect("floor:queue", tablet.station.code)


def _page(request: HttpRequest, tablet: Tablet, *, error: str = "") -> HttpResponse:
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "room": room_of(tablet.station, tablet.now),
        "error": error,
        "typed": request.POST,
    }
    return render(request, "floor/room.html", context, status=422 if error else 200)


def _number(request: HttpRequest, name: str, what: str) -> float:
    words = request.POST.get(name, "").strip()
    try:
        return float(words.replace(",", "."))
    except ValueError as error:
        raise SpecError(
            "not_a_number", name, f"“{words[:20]}” is no {what}; enter a number, for example 21.5."
        ) from error
