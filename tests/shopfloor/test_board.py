"""The board: what stands where, at a known number of queries."""

from __future__ import annotations

import gzip
import re
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from quality.actions import sign_off
from quality.dispositions import regrade, scrap
from quality.models import Defect
from quality.problems import report_problem
from routing.actions import start_operation
from routing.due import Standing
from routing.models import (
    Closure,
    DryingRoom,
    KitOrder,
    Operation,
    Outage,
    Plan,
    PlannedStep,
    PlanState,
    Shell,
    Shift,
    Station,
)
from shopfloor.board import work
from shopfloor.board.ahead import look_ahead
from shopfloor.board.kits import BoardKit, kits
from shopfloor.board.urgent import BoardRow, most_urgent
from shopfloor.work_in_process import ShellInWork
from tests.quality.test_dispositions import other_finish
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

pytestmark = pytest.mark.django_db

VIEWS = ["board:board", "board:kits", "board:age", "board:wall"]


@pytest.fixture(autouse=True)
def _no_look_kept() -> None:
    """The look ahead is kept for minutes: not from one test to the next."""
    cache.clear()


TODAY = date(2026, 11, 2)


def column(shop: SmallShop, code: str, today: date = TODAY) -> work.StationColumn:
    return next(column for column in work.counts(shop.clock, today).columns if column.code == code)


def rows(shop: SmallShop, code: str) -> list[BoardRow]:
    station = shop.stations[code].pk
    return most_urgent([station], shop.clock).get(station, [])


def listed(shop: SmallShop, code: str) -> list[ShellInWork]:
    return work.station_shells(shop.stations[code], shop.clock, TODAY, 0, 50)


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
    assert {row.serial: (row.state, row.doing) for row in rows(shop, "cut")} == {
        ready: ("ready", "waits 0 min"),
        working: ("in_work", f"in work, {shop.worker.name}"),
        held: ("on_hold", "on hold: split"),
    }
    assert {shell.serial: shell.state for shell in listed(shop, "cut")} == {
        ready: "ready",
        working: "in_work",
        held: "on_hold",
    }
    assert column(shop, "edge").dwelling == 1
    (row,) = rows(shop, "edge")
    assert (row.serial, row.state, row.doing) == (curing, "drying", "curing until Wed 09:00")
    shop.wait(hours=49)
    assert (column(shop, "edge").dwelling, column(shop, "edge").ready) == (0, 1)


def test_the_ring_shows_the_step_whose_glue_cures(shop: SmallShop) -> None:
    serial = shop.released()[0].serial
    sign(shop, serial, 1)
    sign(shop, serial, 2)
    states = [state for state, _ in listed(shop, "edge")[0].operations]
    assert states[:4] == ["done", "drying", "waiting", "waiting"]
    shop.wait(hours=49)
    states = [state for state, _ in listed(shop, "edge")[0].operations]
    assert states[:4] == ["done", "done", "ready", "waiting"]


def test_the_most_urgent_come_first_and_the_rest_is_counted(shop: SmallShop, supervisor: Client) -> None:
    shop.released("K-1", quantity=10, due=date(2027, 1, 10))
    shop.released("K-2", quantity=1, due=date(2026, 12, 1))
    shop.released("K-3", quantity=3, due=date(2027, 1, 11))
    assert [row.order for row in rows(shop, "cut")] == ["K-2"] + ["K-1"] * 10 + ["K-3"]
    page = supervisor.get(reverse("board:board")).content.decode()
    assert "and 2 more" in page and page.count("due 10 Jan") == 10


def test_the_order_of_the_lines_is_that_of_the_due_date_everywhere(shop: SmallShop) -> None:
    """The day stands with each step; it is that of the order also after a regrade, and for a shell made anew."""
    for number, day in ((1, 9), (2, 7), (3, 8)):
        shop.released(f"K-{number}", quantity=2, due=date(2026, 12, day))
    for number, way in ((1, "regrade"), (2, "scrap")):
        shell = Shell.objects.filter(order__number=f"K-{number}").order_by("pk")[0]
        report_problem(serial=shell.serial, position=1, person=shop.worker, text="dent", stamp=shop.stamp(shop.worker))
        decided: dict[str, Any] = {"serial": shell.serial, "person": shop.supervisor, "reason": "as agreed"}
        if way == "scrap":
            scrap(**decided, stamp=shop.stamp(shop.supervisor))
        else:
            finish = other_finish()
            regrade(**decided, model=shop.model, finish=finish, stamp=shop.stamp(shop.supervisor))
    assert all(step.due == step.shell.order.due for step in Operation.objects.select_related("shell__order"))
    assert [row.order for row in rows(shop, "cut")] == ["K-2", "K-2", "K-3", "K-3", "K-1", "K-1"]


