from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.drilling import DrillingResult, drilling, lug_arc, lug_chord
from routing.specs.errors import SpecError
from routing.specs.hole_layout import LayoutRules, angle_apart
from routing.specs.hole_rules import Hole
from routing.specs.inputs import FittingInputs, HardwareInputs, Role, SeamInputs, SeamKind
from routing.specs.layup import lay_up
from routing.specs.seam_lines import SeamLine, seam_lines, seam_runs
from tests.routing.specs.example_drums import hardware, plate

STRAINER = FittingInputs(
    "Strainer", "strainer", None, 1, ((0.0, -22.0, 5.5), (0.0, 22.0, 5.5)), 46.0, 80.0, height_mm=-57.0
)
BUTT = FittingInputs("Butt plate", "butt", None, 1, ((0.0, -16.0, 5.5), (0.0, 16.0, 5.5)), 40.0, 52.0, height_mm=-48.0)
BRACKET = FittingInputs(
    "Bracket", "bracket", None, 1, tuple((x, z, 6.6) for x in (-20.0, 20.0) for z in (-27.0, 27.0)), 60.0, 75.0
)
SEAMS = (SeamLine(1, 0.0), SeamLine(2, 180.0), SeamLine(3, 90.0))


def drilled(
    inputs: HardwareInputs | None = None,
    *,
    role: Role = Role.SNARE,
    diameter: float = 352.4,
    depth: float = 139.7,
    seams: Sequence[SeamLine] = SEAMS,
    wrap_pieces: int = 0,
    rules: LayoutRules | None = None,
) -> DrillingResult:
    return drilling(
        role=role,
        hardware=inputs or snare(8),
        outside_diameter_mm=diameter,
        depth_mm=depth,
        seams=seams,
        wrap_pieces=wrap_pieces,
        rules=rules,
    )


def snare(lugs: int, *more: FittingInputs) -> HardwareInputs:
    plain = hardware(lugs)
    return replace(plain, fittings=(STRAINER, BUTT, *plain.fittings, *more))


def fitting(kind: str, angle: float, *, height: float = 70.0, diameter: float = 5.0, name: str = "") -> FittingInputs:
    return FittingInputs(name or kind, kind, (angle,), 1, ((0.0, 0.0, diameter),), 2.0, 2.0, height_mm=height)


def codes(found: DrillingResult) -> set[str]:
    return {warning.code for warning in found.warnings}


def in_space(hole: Hole, diameter: float) -> tuple[float, float, float]:
    turn = math.radians(hole.angle_deg)
    return diameter / 2 * math.cos(turn), diameter / 2 * math.sin(turn), hole.height_mm


@given(st.integers(4, 16), st.floats(160, 660))
def test_neighbouring_lug_holes_are_a_chord_apart_in_space(lugs: int, diameter: float) -> None:
    plain = replace(hardware(lugs), fittings=())
    found = drilled(plain, role=Role.RACK_TOM, diameter=diameter, depth=300.0, seams=())
    row = [hole for hole in found.holes if hole.height_mm == found.holes[0].height_mm]
    assert len(row) == lugs
    for first, second in zip(row, [*row[1:], row[0]], strict=True):
        assert math.dist(in_space(first, diameter), in_space(second, diameter)) == pytest.approx(found.lug_chord_mm)
    assert found.lug_pitch_arc_mm * lugs == pytest.approx(math.pi * diameter)
    assert found.lug_chord_mm < found.lug_pitch_arc_mm


@given(st.sampled_from([6, 8, 10, 12]), st.floats(300, 420), st.lists(st.floats(0, 359), max_size=3))
def test_arc_angle_and_number_agree(lugs: int, diameter: float, angles: list[float]) -> None:
    found = drilled(snare(lugs), diameter=diameter, seams=[SeamLine(1, angle) for angle in angles])
    for hole in found.holes:
        assert 0 <= hole.angle_deg < 360
        assert hole.arc_mm == pytest.approx(hole.angle_deg / 360 * math.pi * diameter)
        assert 0 <= hole.arc_mm < found.circumference_mm
        assert hole.diameter_mm / 2 < hole.height_mm < 139.7 - hole.diameter_mm / 2
    assert [hole.number for hole in found.holes] == list(range(1, len(found.holes) + 1))
    assert [hole.arc_mm for hole in found.holes] == sorted(hole.arc_mm for hole in found.holes)
    assert len(found.holes) == 4 * lugs + 2 + 2 + 1
    assert found.angle_tolerance_deg * math.pi * diameter / 360 == pytest.approx(0.5)


