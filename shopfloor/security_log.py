"""Who came in, who was turned away: one line each, for whoever has to look into it later. Never what was typed."""

from __future__ import annotations

import logging
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.http import HttpRequest

from quality.models import Person
from shopfloor.addresses import client_address

log = logging.getLogger("shop.security")


def came_in(sender: object, request: HttpRequest | None, user: Person, **kwargs: Any) -> None:
    log.info("Signed in to the office: %s", user.name, extra=_from(request))


def went_out(sender: object, request: HttpRequest | None, user: Person | None, **kwargs: Any) -> None:
    if user is not None:
        log.info("Signed out of the office: %s", user.name, extra=_from(request))


def turned_away(sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **kwargs: Any) -> None:
    """A name that nobody has is not written down: people type passwords where a name belongs."""
    known = Person.objects.filter(username=credentials.get("username", "")).first()
    name = known.name if known else "a user name that nobody has"
    log.warning("Wrong password for the office: %s", name, extra=_from(request))


def present_password_was_wrong(request: HttpRequest, who: Person) -> None:
    """Typed by whoever sits at a screen where that person is signed in."""
    log.warning("Wrong present password for a new one: %s", who.name, extra=_from(request))


def demo_was_emptied(who: str, request: HttpRequest | None = None) -> None:
    """The record went with all else, so this line is what is left of it."""
    log.warning("The demo shop was emptied and loaded anew: %s", who, extra=_from(request))


def _from(request: HttpRequest | None) -> dict[str, str]:
    return {"address": client_address(request) if request is not None else ""}


user_logged_in.connect(came_in, dispatch_uid="shopfloor.security_log.in")
user_logged_out.connect(went_out, dispatch_uid="shopfloor.security_log.out")
user_login_failed.connect(turned_away, dispatch_uid="shopfloor.security_log.away")
