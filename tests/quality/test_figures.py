"""The figures against a small history whose yields, findings and charts can be counted by hand."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from quality.actions import sign_off, withdraw_sign_off
from quality.dispositions import rework, scrap, use_as_is
from quality.figures import (
    Span,
    figures_of_check,
    findings_between,
    findings_chart,
    measured_checks,
    yields_between,
)
from quality.figures.findings import BY_CUSTOMER, By, ranked
from quality.models import CheckPoint, CustomerRequest, Defect, Problem
from quality.problems import report_problem, settle_problem
from routing.models import ProductLine, Shell
from tests.quality.on_hold import ASSEMBLE, EDGE, PACK, hold, scrap_it, send_back, sign_up_to
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def all_days(shop: SmallShop, line: ProductLine | None = None) -> Span:
    return Span(date(2026, 11, 1), shop.clock.date() + timedelta(days=1), line)


@pytest.fixture
def history(shop: SmallShop) -> list[Shell]:
    """Four shells: one straight to the carton; one sent back from assembly to the edge, then packed; one scrapped at its
    first coat; one used as it is for what was found at assembly."""
    straight, back, gone, as_is = shop.released(quantity=4)
    sign_up_to(shop, straight, PACK)
    sign_up_to(shop, back, 5)
    hold(shop, back, "edge not flat")
    send_back(shop, back, EDGE)
    sign_up_to(shop, back, PACK)
    sign_up_to(shop, gone, EDGE)
    hold(shop, gone, "split")
    scrap_it(shop, gone)
    sign_up_to(shop, as_is, 5)
    hold(shop, as_is, "small scratch")
    use_as_is(
        serial=as_is.serial,
        person=shop.supervisor,
        allowed_by="the customer",
        reason="under the hoop",
        stamp=shop.stamp(shop.supervisor),
    )
    sign_up_to(shop, as_is, ASSEMBLE)
    return [straight, back, gone, as_is]


def counted(shop: SmallShop) -> dict[str, tuple[int, int]]:
    found = yields_between(all_days(shop))
    return {each.station.code: (each.shells, each.passed_first) for each in found.stations}


def test_yields_by_hand(shop: SmallShop, history: list[Shell]) -> None:
    assert counted(shop) == {
        "cut": (4, 4),
        "press": (4, 4),
        "edge": (4, 3),  # one was sent back to it
        "finish": (4, 3),  # one was scrapped at it, unsigned
        "assemble": (3, 2),  # one was used as it is for what was found there
        "final-check": (2, 2),
        "pack": (2, 2),
    }
    found = yields_between(all_days(shop))
    (lacquer,) = found.rolled
    assert lacquer.finish == "lacquer"
    assert lacquer.rolled == pytest.approx(3 / 4 * 3 / 4 * 2 / 3)
    assert (found.processed, found.reworked, found.packed, found.scrapped) == (4, 1, 2, 1)
    assert found.rework == pytest.approx(1 / 4)
    assert found.scrap == pytest.approx(1 / 3)


def test_a_plain_release_and_a_withdrawn_tap_count_against_nobody(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign_up_to(shop, shell, 1)
    withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
    sign_up_to(shop, shell, 1)
    hold(shop, shell, "looks odd")
    settle_problem(serial=shell.serial, person=shop.supervisor, settlement="it is fine", stamp=shop.stamp())
    sign_up_to(shop, shell, 2)
    assert counted(shop) == {"cut": (1, 1), "press": (1, 1)}


def test_lead_time_and_touch_time(shop: SmallShop) -> None:
    shop.stations["assemble"].counts_touch_time = True
    shop.stations["assemble"].save()
    shell = shop.released()[0]
    sign_up_to(shop, shell, PACK)
    step = shop.step(shell, ASSEMBLE)
    step.touch_seconds = 1800
    step.save()
    found = yields_between(all_days(shop))
    packed_at = shop.step(shell, PACK).done_at
    assert packed_at is not None
    days = (packed_at - shell.released_at).total_seconds() / 86400
    assert found.lead_days is not None and found.lead_days.median == pytest.approx(days)
    assert found.touch_hours is not None and found.touch_hours.median == pytest.approx(0.5)
    assert found.touch_share == pytest.approx(0.5 / 24 / days)
    assert found.touch_stations == ("assemble",)


def test_other_days_and_other_lines_are_left_out(shop: SmallShop, history: list[Shell]) -> None:
    before = Span(date(2026, 10, 1), date(2026, 10, 2))
    other = all_days(shop, ProductLine.objects.create(name="Other", finish_kind="oil"))
    for span in (before, other):
        found = yields_between(span)
        assert (found.stations, found.processed, found.packed) == ((), 0, 0)
        assert (found.rework, found.scrap, found.lead_days) == (None, None, None)
        assert findings_between(span) == []
    assert all(each.rolled is None and each.missing for each in yields_between(before).rolled)


def test_the_number_of_queries_does_not_grow(shop: SmallShop, django_assert_max_num_queries: Any) -> None:
    for number in ("K-1", "K-2", "K-3"):
        for shell in shop.released(number, 3):
            sign_up_to(shop, shell, 4)
            hold(shop, shell)
            send_back(shop, shell, EDGE)
    with django_assert_max_num_queries(15):
        yields_between(all_days(shop))
    with django_assert_max_num_queries(3):
        assert len(findings_between(all_days(shop))) == 9


def test_findings_where_they_show_and_where_they_come_from(shop: SmallShop, history: list[Shell]) -> None:
    found = findings_between(all_days(shop))
    assert [(each.serial, each.found_at, each.caused_at, each.decided) for each in reversed(found)] == [
        (history[1].serial, "assemble", "edge", "rework"),
        (history[2].serial, "finish", "not known", "scrap and replace"),
        (history[3].serial, "assemble", "not known", "use as is"),
    ]
    assert [(bar.name, bar.count) for bar in ranked(found, By.FOUND)] == [("assemble", 2), ("finish", 1)]
    chart, days = findings_chart(found, all_days(shop))
    assert chart is not None
    assert sum(count for _, count in days) == 3
    assert len(days) > 3  # days with work and without a finding count as none


def test_the_list_of_defects_says_where_it_usually_comes_from(shop: SmallShop) -> None:
    defect = Defect.objects.create(code="D77", name="run in the lacquer", caused_at="finish,seal")
    shell = shop.released()[0]
    report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="", defect=defect, stamp=shop.stamp(shop.worker)
    )
    settle_problem(serial=shell.serial, person=shop.supervisor, settlement="rubbed out", stamp=shop.stamp())
    (found,) = findings_between(all_days(shop))
    assert (found.defect, found.caused_at) == ("run in the lacquer", "finish")


def test_what_customers_call_about_counts(shop: SmallShop) -> None:
    shell = shop.released()[0]
    defect = Defect.objects.create(code="D78", name="part missing", caused_at="pack")
    CustomerRequest.objects.create(
        number="R-1",
        shell=shell,
        kind="missing",
        said="a rod is missing",
        asked_at=shop.clock,
        due_at=shop.clock,
        taken_by=shop.supervisor,
        cause=defect,
        caused_at=shop.stations["pack"],
    )
    (found,) = findings_between(all_days(shop))
    assert (found.found_at, found.caused_at, found.defect) == (BY_CUSTOMER, "pack", "part missing")


class TestChecks:
    def check(self, shop: SmallShop, **fields: Any) -> CheckPoint:
        given = {"code": "t", "kind": "measured", "nominal": 3.0, "minus": 0.2, "plus": 0.2, "unit": "mm", **fields}
        return CheckPoint.objects.create(station=shop.stations["cut"], text="Thickness", **given)

    def read(self, shop: SmallShop, point: CheckPoint, answers: list[str]) -> list[Shell]:
        shells = shop.released(quantity=len(answers))
        for shell, answer in zip(shells, answers, strict=True):
            shop.wait(hours=1)
            sign_off(
                serial=shell.serial,
                position=1,
                person=shop.worker,
                answers={str(point.pk): answer},
                stamp=shop.stamp(shop.worker),
            )
        return shells

    def test_one_reading_a_drum(self, shop: SmallShop) -> None:
        point = self.check(shop)
        shells = self.read(shop, point, ["3.0", "3.1", "2.9", "3.0"])
        found = figures_of_check("t", all_days(shop))
        assert found is not None and found.chart is not None and found.capability is not None
        assert found.chart.panels[0].values == (3.0, 3.1, 2.9, 3.0)
        assert found.chart.sigma == pytest.approx((0.1 + 0.2 + 0.1) / 3 / 1.128)
        assert found.labels == tuple(shell.serial for shell in shells)
        assert found.allowed == pytest.approx((2.8, 3.2))
        assert found.capability.cp == pytest.approx(0.4 / (6 * found.chart.sigma))
        assert found.rows[1][0] == shells[1].serial and "3.1" in found.rows[1]

    def test_a_reading_that_held_a_shell_counts_and_a_withdrawn_one_does_not(self, shop: SmallShop) -> None:
        point = self.check(shop)
        shells = self.read(shop, point, ["3.0", "3.1"])
        bad = shop.released("K-9")[0]
        shop.wait(hours=1)
        report_problem(
            serial=bad.serial,
            position=1,
            person=shop.worker,
            text="too thick",
            answers={str(point.pk): "3.5"},
            stamp=shop.stamp(shop.worker),
        )
        withdraw_sign_off(
            serial=shells[1].serial,
            position=1,
            person=shop.supervisor,
            reason="wrong shell",
            stamp=shop.stamp(shop.supervisor),
        )
        found = figures_of_check("t", all_days(shop))
        assert found is not None and found.chart is not None and found.capability is not None
        assert found.chart.panels[0].values == (3.0, 3.5)
        assert found.capability.outside == 1
        assert [row[-1] for row in found.rows] == ["yes", "no"]

    def test_several_readings_a_drum(self, shop: SmallShop) -> None:
        point = self.check(shop, places=3)
        self.read(shop, point, ["3.0 3.1 3.0", "2.9 3.0 3.1"])
        found = figures_of_check("t", all_days(shop))
        assert found is not None and found.chart is not None
        assert found.chart.kind == "means"
        assert found.chart.panels[1].values == pytest.approx((0.1, 0.2))
        assert "means and ranges of 3" in found.what

    def test_drums_of_different_sizes_are_charted_from_their_own_middle(self, shop: SmallShop) -> None:
        """The same drum with two revisions of the check: 3.0 ± 0.2, then 5.0 ± 0.1."""
        first = self.check(shop)
        self.read(shop, first, ["3.1"])
        first.is_current = False
        first.save()
        second = self.check(shop, revision=2, nominal=5.0, minus=0.1, plus=0.1)
        shells = shop.released("K-2", 2)
        for shell, answer in zip(shells, ("4.95", "5.0"), strict=True):
            shop.wait(hours=1)
            sign_off(
                serial=shell.serial,
                position=1,
                person=shop.worker,
                answers={str(second.pk): answer},
                stamp=shop.stamp(shop.worker),
            )
        found = figures_of_check("t", all_days(shop))
        assert found is not None and found.chart is not None
        assert found.chart.panels[0].values == pytest.approx((0.1, -0.05, 0.0))
        assert found.allowed == pytest.approx((-0.1, 0.1))
        assert "distance" in found.what
        assert found.point == second

    def test_yes_and_no_by_day(self, shop: SmallShop) -> None:
        point = self.check(shop, kind="yes_no", nominal=None, minus=None, plus=None)
        self.read(shop, point, ["yes", "yes"])
        shop.wait(hours=24)
        bad, good = shop.released("K-2", 2)
        report_problem(
            serial=bad.serial,
            position=1,
            person=shop.worker,
            text="no",
            answers={str(point.pk): "no"},
            stamp=shop.stamp(shop.worker),
        )
        sign_off(
            serial=good.serial,
            position=1,
            person=shop.worker,
            answers={str(point.pk): "yes"},
            stamp=shop.stamp(shop.worker),
        )
        found = figures_of_check("t", all_days(shop))
        assert found is not None and found.chart is not None
        assert found.chart.kind == "proportions"
        assert found.chart.panels[0].values == (0.0, 0.5)
        assert found.chart.panels[0].centre[0] == pytest.approx(1 / 4)
        assert found.capability is None

    def test_too_few_is_said(self, shop: SmallShop) -> None:
        self.read(shop, self.check(shop), ["3.0"])
        found = figures_of_check("t", all_days(shop))
        assert found is not None
        assert (found.chart, found.capability) == (None, None)
        assert found.reason == "A chart needs at least 2 points; there is one."
        assert figures_of_check("nothing", all_days(shop)) is None
        assert [point.code for point in measured_checks()] == ["t"]


def test_decisions_of_a_problem_count_once(shop: SmallShop) -> None:
    """Held twice at one step and sent back twice: one shell, not right the first time."""
    shell = shop.released()[0]
    for _ in range(2):
        sign_up_to(shop, shell, 4)
        hold(shop, shell)
        rework(
            serial=shell.serial,
            position=EDGE,
            person=shop.supervisor,
            reason="again",
            stamp=shop.stamp(shop.supervisor),
        )
    assert counted(shop)["edge"] == (1, 0)
    assert Problem.objects.count() == 2
    hold(shop, shell)
    scrap(serial=shell.serial, person=shop.supervisor, reason="split", stamp=shop.stamp(shop.supervisor))
    assert counted(shop)["edge"] == (1, 0)
