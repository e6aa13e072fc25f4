"""Which accounts a browser knows: those of people who signed in with it before. Their owners are never made to wait
for what somebody guesses elsewhere (see ``quality.passwords``)."""

from __future__ import annotations

import secrets

from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.http.response import HttpResponseBase

COOKIE = "known_browser"
_SALT = "shopfloor.known_browser"
_YEAR = 365 * 24 * 3600
_MOST_ACCOUNTS = 12


def mark_of(request: HttpRequest, username: str) -> str:
    """The mark of this browser if it knows the account, else empty."""
    mark, accounts = _read(request)
    return mark if username in accounts else ""


def keep(request: HttpRequest, response: HttpResponseBase, username: str) -> None:
    """Let this browser know an account from now on."""
    mark, accounts = _read(request)
    kept = [name for name in accounts if name != username][-(_MOST_ACCOUNTS - 1) :]
    response.set_cookie(
        COOKIE,
        signing.dumps([mark or secrets.token_urlsafe(12), *kept, username], salt=_SALT),
        max_age=_YEAR,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def _read(request: HttpRequest) -> tuple[str, list[str]]:
    try:
        mark, *accounts = signing.loads(request.COOKIES.get(COOKIE, ""), salt=_SALT, max_age=_YEAR)
    except (signing.BadSignature, ValueError, TypeError):
        return "", []
    return str(mark), [str(name) for name in accounts]
