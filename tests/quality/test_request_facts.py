"""What stands beside a request: the parts as they were built, who packed them, the drum at a glance, the time left."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from django.utils import timezone

from quality.models import Bag
from quality.request_facts import as_built_parts, at_a_glance, packed_bags, work_left
from quality.requests import due_after
from routing.models import Closure, HardwareSet, Part, Shell
from routing.reissue import current_inputs, reissue_spec
from routing.shop_hours import ShopHours
from tests.quality.customer_requests import shipped, take
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_the_parts_are_those_of_the_revision_that_was_signed(shop: SmallShop) -> None:
    (shell,) = shop.released()
    hardware = HardwareSet.objects.get()
    Part.objects.create(hardware=hardware, name="lug screw", bag="screws", quantity=20, unit_mass_g=3, spare=2)
    shell = Shell.objects.get(pk=shell.pk)
    reissue_spec(serial=shell.serial, inputs=current_inputs(shell), reason="screws", stamp=shop.stamp(shop.supervisor))
    shell.refresh_from_db()
    assert not as_built_parts(shell).signed
    sign_through(shop, shell, 7)
    Part.objects.all().delete()
    built = as_built_parts(Shell.objects.get(pk=shell.pk))
    assert (built.revision, built.signed) == (2, True)
    assert [(part.bag, part.name, part.quantity, part.spare, part.size) for part in built.parts] == [
        ("rods", "tension rod", 20, 0, "12-24 UNC, 52 mm long"),
        ("screws", "lug screw", 20, 2, "M4"),
    ]


def test_the_bag_says_who_filled_and_checked_it(shop: SmallShop) -> None:
    shell = shipped(shop)
    assert [(bag.name, bag.found) for bag in packed_bags(shell, ["rods", "rods"])] == [("rods", False)]
    Bag.objects.create(
        shell=shell,
        name="rods",
        state="checked",
        contents=[],
        spec_revision=1,
        filled_by=shop.worker,
        filled_at=shop.clock,
        checked_how="weight",
        checked_by=shop.checker,
        checked_at=shop.clock,
        weight_g=339.6,
        low_g=334.9,
        high_g=345.1,
    )
    (found,) = packed_bags(shell, ["rods"])
    assert (found.filled_by, found.checked_by) == ("Wanda Worker", "Chris Checker")
    assert found.checked_how == "weighed: 339.6 g (334.9 … 345.1 g)"


def test_whoever_is_on_the_phone_sees_what_might_explain_it(shop: SmallShop) -> None:
    shell = shipped(shop)
    take(shop, shell)
    seen = at_a_glance(shell)
    assert (seen.state, seen.shipped_at, seen.final_check_by) == ("shipped", shop.clock, "Chris Checker")
    assert [request.number for request in seen.earlier] == ["R-2026-0001"]
    assert seen.warnings == ()


@pytest.mark.parametrize(
    ("asked", "due"),
    [  # the shop's usual hours, Monday to Friday 8:00 to 16:30
        ("2026-11-02 10:40", "2026-11-03 10:40"),
        ("2026-11-06 12:00", "2026-11-09 12:00"),  # Friday to Monday
        ("2026-11-07 11:00", "2026-11-10 08:00"),  # Saturday counts from Monday morning
        ("2026-11-10 09:00", "2026-11-12 09:00"),  # the 11th is closed
    ],
)
def test_it_is_due_one_working_day_later(shop: SmallShop, asked: str, due: str) -> None:
    Closure.objects.create(first=date(2026, 11, 11), last=date(2026, 11, 11), reason="inventory")
    assert due_after(clock(asked)) == clock(due)


def test_the_time_left_is_counted_in_working_time(shop: SmallShop) -> None:
    hours = ShopHours.load()
    assert work_left(hours, clock("2026-11-06 12:00"), clock("2026-11-09 12:00")) == 8 * 60
    assert work_left(hours, clock("2026-11-02 10:00"), clock("2026-11-02 13:00")) == 150
    assert work_left(hours, clock("2026-11-02 10:00"), clock("2026-11-02 09:00")) == 0


def clock(words: str) -> datetime:
    return datetime.fromisoformat(words).replace(tzinfo=timezone.get_current_timezone())
