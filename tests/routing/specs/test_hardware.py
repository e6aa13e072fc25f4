from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.hardware import HardwareResult, hardware, kit_parts, pick_list
from routing.specs.inputs import FittingInputs, HardwareInputs, LugInputs, LugKind, PartInputs, RodInputs
from routing.specs.threads import CLEARANCE_HOLES_MM, COARSE_PITCH_MM, FITS, clearance_hole, thread
from tests.routing.specs.example_drums import ROD
from tests.routing.specs.example_drums import hardware as example


def with_rod(**changes: Any) -> HardwareInputs:
    return replace(example(8), rod=replace(ROD, **changes))


def codes(found: HardwareResult) -> list[str]:
    return [warning.code for warning in found.warnings]


def with_parts(*parts: tuple[str, int]) -> HardwareInputs:
    return replace(example(8), parts=tuple(PartInputs(name, "bag", count, 5.0) for name, count in parts))


@given(st.integers(4, 16), st.sampled_from(list(LugKind)), st.sampled_from([0.0, 25.4]))
def test_counts_follow_from_the_lugs(lugs: int, kind: LugKind, spacing: float) -> None:
    one = replace(example(8).lugs, per_head=lugs, kind=kind, hole_spacing_mm=spacing)
    found = hardware(replace(example(lugs), lugs=one, parts=()))
    assert found.rods == 2 * lugs
    assert found.lugs == (lugs if kind is LugKind.DOUBLE_ENDED else 2 * lugs)
    assert found.lug_screws == found.lugs * (2 if spacing else 1)


def test_the_example_is_in_order_and_counted() -> None:
    found = hardware(example(8))
    assert found.warnings == ()
    assert found.pieces == 16 + 32 + 32 + 16 + 2 + 2 and found.spares == 4
    assert [(bag.bag, bag.kinds, bag.pieces, bag.spares) for bag in found.bags] == [
        ("lugs", 1, 16, 0),
        ("screws", 2, 64, 4),
        ("rods", 1, 16, 0),
        ("", 2, 4, 0),
    ]


parts = st.lists(
    st.builds(
        PartInputs,
        name=st.sampled_from(["screw", "washer", "hoop"]),
        bag=st.sampled_from(["", "a", "b"]),
        quantity=st.integers(0, 50),
        unit_mass_g=st.just(2.0),
        spare=st.integers(0, 4),
    ),
    max_size=12,
)


@given(parts)
def test_a_pick_list_loses_nothing_and_names_nothing_twice(listed: list[PartInputs]) -> None:
    lines = pick_list(listed)
    assert sum(line.quantity for line in lines) == sum(part.quantity for part in listed)
    assert sum(line.spare for line in lines) == sum(part.spare for part in listed)
    assert len({(line.bag, line.name) for line in lines}) == len(lines)
    bags = [line.bag for line in lines]
    assert all(not bag for bag in bags[bags.index("") :]) if "" in bags else True
    assert [bag for n, bag in enumerate(bags) if bags.index(bag) == n] == list(dict.fromkeys(bags))


@given(st.lists(parts, min_size=1, max_size=4))
def test_a_kit_is_the_sum_of_its_drums(lists: list[list[PartInputs]]) -> None:
    drums = [(f"drum {n}", replace(example(8), parts=tuple(listed))) for n, listed in enumerate(lists)]
    kit = kit_parts(drums)
    assert kit.pieces == sum(part.quantity for listed in lists for part in listed)
    assert kit.spares == sum(part.spare for listed in lists for part in listed)
    for line in kit.lines:
        assert sum(line.by_drum) == line.quantity and len(line.by_drum) == len(lists)
    for n, (_, inputs) in enumerate(drums):
        assert sum(line.by_drum[n] for line in kit.lines) == hardware(replace(inputs, rod=None)).pieces
    assert kit.warnings == ()


def test_two_threads_in_a_kit_are_warned_of() -> None:
    metric = with_rod(thread="M6", pitch_mm=1.0, diameter_mm=6.0)
    (warning,) = kit_parts([("snare", example(8)), ("tom", example(6)), ("bass", metric)]).warnings
    assert warning.code == "mixed_threads"
    assert "12-24 on snare, tom; M6 on bass" in warning.message


