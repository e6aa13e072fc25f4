"""Due dates as a calendar that other calendars subscribe to: iCalendar, RFC 5545. Text in, text out, no database."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

_LONGEST_LINE = 75  # octets, without the line break: RFC 5545, 3.1
_NAMESPACE = uuid.UUID("6f3d1c1e-0d52-4b0e-9c07-5a2f4f1b8d43")
# All of CONTROL but the tab (RFC 5545, 3.1); line breaks are written as \n before this is asked.
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class DueDay:
    """One order on the day it is due."""

    uid: str
    day: date
    title: str
    details: str
    address: str  # its page in the office
    firm: bool  # False for a draft


def uid_of(*parts: str) -> str:
    """The same for the same order always, and for no order of another shop; a UUID, as RFC 7986, 5.3 asks."""
    return str(uuid.uuid5(_NAMESPACE, "\n".join(parts)))


def calendar(name: str, days: Iterable[DueDay], *, at: datetime) -> str:
    """A calendar of whole days, as what was known at ``at``. Lines end with CR LF and are folded at 75 octets."""
    return "".join(f"{folded}\r\n" for line in _lines(name, days, at) for folded in _folded(line))


def _lines(name: str, days: Iterable[DueDay], at: datetime) -> Iterator[str]:
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield "PRODID:-//Shop floor//Due dates//EN"
    yield "CALSCALE:GREGORIAN"
    yield f"NAME:{_text(name)}"  # RFC 7986, 5.1
    yield f"X-WR-CALNAME:{_text(name)}"  # what calendars read before it
    yield "REFRESH-INTERVAL;VALUE=DURATION:PT1H"  # RFC 7986, 5.7
    for each in days:
        yield "BEGIN:VEVENT"
        yield f"UID:{each.uid}"
        yield f"DTSTAMP:{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
        yield f"DTSTART;VALUE=DATE:{each.day:%Y%m%d}"
        yield f"DTEND;VALUE=DATE:{each.day + timedelta(days=1):%Y%m%d}"  # the end does not count: RFC 5545, 3.6.1
        yield f"SUMMARY:{_text(each.title)}"
        if each.details:
            yield f"DESCRIPTION:{_text(each.details)}"
        if each.address:
            yield f"URL:{each.address}"
        yield f"STATUS:{'CONFIRMED' if each.firm else 'TENTATIVE'}"
        yield "TRANSP:TRANSPARENT"  # nobody is busy all day because something is due
        yield "END:VEVENT"
    yield "END:VCALENDAR"


def _text(words: str) -> str:
    """A TEXT value: RFC 5545, 3.3.11."""
    escaped = words.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    lines = re.split(r"\r\n|\r|\n", escaped)
    return "\\n".join(_CONTROL.sub("", line) for line in lines)


def _folded(line: str) -> Iterator[str]:
    """``line`` in pieces of at most 75 octets, each after the first behind a space; no character is torn apart."""
    piece, size = "", 0
    for character in line:
        octets = len(character.encode())
        if size + octets > _LONGEST_LINE:
            yield piece
            piece, size = " ", 1
        piece += character
        size += octets
    yield piece
