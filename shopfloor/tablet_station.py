"""At which station a tablet hangs: remembered on the tablet, read wherever something is scanned."""

from __future__ import annotations

from django.http import HttpRequest

STATION_COOKIE = "floor_station"


def station_of(request: HttpRequest) -> str | None:
    """The code of the station that was chosen on this tablet, if one was."""
    return request.COOKIES.get(STATION_COOKIE)