@pytest.mark.parametrize(
    ("part", "right"),
    [
        ("tension rod", 16),
        ("52 mm claw rod", 16),
        ("bridge lug", 16),
        ("M4 lug screw", 32),
        ("lug screw washer", 32),
        ("rod washer, nylon", 16),
        ("claw", 16),
        ("hoop, pressed steel", 2),
        ("snare-side hoops", 2),
        ("batter head, coated", 2),
    ],
)
def test_a_wrong_count_is_named(part: str, right: int) -> None:
    assert hardware(with_parts((part, right))).warnings == ()
    (warning,) = hardware(with_parts((part, right - 1))).warnings
    assert warning.code == "parts_count"
    assert f"has {right - 1} " in warning.message and f"need {right}." in warning.message


@pytest.mark.parametrize("part", ["lug gasket", "hoop protector", "drum key", "head felt", "rod bag"])
def test_parts_for_a_thing_are_not_counted_as_the_thing(part: str) -> None:
    assert hardware(with_parts((part, 3))).warnings == ()


def test_two_lines_of_one_thing_add_up_but_washers_count_by_line() -> None:
    assert codes(hardware(with_parts(("batter head", 1), ("resonant head", 1)))) == []
    washers = with_parts(("rod washer, steel", 16), ("rod washer, nylon", 8))
    assert codes(hardware(washers)) == ["parts_count"]


@given(st.floats(20, 120), st.floats(0, 30), st.floats(0, 60), st.floats(8.3, 60))
def test_the_lengths_that_are_named_do_fit(length: float, stack: float, mouth: float, depth: float) -> None:
    rod = RodInputs("rod", "12-24", 1.058, 5.486, length, stack, mouth, depth)
    found = hardware(replace(example(8), rod=rod)).rod
    assert found is not None
    assert 0 <= found.engagement_mm <= depth
    assert found.fits == (found.shortest_mm - 1e-6 <= length <= found.longest_mm + 1e-6)
    if 5 <= found.shortest_mm <= min(400, found.longest_mm):
        best = hardware(replace(example(8), rod=replace(rod, length_mm=found.shortest_mm))).rod
        assert best is not None and best.fits
        assert best.engagement_diameters >= 1.5 - 1e-9 and best.turns >= 4 - 1e-9


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        ({"length_mm": 38.0}, "rod_short", "only 8.0 mm in the nut; take at least 39 mm"),
        ({"length_mm": 20.0}, "rod_short", "only 0.0 mm"),
        ({"length_mm": 61.0}, "rod_long", "take at most 60 mm"),
        ({"thread_depth_mm": 6.0, "length_mm": 36.0}, "nut_short", "wants 8.2 mm"),
        ({"pitch_mm": 0.8}, "thread_differs", "pitch of 1.058 mm, not 0.8"),
        ({"diameter_mm": 6.0}, "thread_differs", "diameter of 5.49 mm, not 6"),
    ],
)
def test_a_doubtful_rod_is_named(changes: dict[str, float], code: str, words: str) -> None:
    (warning,) = hardware(with_rod(**changes)).warnings
    assert warning.code == code and words in warning.message


def test_a_thread_of_the_shops_own_name_is_taken_as_entered() -> None:
    assert hardware(with_rod(thread="old stock", pitch_mm=0.9)).warnings == ()


@pytest.mark.parametrize(("hole", "code"), [(4.2, "hole_tight"), (4.3, None), (6.35, None), (6.5, "hole_wide")])
def test_a_lug_hole_must_suit_its_screw(hole: float, code: str | None) -> None:
    lugs: LugInputs = replace(example(8).lugs, hole_diameter_mm=hole)
    assert codes(hardware(replace(example(8), lugs=lugs))) == ([] if code is None else [code])


@pytest.mark.parametrize("name", CLEARANCE_HOLES_MM)
def test_a_clearance_hole_clears_its_screw_and_widens_with_the_fit(name: str) -> None:
    holes = [clearance_hole(name, fit) for fit in FITS]
    assert thread(name).major_mm < holes[0] < holes[1] < holes[2]
    assert COARSE_PITCH_MM[name] == thread(name).pitch_mm


