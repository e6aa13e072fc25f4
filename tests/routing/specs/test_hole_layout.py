from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError, SpecWarning
from routing.specs.hole_layout import Placed, angle_apart, gap_nearest, place_all
from routing.specs.inputs import FittingInputs, HardwareInputs, LugKind, Role
from tests.routing.specs.example_drums import hardware

PAIR = ((0.0, -19.0, 5.5), (0.0, 19.0, 5.5))


def fitting(kind: str, pieces: int = 1, angles: tuple[float, ...] | None = None, **more: Any) -> FittingInputs:
    return FittingInputs(kind, kind, angles, pieces, PAIR, 30.0, 60.0, **more)


def placed(
    role: Role, lugs: int, *fittings: FittingInputs, depth: float = 300.0
) -> tuple[dict[str, list[Placed]], list[SpecWarning]]:
    pieces, warnings = place_all(role, replace(hardware(lugs), fittings=fittings), depth, 3.0)
    by_kind: dict[str, list[Placed]] = {}
    for piece in pieces:
        by_kind.setdefault(piece.kind, []).append(piece)
    return by_kind, warnings


def angles(pieces: list[Placed]) -> list[float]:
    return [piece.angle_deg for piece in pieces]


@given(st.integers(4, 16), st.floats(-720, 720))
def test_the_nearest_gap_is_the_nearest(lugs: int, angle: float) -> None:
    gaps = [k * 360 / lugs for k in range(lugs)]
    assert angle_apart(gap_nearest(angle, lugs), angle) == pytest.approx(min(angle_apart(g, angle) for g in gaps))


@given(st.sampled_from(list(Role)), st.integers(4, 16))
def test_a_gap_faces_back_and_lugs_stand_evenly(role: Role, lugs: int) -> None:
    by_kind, _ = placed(role, lugs)
    rows = sorted(set(angles(by_kind["lug"])))
    assert len(by_kind["lug"]) == 2 * lugs and len(rows) == lugs
    # No lug, and on a bass drum no claw, at 0°: half a pitch away on both sides.
    assert min(angle_apart(angle, 0) for angle in rows) == pytest.approx(180 / lugs)
    assert all(b - a == pytest.approx(360 / lugs) for a, b in pairwise(rows))


def test_single_ended_lugs_mirror_about_the_middle() -> None:
    by_kind, _ = placed(Role.RACK_TOM, 6, depth=203.2)
    heights = sorted({piece.height_mm for piece in by_kind["lug"]})
    assert heights[0] == pytest.approx(30.0 + 25.4 / 2) and sum(heights) == pytest.approx(203.2)


def test_double_ended_lugs_stand_in_the_middle() -> None:
    double = replace(hardware(8), lugs=replace(hardware(8).lugs, kind=LugKind.DOUBLE_ENDED, hole_spacing_mm=50.8))
    pieces, _ = place_all(Role.SNARE, double, 139.7, 3.0)
    lugs = [piece for piece in pieces if piece.kind == "lug"]
    assert len(lugs) == 8 and {piece.height_mm for piece in lugs} == {139.7 / 2}
    assert {hole[1] for hole in lugs[0].holes} == {-25.4, 25.4}


@pytest.mark.parametrize("lugs", [6, 8, 10, 12])
def test_strainer_and_butt_stand_opposite_in_gaps_of_even_lugs(lugs: int) -> None:
    by_kind, warnings = placed(Role.SNARE, lugs, fitting("strainer"), fitting("butt"))
    strainer, butt = by_kind["strainer"][0], by_kind["butt"][0]
    assert angle_apart(strainer.angle_deg, butt.angle_deg) == 180 and butt.angle_deg == 0
    for piece in (strainer, butt):
        assert min(angle_apart(piece.angle_deg, lug.angle_deg) for lug in by_kind["lug"]) == pytest.approx(180 / lugs)
    assert warnings == []


@pytest.mark.parametrize("lugs", [5, 7, 9])
def test_odd_lugs_bring_one_of_them_onto_a_lug(lugs: int) -> None:
    by_kind, warnings = placed(Role.SNARE, lugs, fitting("strainer"), fitting("butt"))
    assert [warning.code for warning in warnings] == ["odd_lugs"]
    assert min(angle_apart(by_kind["strainer"][0].angle_deg, lug.angle_deg) for lug in by_kind["lug"]) < 1e-9


def test_given_angles_are_held_against_the_axis_and_the_gaps() -> None:
    _, warnings = placed(Role.SNARE, 8, fitting("strainer", 1, (170.0,)), fitting("butt", 1, (0.0,)))
    assert [warning.code for warning in warnings] == ["not_opposite", "not_in_gap"]
    assert "10.0° (30.0 mm)" in warnings[0].message and "30.0 mm beside" in warnings[1].message
    assert warnings[0].field == "hardware.fittings.1.angles_deg"