@settings(max_examples=60)
@given(st.lists(st.floats(0, 359.9), min_size=1, max_size=4), st.sampled_from([6, 8, 10]))
def test_every_near_seam_is_named_and_no_far_one(angles: list[float], lugs: int) -> None:
    seams = [SeamLine(number, angle) for number, angle in enumerate(angles, start=1)]
    found = drilled(snare(lugs), seams=seams)
    per_degree = found.circumference_mm / 360
    near = {
        (hole.number, seam.plate)
        for hole in found.holes
        for seam in seams
        if angle_apart(hole.angle_deg, seam.angle_deg) * per_degree < 10 - 1e-3
    }
    named = [warning for warning in found.warnings if warning.code == "hole_near_seam"]
    assert len(named) >= len(near)
    for number, plate_number in near:
        assert any(f"Hole {number} (" in w.message and f"plate {plate_number} at" in w.message for w in named)
    if not named:
        assert found.nearest_seam_mm >= 10 - 1e-3


def test_the_frame_turns_no_further_than_it_must() -> None:
    found = drilled()
    assert found.nearest_seam_mm >= 10 and "hole_near_seam" not in codes(found)
    # The butt plate's holes lie on the middle of the gap: 10 mm clear of the outer seam is 3.25°, rounded up to 3.5°.
    assert found.turn_deg == 3.5
    assert drilled(seams=()).turn_deg == 0
    assert drilled(seams=[SeamLine(1, 11.0)]).turn_deg == 0  # between the gap's middle and the lug
    assert drilled(rules=LayoutRules(turn_step_deg=0.1)).turn_deg == pytest.approx(3.3)


def test_when_no_turn_clears_the_seams_the_best_is_taken() -> None:
    crowded = [SeamLine(n, n * 7.0) for n in range(52)]
    found = drilled(seams=crowded)
    assert "hole_near_seam" in codes(found)
    every = [
        min(
            angle_apart(hole.angle_deg - found.turn_deg + turn / 2, seam.angle_deg)
            for hole in found.holes
            for seam in crowded
        )
        for turn in range(-45, 46)
    ]
    assert found.nearest_seam_mm == pytest.approx(max(every) * found.circumference_mm / 360)


def test_a_long_scarf_keeps_holes_further_off() -> None:
    long = [SeamLine(1, 0.0, scarf_length_mm=36.0)]
    found = drilled(seams=long)
    assert found.nearest_seam_mm >= 18
    fixed = drilled(seams=long, rules=LayoutRules(turn_step_deg=90.0))
    (first, *_) = [warning for warning in fixed.warnings if warning.code == "hole_near_seam"]
    assert "keep 18 mm" in first.message


def test_a_slanted_seam_is_kept_clear_where_it_runs() -> None:
    slanted = [SeamLine(1, 0.0, slant_deg=20.0)]
    lone = replace(hardware(8), fittings=(fitting("badge", 0.0, height=20.0),))
    found = drilled(lone, seams=slanted, rules=LayoutRules(turn_step_deg=90.0))
    # 49.85 mm above mid-height the seam stands 49.85·tan 20° = 18.14 mm aside; square to it that is 17.05 mm.
    hole = next(hole for hole in found.holes if hole.kind == "badge")
    assert hole.arc_mm == 0
    assert found.nearest_seam_mm == pytest.approx(49.85 * math.sin(math.radians(20)), abs=1e-6)
    middle = replace(hardware(8), fittings=(fitting("badge", 0.0, height=139.7 / 2),))
    assert drilled(middle, seams=slanted, rules=LayoutRules(turn_step_deg=90.0)).nearest_seam_mm == pytest.approx(0)


def test_the_seams_come_from_the_lay_up() -> None:
    layup = lay_up(352.4, [plate(), plate(), plate()], SeamInputs(SeamKind.SCARF, scarf_slope=12), height_mm=154.7)
    assert [(seam.plate, seam.angle_deg) for seam in seam_lines(layup)] == [(1, 0.0), (2, 180.0), (3, 90.0)]
    assert [seam.scarf_length_mm for seam in seam_lines(layup)] == pytest.approx([21.6] * 3)


@pytest.mark.parametrize(("apart_mm", "close"), [(14.9, True), (15.1, False)])
@pytest.mark.parametrize("base", [20.0, 359.0])
def test_two_holes_keep_their_distance_round_the_shell_even_over_the_datum(
    apart_mm: float, close: bool, base: float
) -> None:
    per_degree = math.pi * 352.4 / 360
    second = base + apart_mm / per_degree
    inputs = replace(
        hardware(4), fittings=(fitting("badge", base, name="A"), fitting("vent", second, height=70.0, name="B"))
    )
    found = drilled(inputs, seams=())
    messages = [warning.message for warning in found.warnings if warning.code == "holes_close"]
    assert len(messages) == close
    if close:
        assert "(A 1)" in messages[0] and "(B 1)" in messages[0] and "14.9 mm apart; keep 15 mm" in messages[0]


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(0, 360), st.floats(25, 110), st.floats(3, 30)), min_size=2, max_size=6, unique=True)
)
def test_close_holes_are_exactly_those_that_a_plain_search_finds(places: list[tuple[float, float, float]]) -> None:
    fittings = tuple(
        fitting("badge", angle, height=height, diameter=size, name=f"F{n}")
        for n, (angle, height, size) in enumerate(places)
    )
    found = drilled(replace(hardware(4), fittings=fittings), seams=())
    expected = 0
    for first, second in combinations(found.holes, 2):
        if (first.feature, first.piece) == (second.feature, second.piece):
            continue
        around = abs(first.arc_mm - second.arc_mm)
        around = min(around, found.circumference_mm - around)
        least = max(15.0, 1.5 * (first.diameter_mm + second.diameter_mm))
        expected += math.hypot(around, first.height_mm - second.height_mm) < least - 1e-6
    assert sum(warning.code == "holes_close" for warning in found.warnings) == expected


