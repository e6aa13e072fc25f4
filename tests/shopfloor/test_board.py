"""The board: what stands where, at a known number of queries."""

from __future__ import annotations

import gzip
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from quality.dispositions import regrade, scrap
from quality.models import Defect
from quality.problems import report_problem
from routing.actions import start_operation
from routing.due import Standing
from routing.models import (
    DryingRoom,
    KitOrder,
    Operation,
    Plan,
    Shell,
    Station,
)
from shopfloor.board import work
from shopfloor.board.kits import kits
from tests.quality.on_hold import other_finish
from tests.shopfloor.boards import TODAY, VIEWS, column, listed, marked, only_kit, planned, refresh, rows, sign
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _no_look_kept() -> None:
    """The look ahead is kept for minutes: not from one test to the next."""
    cache.clear()


def test_each_shell_stands_at_its_station_in_its_state(shop: SmallShop) -> None:
    ready, working, curing, held = (shell.serial for shell in shop.released(quantity=4))
    start_operation(serial=working, position=1, stamp=shop.stamp(shop.worker))
    sign(shop, curing, 1)
    sign(shop, curing, 2)
    report_problem(serial=held, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    cut = column(shop, "cut")
    assert (cut.ready, cut.in_work, cut.dwelling, cut.on_hold, cut.total) == (1, 1, 0, 1, 3)
    assert {row.serial: (row.state, row.doing) for row in rows(shop, "cut")} == {
        ready: ("ready", "waits\N{NO-BREAK SPACE}0\N{NO-BREAK SPACE}min"),
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
        shop.clock += timedelta(hours=1)  # what waits longest is due last
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