def test_late_is_late(shop: SmallShop) -> None:
    shop.released(due=date(2026, 11, 1))
    assert column(shop, "cut").late == 1
    assert work.counts(shop.clock, TODAY).totals.late == 1
    assert kits(shop.clock, TODAY).kits[0].late


def test_a_kit_names_the_shell_that_holds_it_up(shop: SmallShop) -> None:
    slow, fast = (shell.serial for shell in shop.released(quantity=2))
    sign(shop, fast, 1)
    kit = kits(shop.clock, TODAY).kits[0]
    assert kit.holding_up is not None
    assert kit.holding_up.serial == slow
    assert (kit.done, kit.steps) == (1, 16)


def marked(page: str) -> str:
    """The mark with which a page asks whether it is still so."""
    (mark,) = re.findall(r"\?version=([^&\"]+)", page)
    return unquote(mark)


def refresh(client: Client, view: str, version: str) -> Answer:
    return client.get(reverse(view), {"version": version}, headers={"HX-Request": "true"})


@pytest.mark.parametrize("view", VIEWS)
def test_a_page_and_its_refresh(shop: SmallShop, clock: Clock, supervisor: Client, view: str) -> None:
    serial = shop.released()[0].serial
    page = supervisor.get(reverse(view)).content.decode()
    assert serial in page
    assert "<html" in page
    part = supervisor.get(reverse(view), headers={"HX-Request": "true"}).content.decode()
    assert serial in part
    assert "<html" not in part
    unchanged = refresh(supervisor, view, marked(page))
    assert unchanged.status_code == 204 and not unchanged.content
    shop.released("K-2")
    assert refresh(supervisor, view, marked(page)).status_code == 200


@pytest.mark.parametrize("view", VIEWS)
def test_an_empty_shop_says_what_to_do(shop: SmallShop, supervisor: Client, view: str) -> None:
    assert supervisor.get(reverse(view)).status_code == 200


@pytest.mark.parametrize("view", VIEWS)
def test_the_number_of_queries_does_not_grow(
    shop: SmallShop, supervisor: Client, view: str, django_assert_max_num_queries: object
) -> None:
    def queries() -> int:
        cache.clear()  # the look ahead is counted, too
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
    (kit,) = kits(shop.clock, timezone.localdate(shop.clock)).kits
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
    for view in ("board:ahead", "board:kits"):
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


@pytest.mark.parametrize("view", VIEWS)
def test_an_unchanged_refresh_is_one_read(
    shop: SmallShop, clock: Clock, supervisor: Client, view: str, django_assert_num_queries: object
) -> None:
    shop.released()
    mark = marked(supervisor.get(reverse(view)).content.decode())
    with django_assert_num_queries(1):  # type: ignore[operator]
        assert refresh(supervisor, view, mark).status_code == 204


def test_a_mark_that_the_shop_did_not_give_tells_a_stranger_nothing(shop: SmallShop, clock: Clock) -> None:
    shop.released()
    for made_up in (work.board_version(shop.clock), work.board_version(shop.clock) + ":guess", "0"):
        assert refresh(Client(), "board:board", made_up).status_code != 204


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


def full(shop: SmallShop, *, held: bool = False) -> None:
    """Every station has more than the board shows; on wish everything is on hold, with as many words as there can be."""
    for n, station in enumerate(shop.stations.values()):
        shells = shop.released(f"Kit-with-a-long-number-{n:07d}", quantity=13, customer="x" * 120)
        Operation.objects.filter(shell__in=shells, position=1).update(station=station)
        for shell in shells if held else []:
            report_problem(
                serial=shell.serial,
                position=1,
                person=shop.worker,
                text="<b>" + "&" * 250,
                stamp=shop.stamp(shop.worker),
            )


