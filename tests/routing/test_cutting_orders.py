"""The cutting plan follows the frozen specs of what is not cut yet."""

from __future__ import annotations

import json
import threading
from datetime import date

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from quality.actions import sign_off
from routing.cutting_jobs import PlanRequest, ask_for_plan
from routing.cutting_orders import (
    PlanProgress,
    blanks_to_cut,
    left_to_cut,
    plan_blanks,
    plan_cut,
    shells_to_cut,
)
from routing.models import CuttingJob, Shell, ShellSpec, ShellState
from routing.specs.cutting_plan import BlankOrder, StockSheet
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_every_blank_of_every_uncut_shell_is_on_a_sheet_once(shop: SmallShop) -> None:
    shells = shop.released(quantity=4)
    (plan,) = plan_cut(shells_to_cut(orders=["K-1"]), time_limit_s=5)
    assert plan.stock.name == "Birch 3.0"
    labels = sorted(blank.label for layout in plan.sheets for blank in layout.blanks)
    assert labels == sorted(f"{shell.serial} plate {n}" for shell in shells for n in (1, 2, 3))
    blanks = ShellSpec.objects.get(shell=shells[0]).results["cutting"]["blanks"]
    first = next(b for layout in plan.sheets for b in layout.blanks if b.label == f"{shells[0].serial} plate 1")
    assert first.along_grain_mm == pytest.approx(blanks[0]["rough_along_grain_mm"], abs=0.5)
    assert len(plan.sheets) >= plan.lower_bound


def test_what_is_cut_drops_out(shop: SmallShop) -> None:
    one, two = shop.released(quantity=2)
    sign_off(serial=one.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert shells_to_cut() == [two]
    sign_off(serial=two.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert shells_to_cut() == []


def test_a_day_leaves_out_what_is_due_later(shop: SmallShop) -> None:
    soon = shop.released("K-1", due=date(2026, 12, 1))
    shop.released("K-2", due=date(2027, 2, 1))
    assert shells_to_cut(due_until=date(2026, 12, 31)) == soon


def test_the_command_prints_json_and_refuses_what_is_not_there(
    shop: SmallShop, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(CommandError, match="Nothing is left"):
        call_command("cutting_plan")
    with pytest.raises(CommandError, match="no order K-9"):
        call_command("cutting_plan", "K-9")
    shop.released(quantity=2)
    call_command("cutting_plan", "K-1", "--json", "--seconds", "5")
    captured = capsys.readouterr()
    (plan,) = json.loads(captured.out)
    assert plan["blanks"] == 6
    assert "… Birch 3.0 (1 of 1), constructed: 1 sheets, at least 1" in captured.err


def test_the_command_takes_a_day(shop: SmallShop, capsys: pytest.CaptureFixture[str]) -> None:
    (soon,) = shop.released("K-1", due=date(2026, 12, 1))
    (later,) = shop.released("K-2", due=date(2026, 12, 2))
    call_command("cutting_plan", "--due-by", "2026-12-01", "--seconds", "5")
    out = capsys.readouterr().out
    assert soon.serial in out and later.serial not in out
    with pytest.raises(CommandError, match="due by 2026-11-30 is left to cut"):
        call_command("cutting_plan", "--due-by", "2026-11-30")
    with pytest.raises(CommandError, match="“30.11.” is no day; write year-month-day"):
        call_command("cutting_plan", "--due-by", "30.11.")


def test_what_is_left_of_each_order_is_counted(shop: SmallShop) -> None:
    two = shop.released("K-2", quantity=2, due=date(2026, 12, 1))
    one = shop.released("K-1", due=date(2026, 12, 2))
    shells = shells_to_cut()
    first, second = left_to_cut(shells, blanks_to_cut(shells))
    assert (first.order, first.due, first.serials, first.blanks) == (
        "K-2",
        "2026-12-01",
        tuple(shell.serial for shell in two),
        6,
    )
    assert (second.order, second.serials, second.blanks) == ("K-1", (one[0].serial,), 3)


def test_what_was_scrapped_is_cut_no_more(shop: SmallShop) -> None:
    kept, scrapped = shop.released(quantity=2)
    Shell.objects.filter(pk=scrapped.pk).update(state=ShellState.SCRAPPED)
    assert shells_to_cut() == [kept]


def hard(name: str) -> list[tuple[StockSheet, BlankOrder]]:
    """Blanks for which the first plan is not proven: it takes more sheets than their area would fill."""
    return [(StockSheet(name, 1000, 1000), BlankOrder(f"{name} {n}", 510 + n, 330 + n)) for n in range(9)]


def test_stopped_it_keeps_the_first_plan_of_every_kind() -> None:
    told: list[PlanProgress] = []

    def stop(progress: PlanProgress) -> bool:
        told.append(progress)
        return False

    plans = plan_blanks(hard("Birch") + hard("Ash"), kerf_mm=3.2, time_limit_s=60, watch=stop)
    assert [plan.stock.name for plan in plans] == ["Ash", "Birch"]
    for plan in plans:
        labels = sorted(blank.label for layout in plan.sheets for blank in layout.blanks)
        assert labels == [f"{plan.stock.name} {n}" for n in range(9)]
        assert plan.stopped_early
    assert (told[0].kind, told[0].kinds, told[0].stock) == (1, 2, "Ash")
    assert told[0].sheets == len(plans[0].sheets) > told[0].lower_bound


def test_the_search_ends_when_its_time_is_up() -> None:
    ticks = iter(range(1_000_000))
    (plan,) = plan_blanks(hard("Ash"), kerf_mm=3.2, time_limit_s=3, clock=lambda: float(next(ticks)))
    assert plan.stopped_early and len(plan.sheets) > 0


class TestAtOnce:
    """Two web processes hear the same tap: with real transactions."""

    pytestmark = pytest.mark.django_db(transaction=True)

    @pytest.mark.parametrize("keys", [("a", "b", "c", "d"), ("same",) * 4], ids=["four taps", "one tap"])
    def test_one_plan_is_made(self, shop: SmallShop, keys: tuple[str, ...]) -> None:
        shop.released("K-1")
        start = threading.Barrier(len(keys))
        answers: list[tuple[int, bool]] = []

        def ask(key: str) -> None:
            start.wait()
            try:
                job, is_new = ask_for_plan(request=PlanRequest(), stamp=shop.stamp(shop.supervisor, key=key))
                answers.append((job.pk, is_new))
            finally:
                connection.close()

        threads = [threading.Thread(target=ask, args=(key,)) for key in keys]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(30)
        (job,) = CuttingJob.objects.all()
        assert sorted(answers) == [(job.pk, False)] * 3 + [(job.pk, True)]
