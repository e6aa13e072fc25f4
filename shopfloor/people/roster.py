"""Who may sign where on a day: the list of people, and the stations that nobody can sign at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from quality.models import Person, Qualification
from quality.pins import is_locked
from routing.languages import day
from routing.models import Station


@dataclass(frozen=True, slots=True)
class Place:
    """A station at which a person may sign, or could."""

    station: str
    holds: bool
    note: str  # why not, or until when


@dataclass(frozen=True, slots=True)
class PersonRow:
    person: Person
    pin: str  # none, set, locked
    has_password: bool
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Roster:
    here: tuple[PersonRow, ...]
    left: tuple[PersonRow, ...]
    unmanned: tuple[str, ...]  # stations in use at which nobody who works here may sign today


def roster(*, now: datetime, today: date) -> Roster:
    """The whole page in three queries."""
    people = Person.objects.prefetch_related("qualifications__station").order_by("name")
    rows = [_row(person, now, today) for person in people]
    here = tuple(row for row in rows if row.person.is_active)
    manned = {place.station for row in here for place in row.places if place.holds}
    stations = Station.objects.filter(is_active=True).values_list("name", flat=True)
    return Roster(
        here,
        tuple(row for row in rows if not row.person.is_active),
        tuple(name for name in stations if name not in manned),
    )


def _row(person: Person, now: datetime, today: date) -> PersonRow:
    pin = "none" if not person.pin else "locked" if is_locked(person, now) else "set"
    return PersonRow(person, pin, person.has_usable_password(), tuple(_places(person.qualifications.all(), today)))


def _places(qualifications: Iterable[Qualification], today: date) -> Iterable[Place]:
    for row in sorted(qualifications, key=lambda q: q.station.position):
        if today < row.valid_from:
            note = _("from {day}").format(day=day(row.valid_from))
        elif row.valid_to is None:
            note = ""
        else:
            said = _("until {day}") if today <= row.valid_to else _("ended {day}")
            note = said.format(day=day(row.valid_to))
        yield Place(row.station.name, row.holds_on(today), note)
