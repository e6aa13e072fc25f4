"""The writers of what the shop can do in a day: shifts, closures, absences, outages, moulds and drying rooms.

All of them lock the shop's row first, so that of two people who enter the same at once the second is told.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from routing.errors import LostRace, NotAllowedNow
from routing.models import Absence, Closure, DryingRoom, Mould, Outage, Shift, Station
from routing.turnstile import in_turn

Capacity = Shift | Closure | Absence | Outage | Mould | DryingRoom
REMOVED = gettext_noop("Somebody removed this meanwhile; add it again if it still holds.")
C = TypeVar("C", Shift, Closure, Absence, Outage, Mould, DryingRoom)


def add_shifts(*, weekdays: Iterable[int], starts: time, ends: time) -> list[Shift]:
    """The same hours on several days of the week: on all of them or on none. Those that are there already stay.

    Raises NotAllowedNow when they overlap others.
    """
    with in_turn():
        return [_add(Shift(weekday=weekday, starts=starts, ends=ends)) for weekday in sorted(set(weekdays))]


def save_capacity(*, row: C, seen: str = "", stations: Iterable[Station] | None = None) -> C:
    """Add a row, or change the one that was ``seen`` so on the screen (see ``as_seen``).

    An added row that is there already in every detail is returned as it is, so a tap that comes twice adds one.
    Raises NotAllowedNow when it contradicts another row, LostRace when somebody changed or removed it meanwhile.
    """
    with in_turn():
        served = None if stations is None else list(stations)
        if row.pk is None:
            return _add(row, served)
        stored = type(row)._default_manager.filter(pk=row.pk).first()
        if stored is None:
            raise LostRace("removed", _(REMOVED))
        if as_seen(stored) != seen:
            words = _("Somebody changed this meanwhile: now it says {row}. Save again to put yours in its place.")
            raise LostRace("changed", words.format(row=stored))
        _check_and_save(row, served)
        return row


def remove_capacity(*, kind: type[Capacity], pk: int, seen: str) -> str | None:
    """Take away the row that was ``seen`` so and return what it said; None when somebody did already.

    Raises LostRace when somebody changed it meanwhile: what is removed is what was on the screen.
    """
    with in_turn():
        row = kind._default_manager.filter(pk=pk).first()
        if row is None:
            return None
        said = str(row)
        if as_seen(row) != seen:
            words = _("Somebody changed this meanwhile: now it says {row}. Remove it again if you still mean it.")
            raise LostRace("changed", words.format(row=said))
        row.delete()
        return said


def away_on(*, person_id: int, day: date) -> Absence:
    """Somebody is away for one day. When they are anyway, the absence that says so is returned."""
    with in_turn():
        known = Absence.objects.filter(person_id=person_id, first__lte=day, last__gte=day).first()
        return known or _add(Absence(person_id=person_id, first=day, last=day))


def as_seen(row: Capacity) -> str:
    """A row in one line, to tell whether it is still as the screen showed it."""
    said = [str(getattr(row, field.attname)) for field in row._meta.concrete_fields]
    if isinstance(row, DryingRoom):
        said += [str(pk) for pk in row.stations.order_by("pk").values_list("pk", flat=True)]
    return " ".join(said).strip()  # a form takes the blanks at the end away


def twin_of(row: C, stations: Iterable[Station] | None = None) -> C | None:
    """A stored row that says exactly the same as a new one."""
    same = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if not field.primary_key}
    if None in same.values():
        return None
    twin = type(row)._default_manager.filter(**same).first()
    if isinstance(twin, DryingRoom) and set(twin.stations.all()) != set(stations or ()):
        return None
    return twin


def _add(row: C, stations: list[Station] | None = None) -> C:
    if twin := twin_of(row, stations):
        return twin
    _check_and_save(row, stations)
    return row


def _check_and_save(row: Capacity, stations: list[Station] | None) -> None:
    if isinstance(row, Shift):
        _apart_from_others(row)
    elif isinstance(row, Absence):
        _away_once(row)
    elif isinstance(row, DryingRoom):
        _one_room_for_a_station(row, stations or [])
    try:
        row.full_clean()
    except ValidationError as error:
        raise NotAllowedNow("not_valid", " ".join(error.messages)) from error
    row.save()
    if isinstance(row, DryingRoom):
        row.stations.set(stations or [])


def _others(row: Capacity) -> QuerySet[Capacity]:
    return type(row)._default_manager.exclude(pk=row.pk)


def _apart_from_others(shift: Shift) -> None:
    clash = _others(shift).filter(weekday=shift.weekday, starts__lt=shift.ends, ends__gt=shift.starts).first()
    if clash is not None:
        words = _("These hours overlap {row}. Change or remove those, or begin after them.")
        raise NotAllowedNow("overlap", words.format(row=clash))


def _away_once(absence: Absence) -> None:
    clash = _others(absence).filter(person_id=absence.person_id, first__lte=absence.last, last__gte=absence.first)
    known = clash.select_related("person").first()
    if known is not None:
        words = _("{row} is entered already; change that line instead.")
        raise NotAllowedNow("away_already", words.format(row=known))


def _one_room_for_a_station(room: DryingRoom, stations: list[Station]) -> None:
    for station in stations:
        other = _others(room).filter(stations=station).first()
        if other is not None:
            words = _(
                "Shells from {station} wait in {room} already. Take the station out there first, or count the places "
                "of both rooms together in one line."
            )
            raise NotAllowedNow("room_taken", words.format(station=station, room=other))
