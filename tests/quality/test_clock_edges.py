"""Nights in which the clock is set, the turn of the year, the day that comes every fourth year: by the shop's clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from quality.actions import sign_off
from quality.models import SignOff
from quality.request_facts import work_left
from quality.seal import broken_seals, seal_days
from quality.trace import story_of
from quality.verification import verify_shell
from routing.errors import RoutingError
from routing.models import Operation, Shell
from routing.shop_hours import ShopHours
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

BERLIN = ZoneInfo("Europe/Berlin")
ONE_O_CLOCK = datetime(
    2026, 10, 25, 1, tzinfo=UTC
)  # 03:00 summer time becomes 02:00 at this moment: EU directive 2000/84/EC


def sign(shop: SmallShop, shell: Shell, position: int) -> SignOff:
    return sign_off(
        serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker)
    ).sign_off


def test_half_past_two_comes_twice(shop: SmallShop) -> None:
    """Two signatures an hour apart that both say 2:30: their order stays, and what cures in between cures an hour."""
    shop.clock = ONE_O_CLOCK - timedelta(minutes=30)
    (shell,) = shop.released()
    Operation.objects.filter(shell=shell, position=1).update(dwell_minutes=60, dwell_kind="cure")
    first = sign(shop, shell, 1)
    shop.wait(minutes=59)
    with pytest.raises(RoutingError, match="02:30"):
        sign(shop, shell, 2)
    shop.wait(minutes=1)
    second = sign(shop, shell, 2)
    assert [timezone.localtime(each.at).strftime("%H:%M") for each in (first, second)] == ["02:30", "02:30"]
    assert second.at - first.at == timedelta(hours=1)
    assert [event.sequence for event in story_of(shell).events] == [1, 2, 3]
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 10, 25), 25), (date(2026, 3, 29), 23), (date(2028, 2, 29), 24)])
def test_a_day_is_sealed_from_midnight_to_midnight(shop: SmallShop, day: date, hours: int) -> None:
    midnight = datetime.combine(day, time(), BERLIN)
    shop.clock = midnight.astimezone(UTC)
    (shell,) = shop.released()
    shop.clock = (midnight + timedelta(days=1)).astimezone(UTC) - timedelta(seconds=1)
    sign(shop, shell, 1)
    shop.wait(seconds=1)
    sign(shop, shell, 2)
    first, second = seal_days(now=shop.clock + timedelta(days=1))
    assert (first.day, first.records) == (day, 2)
    assert (first.ends_at - first.begins_at) == timedelta(hours=hours)
    assert (second.day, second.records, second.begins_at) == (day + timedelta(days=1), 1, first.ends_at)
    assert list(broken_seals()) == []


def test_serial_numbers_turn_with_the_shops_year(shop: SmallShop) -> None:
    """At 23:59 on New Year's Eve it is the old year in Berlin, though the new one began in Auckland; a minute later not."""
    shop.clock = datetime(2026, 12, 31, 22, 59, 30, tzinfo=UTC)
    (old,) = shop.released("K-1")
    shop.wait(seconds=30)
    (new,) = shop.released("K-2")
    assert old.serial[:4] == "SS26" and new.serial[:4] == "SS27"
    assert old.serial[4:9] == new.serial[4:9], "each year begins from the same number"


def test_the_leap_day_is_a_day_like_others(shop: SmallShop) -> None:
    hours = ShopHours.load()
    noon = datetime(2028, 2, 28, 12, tzinfo=BERLIN)  # a Monday
    assert hours.one_working_day_after(noon).date() == date(2028, 2, 29)
    assert hours.one_working_day_after(noon + timedelta(days=1)).date() == date(2028, 3, 1)
    shop.clock = datetime(2028, 2, 29, 9, tzinfo=UTC)
    (shell,) = shop.released(due=date(2028, 2, 29))
    sign(shop, shell, 1)
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_a_night_shift_across_the_change_is_as_long_as_it_is() -> None:
    night = ShopHours(week={6: ((time(1), time(5)),)}, zone=BERLIN)
    autumn, spring = date(2026, 10, 25), date(2026, 3, 29)
    for day, minutes in ((autumn, 5 * 60), (spring, 3 * 60), (date(2026, 10, 18), 4 * 60)):
        (begins, ends) = night.on(day)[0]
        assert work_left(night, begins - timedelta(hours=1), ends + timedelta(hours=1)) == minutes
