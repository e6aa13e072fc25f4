"""Which tablet this is and at which station it hangs: remembered on the tablet, read wherever something is scanned."""

from __future__ import annotations

import secrets

from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.http.response import HttpResponseBase

DEVICE_COOKIE = "floor_tablet"
STATION_COOKIE = "floor_station"
_SALT = "shopfloor.tablet"
_YEAR = 365 * 24 * 3600


def device_of(request: HttpRequest) -> str:
    """The name of the tablet: kept in a signed cookie, made up when it is new."""
    try:
        name = signing.loads(request.COOKIES.get(DEVICE_COOKIE, ""), salt=_SALT)
    except signing.BadSignature:
        name = None
    return name if isinstance(name, str) else f"tablet {secrets.token_hex(3)}"


def station_of(request: HttpRequest) -> str | None:
    """The code of the station that was chosen on this tablet, if one was."""
    return request.COOKIES.get(STATION_COOKIE)


def keep_tablet(response: HttpResponseBase, *, device: str, station: str) -> None:
    """Let the tablet remember its name and its station."""
    for name, value in ((DEVICE_COOKIE, signing.dumps(device, salt=_SALT)), (STATION_COOKIE, station)):
        response.set_cookie(
            name, value, max_age=_YEAR, httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
        )
