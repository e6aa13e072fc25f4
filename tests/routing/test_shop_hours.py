"""Working hours by the shop's clock, held against calendars worked out by hand."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from routing.models import Closure, Shift
from routing.shop_hours import USUAL, ShopHours

ZONE = ZoneInfo("Europe/Berlin")


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


HOURS = ShopHours(week=USUAL, closed=((date(2026, 12, 24), date(2027, 1, 1)),), zone=ZONE)


def test_a_day_has_its_spans() -> None:
    assert HOURS.on(date(2026, 11, 25)) == [
        (at("2026-11-25T08:00"), at("2026-11-25T12:00")),
        (at("2026-11-25T12:30"), at("2026-11-25T16:30")),
    ]
    assert HOURS.on(date(2026, 11, 28)) == []  # a Saturday
    assert HOURS.on(date(2026, 12, 28)) == []  # closed
    assert len(list(HOURS.between(date(2026, 11, 25), date(2026, 12, 1)))) == 10


def test_a_night_shift_over_the_clock_change_has_an_hour_less() -> None:
    """In 2026 the clocks of Central Europe go forward on 29 March at 2:00."""
    hours = ShopHours(week={6: ((time(1), time(5)),)}, zone=ZONE)
    ((begins, ends),) = hours.on(date(2026, 3, 29))
    assert ends.timestamp() - begins.timestamp() == timedelta(hours=3).total_seconds()


@pytest.mark.parametrize(
    ("asked", "due"),
    [
        ("2026-11-25T10:15", "2026-11-26T10:15"),
        ("2026-11-27T15:00", "2026-11-30T15:00"),  # over a week-end
        ("2026-11-25T12:10", "2026-11-26T12:10"),  # in the break
        ("2026-11-25T06:00", "2026-11-26T08:00"),  # before the shop opens
        ("2026-11-25T19:00", "2026-11-27T08:00"),  # after it closes: counts from the next morning
        ("2026-11-28T11:00", "2026-12-01T08:00"),  # a Saturday: counts from Monday
        ("2026-12-23T11:00", "2027-01-04T11:00"),  # over the holidays
    ],
)
def test_one_working_day_later(asked: str, due: str) -> None:
    assert HOURS.one_working_day_after(at(asked)) == at(due)


def test_what_is_due_on_a_closed_day_is_due_before_it() -> None:
    assert HOURS.closes(date(2026, 11, 25)) == at("2026-11-25T16:30")
    assert HOURS.closes(date(2026, 11, 29)) == at("2026-11-27T16:30")
    assert HOURS.closes(date(2026, 12, 31)) == at("2026-12-23T16:30")


@pytest.mark.django_db
def test_what_is_entered_counts_and_nothing_entered_is_the_usual_week() -> None:
    assert ShopHours.load().week == USUAL
    Shift.objects.create(weekday=1, starts=time(13), ends=time(17))
    Shift.objects.create(weekday=1, starts=time(7), ends=time(12))
    Closure.objects.create(first=date(2026, 12, 1), last=date(2026, 12, 1), reason="stock-taking")
    hours = ShopHours.load()
    assert hours.week == {1: ((time(7), time(12)), (time(13), time(17)))}
    assert hours.on(date(2026, 12, 1)) == []
    assert len(hours.on(date(2026, 12, 8))) == 2


def test_a_shop_that_never_opens_still_answers() -> None:
    closed = ShopHours(week={}, zone=ZONE)
    assert closed.one_working_day_after(at("2026-11-25T10:00")) == at("2026-11-26T10:00")
    assert closed.closes(date(2026, 11, 25)) == at("2026-11-25T17:00")
