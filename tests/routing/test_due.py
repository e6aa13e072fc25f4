"""Late, at risk and in time, against the shop's hours."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from routing.due import Standing, standing
from routing.shop_hours import ShopHours

ZONE = ZoneInfo("Europe/Berlin")
SHORT_FRIDAY = {
    **{day: ((time(7), time(11, 30)), (time(12), time(16))) for day in range(4)},
    4: ((time(7), time(11, 30)), (time(12), time(14))),
}
HOURS = ShopHours(SHORT_FRIDAY, closed=((date(2026, 12, 24), date(2027, 1, 1)),), zone=ZONE)


def at(day: int, hour: int, minute: int = 0, month: int = 12) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=ZONE)


@pytest.mark.parametrize(
    ("finish", "due", "means"),
    [
        # Tuesday 1 to Friday 4 December 2026; Friday ends at two o'clock.
        (at(1, 10), date(2026, 12, 2), Standing.ON_TIME),
        (at(1, 16), date(2026, 12, 2), Standing.ON_TIME),  # a whole Wednesday is left
        (at(2, 7), date(2026, 12, 2), Standing.AT_RISK),
        (at(2, 16), date(2026, 12, 2), Standing.AT_RISK),
        (at(2, 16, 1), date(2026, 12, 2), Standing.LATE),
        (at(3, 7), date(2026, 12, 2), Standing.LATE),
        (at(3, 15, 30), date(2026, 12, 4), Standing.ON_TIME),  # the short Friday is a working day
        (at(4, 10), date(2026, 12, 6), Standing.AT_RISK),  # due on a Sunday: what is left is Friday's afternoon
        (at(4, 14, 30), date(2026, 12, 6), Standing.LATE),  # nobody is there on Saturday
        (at(4, 10), date(2026, 12, 7), Standing.ON_TIME),  # over the week-end to Monday
        (at(23, 9), date(2026, 12, 29), Standing.AT_RISK),  # only closed days lie between
        (at(22, 9), date(2026, 12, 29), Standing.ON_TIME),
    ],
)
def test_against_the_day_it_is_due(finish: datetime, due: date, means: Standing) -> None:
    assert standing(finish, due, HOURS) is means


def test_what_is_late_comes_first_and_what_nobody_planned_before_what_is_in_time() -> None:
    assert [each.words for each in sorted(Standing, key=lambda each: each.urgency)] == [
        "late",
        "at risk",
        "not planned",
        "on time",
    ]