@pytest.mark.parametrize(
    ("role", "kind", "rim", "warns"),
    [
        (Role.SNARE, "badge", 11.9, True),
        (Role.SNARE, "badge", 12.1, False),
        (Role.SNARE, "vent", 18.9, True),
        (Role.SNARE, "vent", 19.1, False),
        (Role.BASS, "badge", 12.1, False),
    ],
)
@pytest.mark.parametrize("from_batter", [True, False])
def test_holes_keep_their_distance_to_the_edges(
    role: Role, kind: str, rim: float, warns: bool, from_batter: bool
) -> None:
    height = rim + 2.5 if from_batter else 300 - rim - 2.5
    inputs = replace(hardware(8), lugs=replace(hardware(8).lugs, first_hole_from_edge_mm=60.0))
    found = drilled(replace(inputs, fittings=(fitting(kind, 0.0, height=height),)), role=role, depth=300.0)
    near = [warning for warning in found.warnings if warning.code == "hole_near_edge"]
    assert len(near) == warns
    if warns:
        assert f"{rim:.1f} mm from the {'batter' if from_batter else 'resonant'} edge" in near[0].message
        assert near[0].field == "hardware.fittings.0"


@pytest.mark.parametrize(("first", "warns"), [(27.0, True), (28.0, False)])
def test_lugs_of_a_bass_drum_stand_further_off(first: float, warns: bool) -> None:
    inputs = replace(hardware(8), fittings=(), lugs=replace(hardware(8).lugs, first_hole_from_edge_mm=first))
    assert ("hole_near_edge" in codes(drilled(inputs, role=Role.BASS, depth=400.0))) is warns
    assert "hole_near_edge" not in codes(drilled(inputs, role=Role.FLOOR_TOM, depth=400.0))


def test_hardware_that_collides_is_named_with_its_overlap() -> None:
    on_a_lug = replace(BRACKET, angles_deg=(22.5,), height_mm=60.0)
    found = drilled(replace(hardware(8), fittings=(on_a_lug,)), role=Role.RACK_TOM, depth=203.2)
    collisions = [warning.message for warning in found.warnings if warning.code == "hardware_collides"]
    # Bracket 22.5 to 97.5 mm down, lug 17.7 to 67.7 mm: 45.2 mm overlap along, 41 mm round.
    assert collisions[0] == "Bracket 1 and single lug 1 overlap by 41.0 mm."


def test_lugs_too_long_for_the_drum_meet() -> None:
    long = replace(hardware(8), fittings=(), lugs=replace(hardware(8).lugs, footprint_axial_mm=58.0))
    assert "hardware_collides" in codes(drilled(long, depth=139.7))
    assert "hardware_collides" not in codes(drilled(long, depth=150.0))


def test_a_wide_lug_row_collides_with_itself() -> None:
    wide = replace(hardware(16), fittings=(), lugs=replace(hardware(16).lugs, footprint_round_mm=45.0))
    assert "hardware_collides" in codes(drilled(wide, role=Role.RACK_TOM, diameter=200.0, depth=200.0))


def test_hardware_over_the_bearing_edge_is_named() -> None:
    low = replace(STRAINER, height_mm=-30.0)
    found = drilled(replace(hardware(8), fittings=(low, BUTT)))
    over = [warning for warning in found.warnings if warning.code == "hardware_over_edge"]
    assert [warning.message for warning in over] == ["Strainer 1 stands 10.0 mm over the bearing edge."]


@pytest.mark.parametrize("pieces", [1, 2])
def test_overlaps_of_a_wrap_lie_under_rows_of_lugs(pieces: int) -> None:
    found = drilled(wrap_pieces=pieces)
    lugs = [piece.angle_deg for piece in found.pieces if piece.kind == "lug"]
    assert len(found.wrap_seams_deg) == pieces and found.wrap_seam_deg == found.wrap_seams_deg[0]
    for seam in found.wrap_seams_deg:
        assert min(angle_apart(seam, lug) for lug in lugs) < 1e-9
    assert "wrap_seam_free" not in codes(found)
    assert {hole.tool for hole in found.holes} == {"step bit"}


