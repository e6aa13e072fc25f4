"""The queue at a station: what can be worked now, what dries, what is held, what comes."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from quality.actions import sign_off, withdraw_sign_off
from quality.problems import report_problem
from routing.actions import start_operation
from routing.models import Shell, Shop
from shopfloor.floor.queue import SHOWN_NEXT, queue_of
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


def at(station: str, shop: SmallShop) -> Tablet:
    tablet = Tablet(station)
    assert tablet.sign_in(shop.worker).status_code == 302
    return tablet


def serials(text: str) -> list[str]:
    """The rows that can be opened, in their order."""
    return re.findall(r'class="floor-row" href="[^"]*/shell/([^/"]+)/"', text)


def sections(shown: str) -> dict[str, str]:
    """Heading → what stands under it."""
    parts = re.split(r'<h2 id="(now|drying|held|coming)-title">', shown)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def version_in(shown: str) -> str:
    (version,) = re.findall(r'data-live="[^"]*\?version=([^"]+)"', shown)
    return str(version)


def test_an_empty_queue_says_how_shells_come_here(shop: SmallShop, cut: Tablet) -> None:
    shown = page(cut.get("queue"))
    assert "Nothing is here, and nothing is on its way." in shown
    assert "Shells come to cut when the step before is signed." in shown


def test_shells_stand_under_what_can_be_done_with_them(shop: SmallShop, clock: Clock) -> None:
    now, drying, held, coming = shop.released(quantity=4)
    for shell in (now, held):
        sign_through(shop, shell, 2)
    report_problem(
        serial=held.serial, position=3, person=shop.worker, text="Delaminated", stamp=shop.stamp(shop.worker)
    )
    sign_through(shop, coming, 1)
    sign_through(shop, drying, 2)
    clock.wait(hours=47)
    shown = sections(page(at("edge", shop).get("queue")))
    assert {name: serials(text) for name, text in shown.items()} == {
        "now": [now.serial],
        "drying": [drying.serial],
        "held": [held.serial],
        "coming": [],
    }
    assert "Delaminated" in shown["held"]
    assert "curing" in shown["drying"]
    # What comes next is not for opening yet; its step is still at the press.
    assert coming.serial in shown["coming"] and "press" in shown["coming"]


def test_a_dwell_that_is_over_is_work_to_do(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    sign_through(shop, shell, 2)
    clock.wait(hours=47, minutes=59)
    assert serials(sections(page(at("edge", shop).get("queue")))["now"]) == []
    clock.wait(minutes=1)
    shown = sections(page(at("edge", shop).get("queue")))
    assert serials(shown["now"]) == [shell.serial]
    assert "drying" not in shown


def test_due_first_then_oldest(shop: SmallShop, cut: Tablet) -> None:
    (later,) = shop.released("K-1", due=date(2026, 12, 20))
    shop.wait(minutes=1)
    (first,) = shop.released("K-2", due=date(2026, 12, 10))
    shop.wait(minutes=1)
    (second,) = shop.released("K-3", due=date(2026, 12, 10))
    assert serials(page(cut.get("queue"))) == [first.serial, second.serial, later.serial]


def test_a_late_shell_says_since_when(shop: SmallShop, cut: Tablet) -> None:
    shop.released(due=date(2026, 11, 1))
    assert "late, was due 1 Nov" in page(cut.get("queue"))


def test_who_works_on_a_shell_is_named(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    start_operation(serial=shell.serial, position=1, stamp=shop.stamp(shop.supervisor))
    assert "Sam Supervisor" in page(cut.get("queue"))


def test_only_the_next_few_are_announced(shop: SmallShop, clock: Clock) -> None:
    shop.released(quantity=SHOWN_NEXT + 2)
    assert len(queue_of(shop.stations["press"], shop.clock).coming) == SHOWN_NEXT


def test_the_number_of_queries_does_not_grow_with_the_rows(shop: SmallShop, cut: Tablet) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert cut.get("queue").status_code == 200
        return len(counted)

    shop.released("K-1", quantity=2)
    few = queries()
    shop.released("K-2", quantity=12)
    report_problem(
        serial=Shell.objects.last().serial,  # type: ignore[union-attr]
        position=1,
        person=shop.worker,
        text="Split",
        stamp=shop.stamp(shop.worker),
    )
    many = queries()
    # One more for the reasons of holds, however many there are.
    assert many <= few + 1
    assert len(serials(page(cut.get("queue")))) == 14


def test_a_refresh_sends_nothing_when_nothing_was_recorded(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    version = version_in(page(cut.get("queue")))
    unchanged = cut.refresh(version)
    assert (unchanged.status_code, unchanged.content) == (204, b"")
    report_problem(serial=shell.serial, position=1, person=shop.worker, text="Split", stamp=shop.stamp(shop.worker))
    changed = cut.refresh(version)
    assert changed.status_code == 200
    shown = page(changed)
    assert shown.lstrip().startswith('<div id="live"'), "a refresh brings the list alone"
    assert "<html" not in shown
    assert serials(sections(shown)["held"]) == [shell.serial]
    assert cut.refresh(version_in(shown)).status_code == 204


def test_a_refresh_sends_the_queue_when_a_dwell_ends(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    sign_through(shop, shell, 2)
    clock.wait(hours=47, minutes=59)
    edge = at("edge", shop)
    version = version_in(page(edge.get("queue")))
    clock.wait(minutes=1)
    refreshed = edge.refresh(version)
    assert refreshed.status_code == 200
    assert serials(sections(page(refreshed))["now"]) == [shell.serial]


def test_a_queue_is_never_kept_by_the_browser(shop: SmallShop, cut: Tablet) -> None:
    assert "no-store" in cut.get("queue")["Cache-Control"]


def test_the_last_tap_can_be_taken_back_for_a_while(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    (shell,) = shop.released()
    assert "Take it back" not in page(cut.get("queue"))
    cut.tap("sign", shell)
    shown = page(cut.get("queue"))
    assert "Take it back" in shown and cut.url("withdraw", shell.serial) in shown
    for _ in range(int(timedelta(minutes=Shop.current().withdraw_minutes) / timedelta(minutes=5))):
        clock.wait(minutes=5)
        shown = page(cut.get("queue"))
    assert "Take it back" in shown
    clock.wait(minutes=1)
    assert "Take it back" not in page(cut.get("queue"))


def test_somebody_elses_tap_and_a_withdrawn_one_are_not_offered(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    cut.tap("sign", shell)
    other = Tablet("cut")
    other.sign_in(shop.checker)
    assert "Take it back" not in page(other.get("queue"))
    withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
    assert "Take it back" not in page(cut.get("queue"))


def test_the_queue_only_listens(shop: SmallShop, cut: Tablet) -> None:
    assert cut.client.post(cut.url("queue")).status_code == 405


def test_a_hostile_customer_name_is_shown_as_text(shop: SmallShop, cut: Tablet) -> None:
    shop.released(customer="<script>alert(1)</script>")
    shown = page(cut.get("queue"))
    assert "&lt;script&gt;alert(1)" in shown
    assert "<script>alert" not in shown


def test_whoever_worked_here_lately_takes_over_with_one_tap(shop: SmallShop, clock: Clock) -> None:
    other = person("late-shift", stations=[shop.stations["cut"]])
    first, second = shop.released(quantity=2)
    for who, shell in ((other, first), (shop.worker, second)):
        sign_off(serial=shell.serial, position=1, person=who, answers={}, stamp=shop.stamp(who))
    cut = Tablet("cut")
    cut.sign_in(shop.worker)
    shown = page(cut.get("queue"))
    assert f'href="{cut.url("enter_pin", other.pk)}"' in shown
    assert f'href="{cut.url("enter_pin", shop.worker.pk)}"' not in shown
    clock.wait(days=2)
    cut.sign_in(shop.worker)
    assert f'href="{cut.url("enter_pin", other.pk)}"' not in page(cut.get("queue"))
