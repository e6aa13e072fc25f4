"""What stands on the page of hours and places, read in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.models import Person
from quality.rights import Right, has_right
from routing.languages import moment
from routing.models import Absence, Closure, DrumModel, DryingRoom, Mould, Outage, Shift, Weekday
from routing.shop_hours import ShopHours

DAYS_AHEAD = 7
PAST_SHOWN = 100


@dataclass(frozen=True, slots=True)
class WeekdayRow:
    name: str
    shifts: tuple[Shift, ...]
    minutes: int


@dataclass(frozen=True, slots=True)
class DayRow:
    """One of the next days: what of the shop works."""

    day: date
    hours: tuple[str, ...]
    minutes: int
    closed: str  # why nobody works
    away: tuple[str, ...]
    down: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PersonToday:
    person: Person
    absence: Absence | None


@dataclass(frozen=True, slots=True)
class OutageRow:
    outage: Outage
    begins: str
    ends: str  # only the time when it is the same day
    is_now: bool


@dataclass(frozen=True, slots=True)
class HoursPage:
    days: tuple[DayRow, ...]
    week: tuple[WeekdayRow, ...]
    week_minutes: int
    has_shifts: bool
    people: tuple[PersonToday, ...]
    closures: tuple[Closure, ...]
    past_closures: tuple[Closure, ...]
    absences: tuple[Absence, ...]
    past_absences: tuple[Absence, ...]
    outages: tuple[OutageRow, ...]
    past_outages: tuple[OutageRow, ...]
    moulds: tuple[Mould, ...]
    without_mould: tuple[str, ...]  # diameters of drum models, in inches
    rooms: tuple[DryingRoom, ...]


def hours_page(*, now: datetime) -> HoursPage:
    """Everything that is not over, and the newest of what is."""
    today = timezone.localdate(now)
    shifts = list(Shift.objects.all())
    closures, absences = Closure.objects.all(), Absence.objects.select_related("person")
    coming_absences = tuple(absences.filter(last__gte=today))
    coming_closures = tuple(closures.filter(last__gte=today))
    outages = Outage.objects.select_related("station")
    coming_outages = [_outage(row, now) for row in outages.filter(ends_at__gt=now)]
    moulds = tuple(Mould.objects.all())
    made = DrumModel.objects.order_by("nominal_diameter_in").values_list("nominal_diameter_in", flat=True).distinct()
    have = {mould.diameter_in for mould in moulds}
    week = tuple(_weekday(day, shifts) for day in Weekday)
    return HoursPage(
        days=tuple(_days(today, coming_closures, coming_absences, coming_outages)),
        week=week,
        week_minutes=sum(row.minutes for row in week),
        has_shifts=bool(shifts),
        people=tuple(_people(today, coming_absences)),
        closures=coming_closures,
        past_closures=tuple(closures.filter(last__lt=today).order_by("-first")[:PAST_SHOWN]),
        absences=coming_absences,
        past_absences=tuple(absences.filter(last__lt=today).order_by("-first")[:PAST_SHOWN]),
        outages=tuple(coming_outages),
        past_outages=tuple(
            _outage(row, now) for row in outages.filter(ends_at__lte=now).order_by("-starts_at")[:PAST_SHOWN]
        ),
        moulds=moulds,
        without_mould=tuple(f"{diameter:g}" for diameter in made if diameter not in have),
        rooms=tuple(DryingRoom.objects.prefetch_related("stations")),
    )


def absences_of(person: Person, *, today: date) -> tuple[list[Absence], list[Absence]]:
    """One person's absences: present and coming ones, and the newest of the past."""
    rows = Absence.objects.filter(person=person).select_related("person")
    return (
        list(rows.filter(last__gte=today)),
        list(rows.filter(last__lt=today).order_by("-first")[:PAST_SHOWN]),
    )


def clock_time(at: datetime, *, with_day: bool = True) -> str:
    """Date and time by the shop's clock; of an hour that comes twice it says which one is meant."""
    local = timezone.localtime(at)
    time = moment(at) if with_day else f"{local:%H:%M}"
    if local.utcoffset() == local.replace(fold=1 - local.fold).utcoffset():
        return time
    said = _("{time} (after the clocks go back)") if local.fold else _("{time} (before the clocks go back)")
    return said.format(time=time)


def _weekday(day: Weekday, shifts: Iterable[Shift]) -> WeekdayRow:
    own = tuple(shift for shift in shifts if shift.weekday == day)
    minutes = sum((shift.ends.hour - shift.starts.hour) * 60 + shift.ends.minute - shift.starts.minute for shift in own)
    return WeekdayRow(_(day.label), own, minutes)


def _people(today: date, absences: Iterable[Absence]) -> Iterable[PersonToday]:
    away = {row.person_id: row for row in absences if row.first <= today}
    for person in Person.objects.filter(is_active=True).order_by("name"):
        if has_right(person, Right.SIGN_STEPS):
            yield PersonToday(person, away.get(person.pk))


def _days(
    today: date, closures: Iterable[Closure], absences: Iterable[Absence], outages: Iterable[OutageRow]
) -> Iterable[DayRow]:
    hours = ShopHours.load()
    for day in (today + timedelta(days=ahead) for ahead in range(DAYS_AHEAD)):
        spans = hours.on(day)
        yield DayRow(
            day=day,
            hours=tuple(f"{begins:%H:%M}–{ends:%H:%M}" for begins, ends in spans),
            # By the clock on the wall a shift over the change of the clocks would seem an hour off.
            minutes=sum(
                int((ends.astimezone(UTC) - begins.astimezone(UTC)).total_seconds() // 60) for begins, ends in spans
            ),
            closed=", ".join(row.reason for row in closures if row.first <= day <= row.last),
            away=tuple(row.person.name for row in absences if row.first <= day <= row.last),
            down=tuple(dict.fromkeys(row.outage.station.name for row in outages if _touches(row.outage, day))),
        )


def _touches(outage: Outage, day: date) -> bool:
    first, end = timezone.localtime(outage.starts_at).date(), timezone.localtime(outage.ends_at)
    last = (end - timedelta(microseconds=1)).date()  # one that ends at midnight leaves the next day alone
    return first <= day <= last


def _outage(outage: Outage, now: datetime) -> OutageRow:
    is_one_day = timezone.localdate(outage.starts_at) == timezone.localdate(outage.ends_at)
    begins, ends = clock_time(outage.starts_at), clock_time(outage.ends_at, with_day=not is_one_day)
    return OutageRow(outage, begins, ends, outage.starts_at <= now < outage.ends_at)
