from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.cutting_plan import (
    BlankOrder,
    CuttingPlan,
    Offcut,
    PlacedBlank,
    StockSheet,
    orders_for_shell,
    plan_cutting,
    plan_release,
)
from routing.specs.cutting_search import Progress
from routing.specs.errors import SpecError
from routing.specs.inputs import Grain
from routing.specs.sheet import compute_sheet
from tests.routing.specs.example_drums import ALL, BASS, SNARE, TOM, plate

STOCK = StockSheet("birch plate", 2500.0, 1250.0)


def can_be_cut(blanks: list[PlacedBlank], kerf: float) -> bool:
    """Whether edge-to-edge cuts of this kerf can set all blanks free; written apart from the code under test."""
    if len(blanks) <= 1:
        return True
    for low, size in (("x_mm", "along_grain_mm"), ("y_mm", "across_grain_mm")):
        ordered = sorted(blanks, key=lambda one: getattr(one, low))
        reach = -1.0
        for index, blank in enumerate(ordered):
            if index and getattr(blank, low) >= reach + kerf - 0.051:
                return can_be_cut(ordered[:index], kerf) and can_be_cut(ordered[index:], kerf)
            reach = max(reach, getattr(blank, low) + getattr(blank, size))
    return False


def check_plan(plan: CuttingPlan, orders: list[BlankOrder], kerf: float) -> None:
    wanted: Counter[tuple[str, float, float]] = Counter()
    for order in orders:
        wanted[(order.label, order.along_grain_mm, order.across_grain_mm)] += order.quantity
    cut = Counter((one.label, one.along_grain_mm, one.across_grain_mm) for sheet in plan.sheets for one in sheet.blanks)
    assert cut == +wanted
    for sheet in plan.sheets:
        placed: list[PlacedBlank | Offcut] = [*sheet.blanks, *sheet.offcuts]
        for one in placed:
            assert one.x_mm >= 0
            assert one.y_mm >= 0
            assert one.x_mm + one.along_grain_mm <= plan.stock.length_mm + 1e-6
            assert one.y_mm + one.across_grain_mm <= plan.stock.width_mm + 1e-6
        pieces = [
            *sheet.blanks,
            *(PlacedBlank("offcut", o.x_mm, o.y_mm, o.along_grain_mm, o.across_grain_mm) for o in sheet.offcuts),
        ]
        assert can_be_cut(pieces, kerf)
        assert 0 < sheet.used_pct <= 100 + 1e-9
    assert plan.area_bound <= plan.lower_bound <= len(plan.sheets)
    assert plan.proven == (plan.lower_bound == len(plan.sheets))
    assert plan.gap_sheets == len(plan.sheets) - plan.lower_bound


def cut_apart(rng: random.Random, along: int, across: int, depth: int) -> list[tuple[int, int]]:
    if depth == 0 or min(along, across) < 200:
        return [(along, across)]
    if rng.random() < along / (along + across):
        at = rng.randint(along // 4, 3 * along // 4)
        return cut_apart(rng, at, across, depth - 1) + cut_apart(rng, along - at, across, depth - 1)
    at = rng.randint(across // 4, 3 * across // 4)
    return cut_apart(rng, along, at, depth - 1) + cut_apart(rng, along, across - at, depth - 1)


def test_a_sheet_cut_apart_is_made_whole_again() -> None:
    """Constructed: one sheet cut into up to eight pieces and shuffled; no kerf, so nothing is wasted.

    The search is not exact, so a few may take a second sheet; then the plan must not claim to be the best.
    """
    whole = 0
    for seed in range(8):
        rng = random.Random(seed)
        pieces = cut_apart(rng, 2500, 1250, 3)
        rng.shuffle(pieces)
        orders = [BlankOrder(str(i), a, c) for i, (a, c) in enumerate(pieces)]
        plan = plan_cutting(STOCK, orders, kerf_mm=0)
        check_plan(plan, orders, 0)
        assert plan.area_bound == 1
        assert len(plan.sheets) <= 2
        whole += plan.proven and len(plan.sheets) == 1
    assert whole >= 6


def test_two_kinds_that_fill_a_sheet_only_together() -> None:
    """Constructed: 1500 + 1000 along, 750 + 500 across, twelve sheets' worth."""
    orders = [
        BlankOrder("a", 1500, 750, 12),
        BlankOrder("b", 1000, 750, 12),
        BlankOrder("c", 1500, 500, 12),
        BlankOrder("d", 1000, 500, 12),
    ]
    plan = plan_cutting(STOCK, orders, kerf_mm=0)
    check_plan(plan, orders, 0)
    assert (len(plan.sheets), plan.proven) == (12, True)
    assert plan.yield_pct == pytest.approx(100)


def test_the_kerf_counts_between_blanks_but_not_at_the_edge() -> None:
    two = [BlankOrder("a", 1248.4, 1250, 2)]
    assert len(plan_cutting(STOCK, two, kerf_mm=3.2).sheets) == 1
    assert len(plan_cutting(STOCK, [BlankOrder("a", 1248.5, 1250, 2)], kerf_mm=3.2).sheets) == 2


def test_no_blank_is_turned() -> None:
    orders = [BlankOrder("a", 600, 1200, 4)]
    assert len(plan_cutting(STOCK, orders, kerf_mm=0).sheets) == 1
    turned = [BlankOrder("a", 1200, 600, 4)]
    assert len(plan_cutting(StockSheet("narrow", 2500, 1199), turned, kerf_mm=0).sheets) == 2


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(120, 2400), st.floats(80, 1200), st.integers(0, 5)), min_size=1, max_size=6),
    st.sampled_from([0.0, 2.5, 3.2]),
)
def test_any_plan_can_be_cut(rows, kerf: float) -> None:
    orders = [BlankOrder(f"b{i}", along, across, n) for i, (along, across, n) in enumerate(rows)]
    plan = plan_cutting(STOCK, orders, kerf_mm=kerf)
    check_plan(plan, orders, kerf)
    assert plan.blanks == sum(order.quantity for order in orders)
    assert not plan.stopped_early or not plan.proven


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4))
def test_the_bound_never_exceeds_a_known_plan(seed: int, sheets: int) -> None:
    """Constructed: so many sheets cut apart, so that many are enough; a bound above would be wrong."""
    rng = random.Random(seed)
    pieces = [piece for _ in range(sheets) for piece in cut_apart(rng, 2500, 1250, 2)]
    orders = [BlankOrder(str(i), a, c) for i, (a, c) in enumerate(pieces)]
    plan = plan_cutting(STOCK, orders, kerf_mm=0)
    check_plan(plan, orders, 0)
    assert plan.lower_bound <= sheets


