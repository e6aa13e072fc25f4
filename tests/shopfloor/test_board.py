"""The board: what stands where, at a known number of queries."""

from __future__ import annotations

import gzip
from datetime import date, datetime, time, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.actions import report_problem, sign_off
from quality.models import Defect
from routing.actions import start_operation
from routing.due import Standing
from routing.models import Closure, DryingRoom, Operation, Outage, Plan, PlannedStep, PlanState, Shift
from shopfloor.board import work
from shopfloor.board.ahead import look_ahead
from shopfloor.board.kits import BoardKit, kits
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

VIEWS = ["board:board", "board:kits", "board:age", "board:wall"]


def column(shop: SmallShop, code: str, today: date = date(2026, 11, 2)) -> work.StationColumn:
    return next(column for column in work.station_columns(shop.clock, today) if column.code == code)


def sign(shop: SmallShop, serial: str, position: int) -> None:
    sign_off(serial=serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


def test_each_shell_stands_at_its_station_in_its_state(shop: SmallShop) -> None:
    ready, working, curing, held = (shell.serial for shell in shop.released(quantity=4))
    start_operation(serial=working, position=1, stamp=shop.stamp(shop.worker))
    sign(shop, curing, 1)
    sign(shop, curing, 2)
    report_problem(serial=held, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    cut = column(shop, "cut")
    assert (cut.ready, cut.in_work, cut.dwelling, cut.on_hold, cut.total) == (1, 1, 0, 1, 3)
    assert {shell.serial: shell.state for shell in cut.shells} == {ready: "ready", working: "in_work", held: "on_hold"}
    assert {shell.serial: shell.why for shell in cut.shells}[held] == "split"
    assert {shell.serial: shell.who for shell in cut.shells}[working] == shop.worker.name
    edge = column(shop, "edge")
    assert (edge.dwelling, edge.shells[0].state, edge.shells[0].state_word) == (1, "drying", "curing")
    shop.wait(hours=49)
    assert (column(shop, "edge").dwelling, column(shop, "edge").ready) == (0, 1)


def test_the_ring_shows_the_step_whose_glue_cures(shop: SmallShop) -> None:
    serial = shop.released()[0].serial
    sign(shop, serial, 1)
    sign(shop, serial, 2)
    states = [state for state, _ in column(shop, "edge").shells[0].operations]
    assert states[:4] == ["done", "drying", "waiting", "waiting"]
    shop.wait(hours=49)
    states = [state for state, _ in column(shop, "edge").shells[0].operations]
    assert states[:4] == ["done", "done", "ready", "waiting"]


def test_the_most_urgent_come_first_and_the_rest_is_counted(shop: SmallShop) -> None:
    shop.released("K-1", quantity=10, due=date(2027, 1, 10))
    shop.released("K-2", quantity=1, due=date(2026, 12, 1))
    cut = column(shop, "cut")
    assert len(cut.shells) == work.SHOWN_PER_STATION
    assert cut.shells[0].order == "K-2"
    assert cut.more == 11 - work.SHOWN_PER_STATION


def test_late_is_late(shop: SmallShop) -> None:
    shop.released(due=date(2026, 11, 1))
    assert column(shop, "cut").late == 1
    assert work.totals(date(2026, 11, 2)).late == 1
    assert kits(shop.clock, date(2026, 11, 2))[0].late


def test_a_kit_names_the_shell_that_holds_it_up(shop: SmallShop) -> None:
    slow, fast = (shell.serial for shell in shop.released(quantity=2))
    sign(shop, fast, 1)
    kit = kits(shop.clock, date(2026, 11, 2))[0]
    assert kit.holding_up is not None
    assert kit.holding_up.serial == slow
    assert (kit.done, kit.steps) == (1, 16)


@pytest.mark.parametrize("view", VIEWS)
def test_a_page_and_its_refresh(shop: SmallShop, supervisor: Client, view: str) -> None:
    serial = shop.released()[0].serial
    page = supervisor.get(reverse(view)).content.decode()
    assert serial in page
    assert "<html" in page
    part = supervisor.get(reverse(view), headers={"HX-Request": "true"}).content.decode()
    assert serial in part
    assert "<html" not in part
    version = work.board_version(timezone.now())
    unchanged = supervisor.get(reverse(view), {"version": version}, headers={"HX-Request": "true"})
    assert unchanged.status_code == 204


@pytest.mark.parametrize("view", VIEWS)
def test_an_empty_shop_says_what_to_do(shop: SmallShop, supervisor: Client, view: str) -> None:
    assert supervisor.get(reverse(view)).status_code == 200


@pytest.mark.parametrize("view", VIEWS)
def test_the_number_of_queries_does_not_grow(
    shop: SmallShop, supervisor: Client, view: str, django_assert_max_num_queries: object
) -> None:
    def queries() -> int:
        with django_assert_max_num_queries(16) as counted:  # type: ignore[operator]
            supervisor.get(reverse(view))
        return len(counted)

    shop.released("K-1", quantity=2)
    few = queries()
    for number in range(2, 8):
        shop.released(f"K-{number}", quantity=6)
    assert queries() == few


def test_the_full_list_of_a_station(shop: SmallShop, supervisor: Client) -> None:
    shells = shop.released(quantity=12)
    page = supervisor.get(reverse("board:station", args=["cut"])).content.decode()
    assert all(shell.serial in page for shell in shells)
    assert supervisor.get(reverse("board:station", args=["nowhere"])).status_code == 404


def planned(shop: SmallShop, *ends: tuple[str, float], current: bool = True) -> Plan:
    """A plan in which each shell's open steps take an hour each; the last ends so many hours from now."""
    plan = Plan.objects.create(made_at=shop.clock, heard_at=shop.clock, is_current=current, state=PlanState.READY)
    for serial, hours in ends:
        steps = list(Operation.objects.filter(shell__serial=serial).exclude(state="done").order_by("-position"))
        for n, step in enumerate(steps):
            end = shop.clock + timedelta(hours=hours - n)
            PlannedStep.objects.create(
                plan=plan, operation=step, station=step.station, starts_at=end - timedelta(hours=1), ends_at=end
            )
    return plan


def only_kit(shop: SmallShop) -> BoardKit:
    (kit,) = kits(shop.clock, timezone.localdate(shop.clock))
    return kit


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
    for view in ("board:board", "board:kits"):
        assert f'By the <a href="{reverse("plan:home")}">plan of' in supervisor.get(reverse(view)).content.decode()
        assert f'By the <a href="{reverse("plan:picture")}">plan of' in office.get(reverse(view)).content.decode()
        assert office.get(reverse("plan:picture")).status_code == 200


def test_a_held_shell_has_no_finish_and_says_why_and_since_when(shop: SmallShop, supervisor: Client) -> None:
    good, held = (shell.serial for shell in shop.released(quantity=2))
    planned(shop, (good, 50), (held, 30))
    defect = Defect.objects.create(code="X1", name="Delamination")
    report_problem(
        serial=held, position=1, person=shop.worker, text="by the seam", defect=defect, stamp=shop.stamp(shop.worker)
    )
    kit = only_kit(shop)
    assert kit.standing is Standing.UNKNOWN and kit.finish is None
    assert kit.holding_up is not None and kit.holding_up.serial == held
    ((why, since),) = [(shell.why, shell.held_since) for shell in kit.held]
    assert (why, since) == ("Delamination: by the seam", shop.clock)
    assert "Delamination: by the seam" in supervisor.get(reverse("board:kits")).content.decode()


def test_where_the_shells_of_a_kit_are(shop: SmallShop) -> None:
    serials = [shell.serial for shell in shop.released(quantity=3)]
    sign(shop, serials[0], 1)
    sign(shop, serials[0], 2)
    assert [(place.count, place.words) for place in only_kit(shop).places] == [
        (2, f"ready at {shop.stations['cut'].name}"),
        (1, f"curing, then {shop.stations['edge'].name}"),
    ]


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
    load = (ahead.loads or {})[cut.pk]
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


def test_an_unchanged_refresh_costs_little(
    shop: SmallShop, supervisor: Client, django_assert_max_num_queries: object
) -> None:
    shop.released()
    version = work.board_version(timezone.now())
    with django_assert_max_num_queries(4):  # type: ignore[operator]
        answer = supervisor.get(reverse("board:wall"), {"version": version}, headers={"HX-Request": "true"})
    assert answer.status_code == 204


@pytest.mark.parametrize("view", VIEWS)
def test_the_number_of_queries_with_everything_there_is(
    shop: SmallShop, supervisor: Client, view: str, django_assert_max_num_queries: object
) -> None:
    DryingRoom.objects.create(name="Racks", places=2).stations.add(shop.stations["press"])
    shells = [shell for number in range(4) for shell in shop.released(f"K-{number}", quantity=3)]
    sign(shop, shells[0].serial, 1)
    sign(shop, shells[0].serial, 2)
    planned(shop, *((shell.serial, 50.0) for shell in shells))
    report_problem(serial=shells[1].serial, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    with django_assert_max_num_queries(16):  # type: ignore[operator]
        assert supervisor.get(reverse(view)).status_code == 200


@pytest.mark.parametrize("view", VIEWS)
def test_a_full_board_travels_light(shop: SmallShop, supervisor: Client, view: str) -> None:
    shells = [
        shell
        for number in range(40)
        for shell in shop.released(f"K-{number}", quantity=5, customer=f"Lane {number * 37}")
    ]
    planned(shop, *((shell.serial, 50.0 + n) for n, shell in enumerate(shells)))
    assert len(gzip.compress(supervisor.get(reverse(view)).content)) <= 25_000


def test_the_wall_has_nothing_to_press(shop: SmallShop, supervisor: Client) -> None:
    shop.released()
    page = supervisor.get(reverse("board:wall")).content.decode()
    body = page[page.index('id="live"') :]
    assert "<a " not in body and "<button" not in body and "<form" not in body
