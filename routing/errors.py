"""How routing refuses: a stable code for programs and a sentence for the person at the station."""

from __future__ import annotations


class RoutingError(Exception):
    """Base of everything that routing refuses."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class LostRace(RoutingError):
    """Somebody else was faster: the state is no longer what the screen showed."""


class NotAllowedNow(RoutingError):
    """The rules of the route forbid it in the present state."""


class NotReleasable(RoutingError):
    """An order can't be released as it stands."""
