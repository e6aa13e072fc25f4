"""Person × station: who may sign where, until when, and where the shop hangs on one person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.models import Person, Qualification
from quality.rights import Right, has_right
from routing.languages import day
from routing.models import Station, StationKind

SOON = timedelta(days=30)


class Standing(StrEnum):
    """How a qualification stands on a day; each has a word and a mark of its own."""

    NONE = "none"
    HOLDS = gettext_noop("holds")
    SOON = gettext_noop("ends soon")
    NOT_YET = gettext_noop("not yet")
    ENDED = gettext_noop("ended")
    NO_RIGHT = gettext_noop("role may not")


MARKS = {
    Standing.NONE: "",
    Standing.HOLDS: "●",
    Standing.SOON: "◐",
    Standing.NOT_YET: "○",
    Standing.ENDED: "×",
    Standing.NO_RIGHT: "△",
}


@dataclass(frozen=True, slots=True)
class Cell:
    standing: Standing
    date: date | None  # the one that matters: until, from, or ended
    trained_by: str

    @property
    def mark(self) -> str:
        return MARKS[self.standing]

    @property
    def counts(self) -> bool:
        return self.standing in (Standing.HOLDS, Standing.SOON)

    @property
    def words(self) -> str:
        """“until 2026-12-31”, “from 2027-01-01”, “ended 2026-10-01”."""
        if self.standing == Standing.NONE:
            return _("not qualified")
        if self.standing == Standing.NO_RIGHT:
            return _("qualified, but the role may not sign here")
        if self.date is None:
            return _("no end")
        said = {Standing.NOT_YET: _("from {day}"), Standing.ENDED: _("ended {day}")}
        return said.get(self.standing, _("until {day}")).format(day=day(self.date))


@dataclass(frozen=True, slots=True)
class PersonLine:
    person: Person
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class StationColumn:
    station: Station
    people: int  # who may sign there today
    gap: str  # "" when two or more may


@dataclass(frozen=True, slots=True)
class DueDate:
    """A qualification that ends soon, has ended, or begins later."""

    person: Person
    station: Station
    cell: Cell


@dataclass(frozen=True, slots=True)
class Matrix:
    columns: tuple[StationColumn, ...]
    lines: tuple[PersonLine, ...]
    dates: tuple[DueDate, ...]

    @property
    def gaps(self) -> list[StationColumn]:
        return [column for column in self.columns if column.gap]


def matrix(*, today: date) -> Matrix:
    """People who work here against the stations in use, in two queries and one for what they are qualified for."""
    stations = list(Station.objects.filter(is_active=True).order_by("position"))
    people = list(Person.objects.filter(is_active=True).prefetch_related("qualifications__trained_by").order_by("name"))
    lines = tuple(
        PersonLine(person, _cells(person, stations, today))
        for person in people
        if has_right(person, Right.SIGN_STEPS) or person.qualifications.all()
    )
    columns = []
    for place, station in enumerate(stations):
        count = sum(line.cells[place].counts for line in lines)
        ends = [line.cells[place] for line in lines if line.cells[place].standing == Standing.SOON]
        columns.append(StationColumn(station, count, _gap(count, ends)))
    return Matrix(tuple(columns), lines, tuple(_dates(lines, stations)))


def _gap(count: int, ends: Sequence[Cell]) -> str:
    if count == 0:
        return _("nobody may sign here")
    if len(ends) == count:
        last = max(cell.date for cell in ends if cell.date)
        return _("from {day} on nobody may sign here").format(day=day(last + timedelta(days=1)))
    return _("only one person may sign here") if count == 1 else ""


def _dates(lines: Iterable[PersonLine], stations: Sequence[Station]) -> list[DueDate]:
    found = [
        DueDate(line.person, station, cell)
        for line in lines
        for station, cell in zip(stations, line.cells, strict=True)
        if cell.standing in (Standing.SOON, Standing.ENDED, Standing.NOT_YET)
    ]
    return sorted(found, key=lambda due: (due.cell.date or date.max, due.person.name, due.station.position))


def _cells(person: Person, stations: Sequence[Station], today: date) -> tuple[Cell, ...]:
    rows = {row.station_id: row for row in person.qualifications.all()}
    return tuple(_cell(rows.get(station.pk), person, station, today) for station in stations)


def _cell(row: Qualification | None, person: Person, station: Station, today: date) -> Cell:
    if row is None:
        return Cell(Standing.NONE, None, "")
    trained_by = row.trained_by.name if row.trained_by else ""
    needed = Right.SIGN_FINAL_CHECK if station.kind == StationKind.FINAL_CHECK else Right.SIGN_STEPS
    if not has_right(person, needed):
        return Cell(Standing.NO_RIGHT, row.valid_to, trained_by)
    if today < row.valid_from:
        return Cell(Standing.NOT_YET, row.valid_from, trained_by)
    if row.valid_to is None:
        return Cell(Standing.HOLDS, None, trained_by)
    if row.valid_to < today:
        return Cell(Standing.ENDED, row.valid_to, trained_by)
    return Cell(Standing.SOON if row.valid_to - today <= SOON else Standing.HOLDS, row.valid_to, trained_by)
