from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.packing import (
    PackedDrum,
    PackingRules,
    envelope,
    fewest_chains,
    fits_inside,
    largest_antichain,
    plan_packing,
)


def drum(
    diameter_in: float,
    depth_in: float,
    *,
    wall: float = 6.0,
    projection: float = 22.0,
    heads: float = 6.0,
    name: str = "",
) -> PackedDrum:
    outside = diameter_in * 25.4 - 3.2
    return PackedDrum(
        name or f"{diameter_in:g} × {depth_in:g}", outside, outside - 2 * wall, depth_in * 25.4, projection, heads
    )


drums = st.builds(
    drum,
    st.sampled_from([8, 10, 12, 13, 14, 16, 18, 20, 22, 24]),
    st.sampled_from([5.5, 7, 8, 9, 12, 14, 16, 18, 20]),
    wall=st.floats(4, 10),
    projection=st.sampled_from([0.0, 15.0, 22.0, 38.0]),
    heads=st.floats(0, 8),
)
rules = st.builds(PackingRules, pad_mm=st.floats(0, 12), depth_clearance_mm=st.floats(0, 20))


@given(drums, drums, drums, rules)
def test_fitting_is_a_strict_order(a: PackedDrum, b: PackedDrum, c: PackedDrum, keep: PackingRules) -> None:
    assert not fits_inside(a, a, keep)
    if fits_inside(a, b, keep):
        assert not fits_inside(b, a, keep)
        if fits_inside(b, c, keep):
            assert fits_inside(a, c, keep)


@given(drums, drums, rules)
def test_what_fits_really_fits(inner: PackedDrum, outer: PackedDrum, keep: PackingRules) -> None:
    round_room = (outer.inside_diameter_mm - inner.outside_diameter_mm) / 2 - outer.inside_projection_mm
    round_room -= inner.outside_projection_mm + keep.pad_mm
    long_room = outer.depth_mm - keep.depth_clearance_mm - envelope(inner, keep).length_mm
    assert fits_inside(inner, outer, keep) == (round_room >= -1e-9 and long_room >= -1e-9)


@settings(max_examples=40)
@given(st.lists(drums, max_size=9))
def test_the_fewest_nests_by_trying_everything(kit: list[PackedDrum]) -> None:
    named = [replace(one, name=f"drum {n}") for n, one in enumerate(kit)]
    plan = plan_packing(named)
    fits = {(a.name, b.name) for a, b in itertools.permutations(named, 2) if fits_inside(a, b)}
    assert sorted(name for nest in plan.nests for name in nest.drums) == sorted(one.name for one in named)
    for nest in plan.nests:
        assert all((inner, outer) in fits for outer, inner in itertools.pairwise(nest.drums))
    # By brute force: the largest set of drums of which none fits another.
    largest = max(
        size
        for size in range(len(named) + 1)
        for some in itertools.combinations(named, size)
        if not any((a.name, b.name) in fits for a, b in itertools.permutations(some, 2))
    )
    assert plan.cartons == len(plan.nests) == largest == len(plan.none_fits_another)
    assert not any(pair in fits for pair in itertools.permutations(plan.none_fits_another, 2))


@given(st.lists(drums, max_size=8), st.randoms(use_true_random=False))
def test_the_plan_does_not_depend_on_the_order_of_the_list(kit: list[PackedDrum], chance: random.Random) -> None:
    named = [replace(one, name=f"drum {n}") for n, one in enumerate(kit)]
    mixed = named[:]
    chance.shuffle(mixed)
    assert plan_packing(mixed) == plan_packing(named)


def test_a_chain_and_an_antichain_of_any_length() -> None:
    assert fewest_chains(50, lambda a, b: a < b) == [list(range(49, -1, -1))]
    assert len(largest_antichain(50, lambda a, b: a < b)) == 1
    assert len(fewest_chains(50, lambda a, b: False)) == 50
    assert largest_antichain(50, lambda a, b: False) == list(range(50))
    assert fewest_chains(0, lambda a, b: True) == []