def test_a_bound_from_rounded_blanks_is_valid_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("routing.specs.cutting_search._EXACT_CELLS", 30)
    for seed in range(4):
        rng = random.Random(seed)
        pieces = [piece for _ in range(3) for piece in cut_apart(rng, 2500, 1250, 3)]
        orders = [BlankOrder(str(i), a, c) for i, (a, c) in enumerate(pieces)]
        plan = plan_cutting(STOCK, orders, kerf_mm=0)
        check_plan(plan, orders, 0)
        assert plan.lower_bound <= 3


def kit(times: int = 1) -> list[tuple[StockSheet, BlankOrder]]:
    drums = [
        replace(BASS, seam=SNARE.seam),
        TOM,
        replace(TOM, nominal_diameter_in=10.0, nominal_depth_in=7.0),
        replace(TOM, nominal_diameter_in=16.0, nominal_depth_in=16.0),
        SNARE,
    ]
    return [
        order
        for number in range(times)
        for drum in drums
        for order in orders_for_shell(f"kit {number}", drum.plates, compute_sheet(drum).cutting)
    ]


def test_a_kit_and_a_release_of_kits() -> None:
    for times in (1, 6):
        (plan,) = plan_release(kit(times))
        check_plan(plan, [order for _, order in kit(times)], 3.2)
        assert plan.blanks == 15 * times
        assert plan.gap_sheets <= 1
        assert plan.yield_with_offcuts_pct >= plan.yield_pct


def test_the_same_release_gives_the_same_plan() -> None:
    assert plan_release(kit(3)) == plan_release(kit(3))


def test_plates_of_other_sheets_get_their_own_plans() -> None:
    axial = replace(SNARE, plates=(plate(), plate(name="core", grain=Grain.AXIAL), plate()))
    orders = orders_for_shell("S1", axial.plates, compute_sheet(axial).cutting)
    plans = plan_release(orders)
    assert [plan.stock.name for plan in plans] == ["birch plate", "core"]
    core = plans[1].sheets[0].blanks[0]
    assert core.along_grain_mm < core.across_grain_mm
    assert core.label == "S1 plate 2"


@pytest.mark.parametrize("name", ALL)
def test_rough_blanks_are_never_smaller_than_precise_ones(name: str) -> None:
    drum = ALL[name]
    cutting = compute_sheet(drum).cutting
    rough = orders_for_shell("S", drum.plates, cutting)
    precise = orders_for_shell("S", drum.plates, cutting, rough=False)
    for (_, large), (_, small) in zip(rough, precise, strict=True):
        assert large.along_grain_mm >= small.along_grain_mm
        assert large.across_grain_mm >= small.across_grain_mm


def test_progress_is_told_and_may_stop() -> None:
    told: list[Progress] = []

    def watch(progress: Progress) -> bool:
        told.append(progress)
        return False

    widths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
    orders = [BlankOrder(str(width), width, 1000, 9) for width in widths]
    plan = plan_cutting(StockSheet("roll", 5600, 1000), orders, kerf_mm=0, watch=watch)
    assert [progress.step for progress in told] == ["constructed"]
    assert plan.stopped_early
    assert plan.gap_sheets > 0
    assert f"at least {plan.lower_bound}" in plan.summary
    check_plan(plan, orders, 0)


def test_time_runs_out_only_with_a_clock() -> None:
    ticks = iter(range(1000))
    orders = [order for _, order in kit(6)]
    hurried = plan_cutting(STOCK, orders, clock=lambda: float(next(ticks)), time_limit_s=1)
    check_plan(hurried, orders, 3.2)
    patient = plan_cutting(STOCK, orders)
    assert len(patient.sheets) <= len(hurried.sheets)


def test_nothing_to_cut() -> None:
    for orders in ([], [BlankOrder("a", 500, 500, 0)]):
        plan = plan_cutting(STOCK, orders)
        assert (plan.sheets, plan.proven, plan.yield_pct) == ((), True, 0)


@pytest.mark.parametrize(
    ("order", "options", "code"),
    [
        (BlankOrder("long", 2501, 100), {}, "blank_too_large"),
        (BlankOrder("high", 100, 1250.2), {}, "blank_too_large"),
        (BlankOrder("nan", float("nan"), 100), {}, "out_of_range"),
        (BlankOrder("minus", 500, 500, -1), {}, "out_of_range"),
        (BlankOrder("ok", 500, 500), {"kerf_mm": 50.0}, "out_of_range"),
        (BlankOrder("many", 500, 500, 20_001), {}, "out_of_range"),
    ],
)
def test_impossible_orders_are_refused(order: BlankOrder, options, code: str) -> None:
    with pytest.raises(SpecError) as refused:
        plan_cutting(STOCK, [order], **options)
    assert refused.value.code == code
    if code == "blank_too_large":
        assert order.label in refused.value.message