@pytest.mark.parametrize(("lugs", "expected"), [(6, [0, 120, 240]), (12, [0, 120, 240]), (8, [0, 135, 225])])
def test_three_legs_stand_in_gaps(lugs: int, expected: list[float]) -> None:
    by_kind, warnings = placed(Role.FLOOR_TOM, lugs, fitting("leg", 3))
    assert angles(by_kind["leg"]) == pytest.approx(expected)
    assert [warning.code for warning in warnings] == ([] if lugs % 3 == 0 else ["legs_uneven"])
    if lugs == 8:
        assert "135°, 90°, 135°" in warnings[0].message


def test_legs_on_one_side_tip() -> None:
    _, warnings = placed(Role.FLOOR_TOM, 8, fitting("leg", 3, (0.0, 45.0, 90.0)))
    assert [warning.code for warning in warnings] == ["legs_tip"] and "270°" in warnings[0].message
    assert placed(Role.FLOOR_TOM, 8, fitting("leg", 3, (0.0, 135.0, 225.0)))[1] == []


@pytest.mark.parametrize("lugs", [6, 8, 10, 12])
def test_spurs_stand_alike_on_both_sides_of_the_bottom(lugs: int) -> None:
    by_kind, warnings = placed(Role.BASS, lugs, fitting("spur", 2))
    first, second = angles(by_kind["spur"])
    assert first == pytest.approx(360 - second) and 30 <= first <= 90 and warnings == []
    _, crooked = placed(Role.BASS, lugs, fitting("spur", 2, (60.0, 310.0)))
    assert [warning.code for warning in crooked] == ["spurs_uneven"]


def test_a_mount_on_top_of_a_bass_drum_needs_a_gap_there() -> None:
    by_kind, warnings = placed(Role.BASS, 8, fitting("mount"))
    assert angles(by_kind["mount"]) == [180] and warnings == []
    by_kind, warnings = placed(Role.BASS, 9, fitting("mount"))
    assert [warning.code for warning in warnings] == ["off_the_middle"]
    assert angle_apart(by_kind["mount"][0].angle_deg, 180) == pytest.approx(20)


@pytest.mark.parametrize(("lugs", "angle"), [(8, 90.0), (12, 90.0), (10, 108.0), (6, 120.0)])
def test_a_vent_of_a_snare_stands_a_quarter_turn_off_or_in_the_next_gap(lugs: int, angle: float) -> None:
    by_kind, _ = placed(Role.SNARE, lugs, fitting("vent"))
    assert angles(by_kind["vent"]) == pytest.approx([angle])


def test_more_pieces_than_gaps_share_one() -> None:
    _, warnings = placed(Role.RACK_TOM, 4, fitting("vent", 5))
    assert "pieces_share_gap" in {warning.code for warning in warnings}


def test_heights_count_from_either_edge() -> None:
    by_kind, _ = placed(
        Role.BASS,
        8,
        fitting("vent", height_fraction=0.25),
        fitting("badge", height_mm=40.0),
        fitting("spur", height_mm=-100.0),
    )
    assert by_kind["vent"][0].height_mm == 75 and by_kind["badge"][0].height_mm == 40
    assert by_kind["spur"][0].height_mm == 200


def given_hardware(**changes: object) -> HardwareInputs:
    return replace(hardware(8), **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("inputs", "code", "field"),
    [
        (given_hardware(hoop_holes=10), "hoop_holes", "hardware.hoop_holes"),
        (
            given_hardware(lugs=replace(hardware(8).lugs, per_head=3), hoop_holes=3),
            "lug_count",
            "hardware.lugs.per_head",
        ),
        (
            given_hardware(lugs=replace(hardware(8).lugs, first_hole_from_edge_mm=60.0)),
            "lugs_meet",
            "hardware.lugs.first_hole_from_edge_mm",
        ),
        (given_hardware(fittings=(fitting("leg", 3, (0.0, 90.0)),)), "angles_count", "hardware.fittings.0.angles_deg"),
        (
            given_hardware(fittings=(fitting("leg", 1, (float("nan"),)),)),
            "not_an_angle",
            "hardware.fittings.0.angles_deg",
        ),
        (given_hardware(fittings=(fitting("leg", height_mm=500.0),)), "off_the_shell", "hardware.fittings.0.height_mm"),
        (
            given_hardware(fittings=(fitting("vent"), fitting("leg", height_fraction=1.0))),
            "off_the_shell",
            "hardware.fittings.1.height_fraction",
        ),
    ],
)
def test_an_impossible_layout_is_refused(inputs: HardwareInputs, code: str, field: str) -> None:
    with pytest.raises(SpecError) as refused:
        place_all(Role.RACK_TOM, inputs, 139.7, 3.0)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.message
