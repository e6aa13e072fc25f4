"""What the board says of the plan and of the days ahead."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from routing.due import Standing
from routing.models import Closure, DryingRoom, Outage, Plan, PlannedStep, PlanState, Shell, Shift
from shopfloor.board import work
from shopfloor.board.ahead import look_ahead
from tests.shopfloor.boards import only_kit, planned, sign
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _no_look_kept() -> None:
    """The look ahead is kept for minutes: not from one test to the next."""
    cache.clear()


def test_the_shell_planned_last_holds_up_its_kit(shop: SmallShop) -> None:
    early, late = (shell.serial for shell in shop.released(quantity=2))
    sign(shop, late, 1)  # further on, and yet the last by the plan
    planned(shop, (early, 30), (late, 50))
    kit = only_kit(shop)
    assert kit.holding_up is not None and kit.holding_up.serial == late
    assert kit.finish == shop.clock + timedelta(hours=50)


@pytest.mark.parametrize(
    ("days", "stands"), [(10, Standing.ON_TIME), (2, Standing.AT_RISK), (1, Standing.LATE), (-1, Standing.LATE)]
)
def test_how_a_kit_stands_against_its_day(shop: SmallShop, days: int, stands: Standing) -> None:
    due = date(2026, 11, 2) + timedelta(days=days)
    (shell,) = shop.released(due=due)
    planned(shop, (shell.serial, 49))  # in two days, in the morning
    assert only_kit(shop).standing is stands


def test_without_a_plan_nothing_is_promised(shop: SmallShop, supervisor: Client) -> None:
    shop.released()
    kit = only_kit(shop)
    assert (kit.standing, kit.finish) == (Standing.UNKNOWN, None)
    shown = supervisor.get(reverse("board:kits")).content.decode()
    assert "There is no plan now" in shown
    assert f'<a href="{reverse("plan:home")}">Make a plan</a>' in shown


def test_the_plan_is_one_press_away(shop: SmallShop, supervisor: Client, office: Client) -> None:
    """Who plans comes to the page where it is made; who only reads, to the picture of it."""
    (shell,) = shop.released()
    planned(shop, (shell.serial, 49))
    for view in ("board:ahead", "board:kits"):
        assert f'By the <a href="{reverse("plan:home")}">plan of' in supervisor.get(reverse(view)).content.decode()
        assert f'By the <a href="{reverse("plan:picture")}">plan of' in office.get(reverse(view)).content.decode()
        assert office.get(reverse("plan:picture")).status_code == 200


def test_a_step_that_came_after_the_plan_makes_its_finish_unknown(shop: SmallShop) -> None:
    (shell,) = shop.released()
    planned(shop, (shell.serial, 50))
    PlannedStep.objects.filter(operation__shell=shell, operation__position=3).delete()
    assert only_kit(shop).finish is None


def test_the_load_of_a_station_in_five_working_days(shop: SmallShop) -> None:
    cut = shop.stations["cut"]
    cut.places = 2
    cut.save()
    Shift.objects.bulk_create(Shift(weekday=day, starts=time(0, 0), ends=time(10, 0)) for day in range(5))
    Closure.objects.create(first=date(2026, 11, 4), last=date(2026, 11, 4), reason="stock-taking")
    shop.clock = datetime(2026, 11, 2, 0, 0, tzinfo=timezone.get_current_timezone())
    Outage.objects.create(
        station=cut, starts_at=shop.clock, ends_at=shop.clock + timedelta(hours=3), reason="new blade"
    )
    shells = shop.released(quantity=3)
    planned(shop, *((shell.serial, 20.0) for shell in shells))
    ahead = look_ahead(shop.clock)
    assert ahead.until == date(2026, 11, 9)  # Monday again: Wednesday is closed
    load = next(load for load in ahead.loads if load.pk == cut.pk)
    assert (load.planned_h, load.there_h) == (3.0, 2 * (50.0 - 3.0))
    assert ahead.fullest is not None and ahead.fullest.name == shop.stations["finish"].name  # two coats each


def test_a_drying_room_counts_what_stands_in_it_now(shop: SmallShop) -> None:
    room = DryingRoom.objects.create(name="Racks", places=2)
    room.stations.add(shop.stations["press"])
    for shell in shop.released(quantity=3)[:2]:
        sign(shop, shell.serial, 1)
        sign(shop, shell.serial, 2)
    (fill,) = look_ahead(shop.clock).rooms
    assert (fill.name, fill.standing, fill.places, fill.is_full) == ("Racks", 2, 2, True)
    shop.wait(hours=49)
    assert look_ahead(shop.clock).rooms[0].standing == 0


def test_another_plan_and_a_bettered_one_count_as_changes(shop: SmallShop) -> None:
    (shell,) = shop.released()
    before = work.board_version(shop.clock)
    plan = planned(shop, (shell.serial, 50))
    made = work.board_version(shop.clock)
    Plan.objects.filter(pk=plan.pk).update(state=PlanState.RUNNING)
    running = work.board_version(shop.clock)
    assert len({before, made, running}) == 3


def test_the_days_ahead_tell_their_age_and_are_kept_for_minutes(
    shop: SmallShop, clock: Clock, supervisor: Client
) -> None:
    DryingRoom.objects.create(name="Racks", places=2).stations.add(shop.stations["press"])
    (shell,) = shop.released()
    planned(shop, (shell.serial, 50))

    def ahead() -> str:
        return supervisor.get(reverse("board:ahead"), headers={"HX-Request": "true"}).content.decode()

    first = ahead()
    assert "<html" not in first and "0 of 2 places" in first and shop.stations["cut"].name in first
    assert f"as of {timezone.localtime(shop.clock):%H:%M}" in first
    sign(shop, shell.serial, 1)
    sign(shop, shell.serial, 2)
    clock.wait(minutes=2)
    assert "0 of 2 places" in ahead()
    clock.wait(minutes=2)
    assert "1 of 2 places" in ahead()
    assert "<html" in supervisor.get(reverse("board:ahead")).content.decode()
    wall = supervisor.get(reverse("board:ahead"), {"wall": "1"}, headers={"HX-Request": "true"}).content.decode()
    assert "<details" not in wall and "<strong>1</strong> of 2" in wall and "Fullest until" in wall


def test_another_plan_is_looked_at_at_once(shop: SmallShop, clock: Clock, supervisor: Client) -> None:
    (shell,) = shop.released()
    assert "There is no plan now" in supervisor.get(reverse("board:ahead")).content.decode()
    planned(shop, (shell.serial, 50))
    assert "plan of" in supervisor.get(reverse("board:ahead")).content.decode()


def test_the_wall_shows_the_kit_that_is_planned_late_whenever_it_is_due(shop: SmallShop, supervisor: Client) -> None:
    for number in range(14):
        shop.released(f"K-{number:02}", due=date(2026, 12, 1 + number))
    late = Shell.objects.get(order__number="K-13")
    in_time = Shell.objects.exclude(pk=late.pk).values_list("serial", flat=True)
    plan = planned(shop, *((serial, 40) for serial in in_time), (late.serial, 24 * 60))
    kit = {"order": "K-13", "late": True, "at_risk": False, "due_at": "2026-12-14T16:30:00+01:00"}
    plan.summary = {"kits": [kit, {**kit, "order": "K-12", "late": False}, {**kit, "order": "shipped long ago"}]}
    plan.save()
    page = supervisor.get(reverse("board:wall")).content.decode()
    shown = re.findall(r"<h2>(K-\d+)</h2>", page)
    assert shown == ["K-13", "K-00", "K-01", "K-02", "K-03", "K-04"]
    assert "and 8 more kits in process" in page