def test_an_overlap_between_lugs_is_warned_of() -> None:
    found = drilled(replace(hardware(5), fittings=()), role=Role.RACK_TOM, wrap_pieces=2)
    (warning,) = [warning for warning in found.warnings if warning.code == "wrap_seam_free"]
    assert "Overlap 2" in warning.message and "111 mm" in warning.message
    assert drilled().wrap_seam_deg is None and drilled().wrap_seams_deg == ()


def test_large_holes_take_another_tool() -> None:
    tools = {
        size: drilled(replace(hardware(4), fittings=(fitting("mount", 0.0, diameter=size),))).holes
        for size in (12.7, 13.0, 28.0)
    }
    assert [next(hole.tool for hole in holes if hole.kind == "mount") for holes in tools.values()] == [
        "brad-point",
        "brad-point",
        "flat-bottom",
    ]


def test_seen_from_the_batter_side_holes_run_counter_clockwise() -> None:
    found = drilled(seams=())
    lugs = [piece for piece in found.pieces if piece.kind == "lug"][:2]
    # x to the right and y up in the head plane, seen from the batter side: counter-clockwise turns from x to y.
    first, second = ((math.cos(math.radians(p.angle_deg)), math.sin(math.radians(p.angle_deg))) for p in lugs)
    assert first[0] * second[1] - first[1] * second[0] > 0
    assert lugs[1].arc_mm > lugs[0].arc_mm


def test_holes_of_a_fitting_lie_round_and_down_from_its_middle() -> None:
    lopsided = FittingInputs("Plate", "mount", (90.0,), 1, ((12.0, 0.0, 5.0), (-7.0, 20.0, 6.0)), 30.0, 60.0)
    found = drilled(replace(hardware(8), fittings=(lopsided,)), seams=())
    plate_piece = next(piece for piece in found.pieces if piece.kind == "mount")
    first, second = sorted((hole for hole in found.holes if hole.kind == "mount"), key=lambda hole: hole.diameter_mm)
    assert first.arc_mm - plate_piece.arc_mm == pytest.approx(12.0) and first.height_mm == plate_piece.height_mm
    assert second.arc_mm - plate_piece.arc_mm == pytest.approx(-7.0)
    assert second.height_mm - plate_piece.height_mm == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("inputs", "code"),
    [
        (replace(hardware(8), fittings=(fitting("vent", 0.0, height=4.0, diameter=12.7),)), "hole_off_the_shell"),
        (replace(hardware(8), fittings=(fitting("vent", 0.0, diameter=0.0),)), "out_of_range"),
        (replace(hardware(8), fittings=(fitting("vent", 0.0, diameter=math.nan),)), "out_of_range"),
        (replace(hardware(8), hoop_holes=6), "hoop_holes"),
    ],
)
def test_an_impossible_hole_is_refused(inputs: HardwareInputs, code: str) -> None:
    with pytest.raises(SpecError) as refused:
        drilled(inputs)
    assert refused.value.code == code and refused.value.field.startswith("hardware")


def test_arc_and_chord_refuse_what_is_no_circle() -> None:
    for wrong in (lug_arc, lug_chord):
        with pytest.raises(SpecError):
            wrong(352.4, 0)
        with pytest.raises(SpecError):
            wrong(math.inf, 8)


def test_an_upright_seam_runs_from_edge_to_edge() -> None:
    assert seam_runs([SeamLine(1, 0.0), SeamLine(2, 90.0)], 1000, 140) == [(250, 0, 250, 140)]


def test_a_diagonal_seam_may_lean_either_way_and_goes_on_over_the_datum() -> None:
    # 45° over 140 mm: 70 mm to each side of the middle; at the datum half of it comes in at the other end.
    assert seam_runs([SeamLine(1, 90.0, slant_deg=45.0)], 1000, 140) == [(180, 0, 320, 140), (320, 0, 180, 140)]
    at_datum = seam_runs([SeamLine(1, 0.0, slant_deg=45.0)], 1000, 140)
    assert at_datum == [(0, 70, 70, 140), (70, 0, 0, 70), (930, 0, 1000, 70), (1000, 70, 930, 140)]


@given(st.floats(0, 360), st.floats(0, 45))
def test_seams_stay_on_the_map(angle: float, slant: float) -> None:
    for x0, y0, x1, y1 in seam_runs([SeamLine(1, angle, slant_deg=slant)], 900, 150):
        assert all(-1e-6 <= x <= 900 + 1e-6 for x in (x0, x1)) and all(-1e-6 <= y <= 150 + 1e-6 for y in (y0, y1))
