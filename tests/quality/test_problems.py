"""A problem that is reported holds its shell until somebody settles it."""

from __future__ import annotations

import pytest

from quality.errors import NotQualified, QualityError
from quality.models import Defect, Problem
from quality.problems import report_problem, settle_problem
from routing.errors import LostRace, NotAllowedNow
from routing.models import ShellRecord, ShellState
from tests.quality.on_hold import sign
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_a_problem_holds_the_shell_until_it_is_settled(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign(shop, shell, 1, shop.worker)
    report_problem(
        serial=shell.serial, position=2, person=shop.worker, text="plate split", stamp=shop.stamp(shop.worker)
    )
    shell.refresh_from_db()
    assert shell.state == ShellState.ON_HOLD
    with pytest.raises(NotAllowedNow, match="on hold"):
        sign(shop, shell, 2, shop.worker)
    with pytest.raises(NotQualified):
        settle_problem(serial=shell.serial, person=shop.worker, settlement="ok", stamp=shop.stamp(shop.worker))
    with pytest.raises(QualityError, match="how the problem"):
        settle_problem(serial=shell.serial, person=shop.supervisor, settlement=" ", stamp=shop.stamp(shop.supervisor))
    settle_problem(
        serial=shell.serial, person=shop.supervisor, settlement="new plate", stamp=shop.stamp(shop.supervisor)
    )
    sign(shop, shell, 2, shop.worker)
    assert [r.kind for r in ShellRecord.objects.filter(shell=shell).order_by("sequence")] == [
        "released",
        "signed",
        "held",
        "resumed",
        "signed",
    ]


def test_a_defect_is_enough_and_nothing_is_too_little(shop: SmallShop) -> None:
    shell = shop.released()[0]
    defect = Defect.objects.create(code="C1", name="Split plate")
    with pytest.raises(QualityError, match="what is wrong"):
        report_problem(serial=shell.serial, position=1, person=shop.worker, text=" ", stamp=shop.stamp(shop.worker))
    report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="", defect=defect, stamp=shop.stamp(shop.worker)
    )
    assert Problem.objects.get().text == "Split plate"


def test_two_people_who_report_at_once_give_one_hold(shop: SmallShop) -> None:
    shell = shop.released()[0]
    report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="a", stamp=shop.stamp(shop.worker, key="a")
    )
    again = report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="a", stamp=shop.stamp(shop.worker, key="a")
    )
    with pytest.raises(LostRace, match="on hold already"):
        report_problem(serial=shell.serial, position=1, person=shop.checker, text="b", stamp=shop.stamp(shop.checker))
    assert Problem.objects.get() == again


def test_the_dwell_clock_goes_on_during_a_hold(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign_through(shop, shell, 2)
    ends = shop.step(shell, 3).not_before
    report_problem(serial=shell.serial, position=3, person=shop.worker, text="x", stamp=shop.stamp(shop.worker))
    shop.wait(hours=10)
    settle_problem(serial=shell.serial, person=shop.supervisor, settlement="fine", stamp=shop.stamp(shop.supervisor))
    assert shop.step(shell, 3).not_before == ends