def test_greedy_nesting_is_beaten() -> None:
    """Drum 2 takes 0 first, which is all that 3 could carry; it has to give it up and take 1."""
    order = {(0, 2), (1, 2), (0, 3)}
    assert sorted(fewest_chains(4, lambda a, b: (a, b) in order)) == [[2, 1], [3, 0]]
    assert len(largest_antichain(4, lambda a, b: (a, b) in order)) == 2


@pytest.mark.parametrize(
    "order", [{(0, 1), (1, 0)}, {(0, 0)}, {(0, 1), (1, 2)}], ids=["circle", "under itself", "not transitive"]
)
def test_what_is_no_order_is_refused(order: set[tuple[int, int]]) -> None:
    with pytest.raises(SpecError) as refused:
        fewest_chains(3, lambda a, b: (a, b) in order)
    assert refused.value.code == "no_order"


@pytest.mark.parametrize(
    ("inner", "outer", "projection", "fits"),
    [
        # Two inches apart bare drums go into each other, with lugs they do not; four inches apart they do (common practice).
        (10, 12, 0.0, True),
        (10, 12, 22.0, False),
        (12, 16, 22.0, True),
        (10, 14, 22.0, True),
        (16, 22, 22.0, True),
        (12, 16, 38.0, False),
    ],
)
def test_the_nests_that_shops_use(inner: float, outer: float, projection: float, fits: bool) -> None:
    bare = projection == 0
    small = drum(inner, 8, projection=projection, heads=0 if bare else 6)
    large = drum(outer, 20, projection=projection, heads=0 if bare else 6)
    assert fits_inside(small, large) is fits


def test_a_kit_in_cartons() -> None:
    kit = [drum(22, 18), drum(16, 16), drum(12, 9), drum(10, 8), drum(14, 5.5)]
    plan = plan_packing(kit)
    assert plan.nests[0].drums == ("22 × 18", "16 × 16", "12 × 9")
    assert plan.cartons == 3 and plan.labels == ("1 of 3", "2 of 3", "3 of 3")
    assert plan.order_of_nesting[:3] == ("12 × 9", "16 × 16", "22 × 18")
    assert set(plan.none_fits_another) == {"14 × 5.5", "12 × 9", "10 × 8"} and "none goes into another" in plan.proof
    assert [warning.code for warning in plan.warnings] == ["unpack_outer_drum"]
    assert plan.nests[0].carton_side_mm == pytest.approx(555.6 + 44 + 80)


def test_an_envelope_has_room_for_hardware_and_hoops() -> None:
    found = envelope(drum(14, 5.5))
    assert found.diameter_mm == pytest.approx(352.4 + 44) and found.length_mm == pytest.approx(139.7 + 40)
    assert [found.carton_side_mm, found.carton_height_mm] == pytest.approx(
        [found.diameter_mm + 80, found.length_mm + 80]
    )


def test_nothing_to_pack() -> None:
    plan = plan_packing([])
    assert plan.cartons == 0 and plan.nests == () and plan.proof == "Nothing to pack."
    assert plan_packing([drum(14, 5.5)]).proof.startswith("One carton")


@pytest.mark.parametrize(
    "changes",
    [
        {"inside_diameter_mm": 352.4},
        {"inside_diameter_mm": math.nan},
        {"outside_diameter_mm": 5000.0},
        {"depth_mm": 0.0},
        {"outside_projection_mm": -1.0},
        {"inside_projection_mm": math.inf},
        {"hoop_overhang_mm": -5.0},
    ],
)
def test_an_impossible_drum_is_refused(changes: dict[str, float]) -> None:
    with pytest.raises(SpecError) as refused:
        plan_packing([replace(drum(14, 5.5), **changes)])  # type: ignore[arg-type]
    assert refused.value.field == next(iter(changes))


def test_too_many_drums_are_refused() -> None:
    with pytest.raises(SpecError, match="at most 200"):
        fewest_chains(201, lambda a, b: False)