@pytest.mark.parametrize("view", ["board:board", "board:wall"])
@pytest.mark.parametrize("held", [False, True])
def test_a_full_board_weighs_at_most_25_kb(shop: SmallShop, supervisor: Client, view: str, held: bool) -> None:
    full(shop, held=held)
    answer = supervisor.get(reverse(view))
    assert len(answer.content) <= 25_000
    assert "<b>&" not in answer.content.decode()


def test_many_more_stations_leave_the_board_light(shop: SmallShop, supervisor: Client) -> None:
    for n in range(25):
        shop.stations[f"more-{n}"] = Station.objects.create(
            code=f"more-{n}", name=f"Another station {n}", kind="sand", position=50 + n
        )
    full(shop)
    page = supervisor.get(reverse("board:board")).content
    assert len(page) <= 25_000
    assert all(f"Another station {n}" in page.decode() for n in range(25))


@pytest.mark.parametrize("view", ["board:kits", "board:age"])
def test_a_full_list_travels_light(shop: SmallShop, supervisor: Client, view: str) -> None:
    for number in range(14):
        shop.released(f"K-{number}", quantity=5, customer=f"Lane {number * 37}")
    assert len(gzip.compress(supervisor.get(reverse(view)).content)) <= 25_000


def test_kits_after_the_first_twelve_are_on_pages_of_their_own(shop: SmallShop, supervisor: Client) -> None:
    for number in range(14):
        shop.released(f"K-{number:02}", due=date(2026, 12, 1 + number))
    first = supervisor.get(reverse("board:kits")).content.decode()
    assert "K-11" in first and "K-12" not in first and "?page=2" in first
    second = supervisor.get(reverse("board:kits"), {"page": "2"}).content.decode()
    assert "K-12" in second and "K-11" not in second and "page=2" in second
    beyond = supervisor.get(reverse("board:kits"), {"page": "9"}).content.decode()
    assert "There are no more kits." in beyond
    assert "K-00" in supervisor.get(reverse("board:kits"), {"page": "no page"}).content.decode()


def test_a_complete_kit_that_waits_to_be_shipped_presses_nobody(shop: SmallShop) -> None:
    shop.released("K-1", due=date(2026, 11, 3))
    KitOrder.objects.filter(number="K-1").update(state="complete")
    shop.released("K-2", due=date(2026, 12, 3))
    shown = kits(shop.clock, TODAY)
    assert [kit.order for kit in shown.kits if not kit.is_done][-1] == "K-2"
    assert work.counts(shop.clock, TODAY).totals.kits == 1


def test_the_full_list_of_a_station_comes_fifty_at_a_time(shop: SmallShop, supervisor: Client) -> None:
    shop.released("K-1", quantity=50, due=date(2026, 12, 1))
    (last,) = shop.released("K-2", due=date(2026, 12, 2))
    address = reverse("board:station", args=["cut"])
    assert last.serial not in supervisor.get(address).content.decode()
    assert last.serial in supervisor.get(address, {"page": "2"}).content.decode()


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


@pytest.mark.parametrize("view", ["board:ahead", "board:station"])
def test_neither_do_the_queries_of_the_other_pages_grow(shop: SmallShop, supervisor: Client, view: str) -> None:
    def queries() -> int:
        cache.clear()
        with CaptureQueriesContext(connection) as asked:
            assert supervisor.get(address).status_code == 200
        return len(asked)

    address = reverse(view, args=["cut"] if view == "board:station" else [])
    DryingRoom.objects.create(name="Racks", places=20).stations.add(shop.stations["press"])
    planned(shop, (shop.released("K-0")[0].serial, 50))
    queries()
    few = queries()
    for number in range(1, 4):
        made = shop.released(f"K-{number}", quantity=20)
        Plan.objects.update(is_current=False)
        planned(shop, *((shell.serial, 60) for shell in made[:3]))
    DryingRoom.objects.create(name="Attic", places=20).stations.add(shop.stations["edge"])
    assert queries() == few


def test_a_page_and_its_part_are_not_taken_for_each_other(shop: SmallShop, supervisor: Client) -> None:
    assert "no-store" in supervisor.get(reverse("board:ahead"))["Cache-Control"]


def test_the_wall_has_nothing_to_press(shop: SmallShop, supervisor: Client) -> None:
    shop.released()
    page = supervisor.get(reverse("board:wall")).content.decode()
    body = page[page.index('id="live"') :]
    assert "<a " not in body and "<button" not in body and "<form" not in body
