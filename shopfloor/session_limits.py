"""How long somebody stays signed in at a desk: until they did nothing for a while, and never longer than a shift."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.auth.signals import user_logged_in
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from routing.languages import numeral
from shopfloor.ring_images import rings_at

BEGAN, HEARD = "began", "heard"
# Written this seldom, so that reading pages does not write the session each time.
_EVERY_S = 300


class SessionLimits:
    """Stands behind the messages, because it leaves one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path_info.startswith(rings_at()):  # a page fetches them by itself; nothing depends on who asks
            return self.get_response(request)
        session = request.session
        if SESSION_KEY in session:
            now = timezone.now().timestamp()
            began, heard = session.get(BEGAN, 0), session.get(HEARD, 0)
            if now - began > settings.SESSION_COOKIE_AGE:
                _end(request, _("You were signed out: a sign-in lasts one shift. Sign in again."))
            elif now - heard > settings.OFFICE_IDLE_MINUTES * 60 + _EVERY_S:
                _end(request, _idle_words())
            elif now - heard > _EVERY_S and not _by_itself(request):
                session[HEARD] = now
        return self.get_response(request)


def begin(sender: object, request: HttpRequest | None, **kwargs: Any) -> None:
    """A sign-in begins both clocks."""
    if request is not None:
        request.session[BEGAN] = request.session[HEARD] = timezone.now().timestamp()


def _end(request: HttpRequest, sentence: str) -> None:
    logout(request)
    messages.info(request, sentence)


def _by_itself(request: HttpRequest) -> bool:
    """A page that refreshes a part of itself is no sign of a person; the board on the wall has nobody who clicks."""
    return (
        request.method == "GET"
        and request.headers.get("HX-Request") == "true"
        and request.path_info != reverse("board:wall")
    )


def _idle_words() -> str:
    idle = timedelta(minutes=settings.OFFICE_IDLE_MINUTES)
    hours = idle / timedelta(hours=1)
    if hours >= 2:
        said = _("You were signed out after {hours} hours without a click. Sign in again.")
        return said.format(hours=numeral(hours))
    said = _("You were signed out after {minutes} minutes without a click. Sign in again.")
    return said.format(minutes=settings.OFFICE_IDLE_MINUTES)


user_logged_in.connect(begin, dispatch_uid="shopfloor.session_limits")
