"""The air at a station: entered once a shift, shown with the queue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from quality.errors import QualityError
from routing.climate import asks_for_air, newest_reading, read_room
from routing.errors import RoutingError
from routing.languages import numeral
from routing.models import RoomReading, Station
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from shopfloor.floor.numbers import number_of
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
        raise Http404(
            _("The air is not read at {station}: no figure there follows it.").format(station=tablet.station.name)
        )
    if request.method == "GET":
        return _page(request, tablet)
    try:
        reading = read_room(
            station=tablet.station,
            temperature_c=number_of(request.POST.get("temperature_c", ""), _("temperature")),
            humidity_pct=number_of(request.POST.get("humidity_pct", ""), _("humidity")),
            stamp=tablet.stamp(request),
        )
    except (QualityError, RoutingError, SpecError) as refused:
        return _page(request, tablet, error=spoken(refused.message))
    messages.success(
        request,
        _("Dwells and glue clocks at {station} follow {air} from now on.").format(
            station=tablet.station.name,
            air=f"{numeral(reading.temperature_c)} °C, {numeral(reading.humidity_pct)} %",
        ),
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
