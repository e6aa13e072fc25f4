"""Which tablet of the shop this browser is, and at which of its stations: remembered by the browser in cookies.

The key of a tablet stands in a signed cookie that no script reads. Whether it opens anything is decided anew with every
request, so that a revoked tablet shows nothing from the next one on.
"""

from __future__ import annotations

from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from quality.models import Tablet
from quality.tablets import TabletAt, is_revoked, tablet_at, tablet_of

KEY_COOKIE = "floor_tablet"
STATION_COOKIE = "floor_station"
_SALT = "shopfloor.tablet"
_YEAR = 365 * 24 * 3600


def this_tablet(request: HttpRequest) -> Tablet | None:
    """The tablet that this browser is, or None: never enrolled, revoked, or a cookie that somebody made up."""
    key = _key(request)
    return tablet_of(key) if key else None


def this_tablet_at(request: HttpRequest, code: str) -> TabletAt | None:
    """The tablet that this browser is, and the station of this code, if that is one of its own."""
    key = _key(request)
    return tablet_at(key, code) if key else None


def was_tablet(request: HttpRequest) -> bool:
    """Whether this browser was a tablet of the shop until it was revoked."""
    key = _key(request)
    return key is not None and is_revoked(key)


def binding_of(tablet: Tablet) -> str:
    """What a worker's sign-in is bound to: this tablet and no other, whatever it is called later."""
    return f"tablet {tablet.pk}"


def station_of(request: HttpRequest, tablet: Tablet) -> str | None:
    """The code of the station that was chosen on this tablet, or its only one; None while there is a choice."""
    codes = list(tablet.stations.values_list("code", flat=True))
    chosen = request.COOKIES.get(STATION_COOKIE)
    return chosen if chosen in codes else codes[0] if len(codes) == 1 else None


def keep_key(response: HttpResponseBase, key: str) -> None:
    """Make the browser that gets this answer the tablet with this key."""
    _keep(response, KEY_COOKIE, signing.dumps(key, salt=_SALT))
    response.delete_cookie(STATION_COOKIE, samesite="Lax")


def keep_station(request: HttpRequest, response: HttpResponseBase, station: str) -> None:
    """Let the tablet remember its station, and its key for another year."""
    _keep(response, STATION_COOKIE, station)
    if key := _key(request):
        _keep(response, KEY_COOKIE, signing.dumps(key, salt=_SALT))


def _key(request: HttpRequest) -> str | None:
    try:
        key = signing.loads(request.COOKIES.get(KEY_COOKIE, ""), salt=_SALT)
    except signing.BadSignature:
        return None
    return key if isinstance(key, str) else None


def _keep(response: HttpResponseBase, name: str, value: str) -> None:
    response.set_cookie(
        name, value, max_age=_YEAR, httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
    )
