"""The board: what stands where, at a known number of queries."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.actions import report_problem, sign_off
from routing.actions import start_operation
from shopfloor.board import work
from shopfloor.board.kits import kits
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
