"""The cutting plan follows the frozen specs of what is not cut yet."""

from __future__ import annotations

import json
from datetime import date

import pytest
from django.core.management import CommandError, call_command

from quality.actions import sign_off
from routing.cutting_orders import orders_to_cut, plan_cut, shells_to_cut
from routing.models import ShellSpec
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
    assert [order.number for order in orders_to_cut()] == ["K-1"]
    sign_off(serial=one.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert shells_to_cut() == [two]
    sign_off(serial=two.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert shells_to_cut() == []
    assert orders_to_cut() == []


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
    assert "sheets, at least" in captured.err