@pytest.mark.parametrize(
    ("name", "major", "pitch"),
    [
        ("M5", 5.0, 0.8),
        ("m5 x 0.5", 5.0, 0.5),
        ("M6×1", 6.0, 1.0),
        ("#8-32", 0.164 * 25.4, 25.4 / 32),
        ("12-24 UNC", 0.216 * 25.4, 25.4 / 24),
        ("No. 10 - 32 UNF", 0.190 * 25.4, 25.4 / 32),
        ("1/4-20", 6.35, 1.27),
    ],
)
def test_a_thread_is_known_by_its_name(name: str, major: float, pitch: float) -> None:
    found = thread(name)
    assert [found.major_mm, found.pitch_mm] == pytest.approx([major, pitch])


@pytest.mark.parametrize(
    "name", ["", "M", "M99", "M4x9", "12", "20-24", "3/2-8", "0/4-20", "12-0", "12-24 BSW", "wood screw"]
)
def test_an_unknown_thread_is_refused(name: str) -> None:
    with pytest.raises(SpecError) as refused:
        thread(name)
    assert refused.value.code == "unknown_thread"


def test_what_can_not_be_is_refused() -> None:
    with pytest.raises(SpecError):
        clearance_hole("M7")
    with pytest.raises(SpecError):
        clearance_hole("M4", "snug")
    for changes in ({"pitch_mm": 0.0}, {"length_mm": math.nan}, {"thread_depth_mm": -1.0}, {"diameter_mm": 50.0}):
        with pytest.raises(SpecError) as refused:
            hardware(with_rod(**changes))
        assert refused.value.field == f"hardware.rod.{next(iter(changes))}"
    with pytest.raises(SpecError, match="quantity is -1"):
        hardware(with_parts(("claw", -1)))


@pytest.mark.parametrize(("depth_mm", "engagement_mm"), [(139.7, 13.15), (165.1, 0.45), (203.2, 0.0)])
def test_the_rods_of_a_double_ended_lug_follow_the_depth(depth_mm: float, engagement_mm: float) -> None:
    # A 90 mm lug at mid-depth, rods of 48 mm, 10 mm of hoop: by hand 48 − 10 − (depth − 90) / 2.
    lugs = replace(example(10).lugs, kind=LugKind.DOUBLE_ENDED, footprint_axial_mm=90.0)
    rod = RodInputs("rod", "12-24 UNC", 25.4 / 24, 5.486, 48.0, 10.0, 25.0, 20.0)
    result = hardware(replace(example(10), lugs=lugs, rod=rod), depth_mm=depth_mm)
    assert result.rod is not None
    assert result.rod.engagement_mm == pytest.approx(engagement_mm)
    assert ("rod_short" in [warning.code for warning in result.warnings]) == (engagement_mm < 8)


def test_hoops_of_another_size_are_named() -> None:
    fourteen = replace(example(8), for_diameter_in=14.0)
    assert "hoops_of_other_size" not in [w.code for w in hardware(fourteen, diameter_in=14.0).warnings]
    assert [w.field for w in hardware(fourteen, diameter_in=13.0).warnings if w.code == "hoops_of_other_size"] == [
        "hardware.for_diameter_in"
    ]


def test_the_screws_of_fittings_need_clearance_too() -> None:
    def strainer(diameter: float) -> FittingInputs:
        holes = ((0.0, 0.0, diameter), (0.0, 20.0, 28.0))  # the large one is for a shaft
        return FittingInputs("strainer", "strainer", None, 1, holes, 40.0, 60.0, screw="M5")

    def codes(diameter: float) -> list[str]:
        found = hardware(replace(example(8), fittings=(strainer(diameter),))).warnings
        return [w.code for w in found if w.field == "hardware.fittings.0.holes"]

    assert codes(3.0) == ["hole_tight"]
    assert codes(5.5) == []
    assert codes(9.0) == ["hole_wide"]
