from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from routing.specs.edges import EdgeResult, apex_shift, edge_geometry, height_lost, height_lost_to_round
from routing.specs.errors import SpecError
from routing.specs.inputs import EdgeInputs, EdgeShape

DOUBLE = EdgeInputs("double", EdgeShape.DOUBLE_45, 1.5, 45.0, 45.0, land_mm=0.4)
SINGLE = EdgeInputs("single", EdgeShape.SINGLE_45, 0.3, 45.0, land_mm=0.4)
ROUND_OVER = EdgeInputs("round", EdgeShape.ROUND_OVER_45, 3.0, 45.0, round_over_radius_mm=3.0, land_mm=0.4)
SHALLOW = EdgeInputs("shallow", EdgeShape.SHALLOW, 2.0, 30.0, 45.0, land_mm=0.4)
FULL = EdgeInputs("full", EdgeShape.FULL_ROUND, 0.0)
SNARE_SIDE = EdgeInputs("snare", EdgeShape.SNARE_SIDE, 1.2, 45.0, 45.0, land_mm=0.3)
ALL = [DOUBLE, SINGLE, ROUND_OVER, SHALLOW, FULL, SNARE_SIDE]

Depth = Callable[[float], float]  # how deep below the sawn end the wood is cut away, by distance from the outside


def edge_of(edge: EdgeInputs, wall: float = 6.0) -> EdgeResult:
    return edge_geometry(wall_mm=wall, outside_diameter_mm=352.4, edge=edge)


def straight_from_inside(wall: float, height: float, angle_deg: float) -> Depth:
    slope = math.tan(math.radians(angle_deg))
    return lambda x: max(0.0, height - (wall - x) * slope)


def straight_from_outside(height: float, angle_deg: float) -> Depth:
    slope = math.tan(math.radians(angle_deg))
    return lambda x: max(0.0, height - x * slope)


def rounded_from_outside(height: float, radius: float) -> Depth:
    """A round-over cutter whose arc ends at ``height``; the arc's middle lies ``radius`` inside the face."""
    return lambda x: max(0.0, height - math.sqrt(max(0.0, radius**2 - (radius - x) ** 2))) if x < radius else 0.0


def cut(wall: float, *cuts: Depth) -> tuple[float, float]:
    """Flat that is left and height that is lost, by looking at 8 001 places across the wall."""
    places = [wall * n / 8_000 for n in range(8_001)]
    depths = [max(one(x) for one in cuts) for x in places]
    return sum(depth < 1e-9 for depth in depths) * wall / 8_000, min(depths)


@pytest.mark.parametrize("edge", [DOUBLE, SHALLOW, SNARE_SIDE, SINGLE], ids=lambda e: e.name)
@pytest.mark.parametrize("error", [0.0, -0.1, 0.1, 0.5])
def test_land_and_loss_are_what_a_cutter_leaves(edge: EdgeInputs, error: float) -> None:
    wall = 6.0
    found = edge_of(edge, wall)
    inside = straight_from_inside(wall, found.spindle_height_mm + error, edge.inner_angle_deg)
    cuts = [inside]
    if edge.outer_angle_deg:
        cuts.append(straight_from_outside(found.outer_spindle_height_mm, edge.outer_angle_deg))
    land, loss = cut(wall, *cuts)
    over = max(0.0, apex_shift(error, edge.inner_angle_deg) - found.land_mm)
    assert land == pytest.approx(max(0.0, found.land_mm - apex_shift(error, edge.inner_angle_deg)), abs=0.002)
    assert loss == pytest.approx(height_lost(over, edge.inner_angle_deg, edge.outer_angle_deg), abs=0.002)
    if error == -0.1:
        assert land == pytest.approx(found.low_by_tenth_land_mm, abs=0.002)
    if error == 0.1:
        assert land == pytest.approx(found.high_by_tenth_land_mm, abs=0.002)


@pytest.mark.parametrize("offset", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("error", [0.0, 0.3, 0.8])
def test_land_and_loss_of_a_round_over_are_what_cutters_leave(offset: float, error: float) -> None:
    wall = 7.0
    found = edge_of(replace(ROUND_OVER, apex_offset_mm=offset), wall)
    land, loss = cut(
        wall,
        straight_from_inside(wall, found.spindle_height_mm + error, 45.0),
        rounded_from_outside(found.outer_spindle_height_mm, 3.0),
    )
    over = max(0.0, error - found.land_mm)
    assert land == pytest.approx(max(0.0, found.land_mm - error), abs=0.002)
    assert loss == pytest.approx(height_lost_to_round(over, 45.0, 3.0, offset), abs=0.002)
    assert found.outer_drop_mm == pytest.approx(found.outer_spindle_height_mm)


@pytest.mark.parametrize("radius", [2.0, 3.0, 3.4])
@pytest.mark.parametrize("low", [0.0, 0.1])
def test_land_of_a_full_round_is_what_cutters_leave(radius: float, low: float) -> None:
    wall = 6.0
    found = edge_of(replace(FULL, round_over_radius_mm=radius), wall)
    outside = rounded_from_outside(found.spindle_height_mm - low, radius)
    land, loss = cut(wall, outside, lambda x: outside(wall - x))
    assert land == pytest.approx(found.low_by_tenth_land_mm if low else found.land_mm, abs=0.002)
    assert loss == pytest.approx(0.0, abs=1e-6)


def test_a_full_round_a_tenth_low_leaves_far_more_than_a_tenth() -> None:
    assert edge_of(FULL).low_by_tenth_land_mm == pytest.approx(2 * math.sqrt(2 * 3 * 0.1 - 0.01))


@pytest.mark.parametrize("edge", ALL, ids=lambda e: e.name)
@pytest.mark.parametrize("wall", [4.5, 6.0, 9.0])
def test_the_profile_runs_from_face_to_apex_to_face(edge: EdgeInputs, wall: float) -> None:
    found = edge_of(edge, wall)
    xs, zs = zip(*found.profile, strict=True)
    assert xs[0] == 0 and xs[-1] == pytest.approx(wall)
    assert zs[0] == pytest.approx(found.outer_drop_mm) and zs[-1] == pytest.approx(found.inner_drop_mm)
    assert all(a <= b + 1e-12 for a, b in pairwise(xs))
    assert min(zs) == pytest.approx(0.0, abs=1e-9)
    top = [x for x, z in found.profile if z < 1e-9]
    assert min(top) - 1e-9 <= found.apex_offset_mm <= max(top) + 1e-9
    assert found.apex_diameter_mm == pytest.approx(352.4 - 2 * found.apex_offset_mm)


def test_the_angle_is_measured_from_the_head_plane() -> None:
    shallow = edge_of(replace(DOUBLE, inner_angle_deg=30.0))
    steep = edge_of(replace(DOUBLE, inner_angle_deg=60.0))
    assert shallow.inner_drop_mm == pytest.approx(4.5 / math.sqrt(3))
    assert steep.inner_drop_mm == pytest.approx(4.5 * math.sqrt(3))


@given(st.floats(3, 20), st.floats(0.5, 2.0), st.floats(15, 75), st.floats(15, 75), st.floats(0, 0.8))
def test_a_cut_edge_stays_within_its_wall(wall: float, offset: float, inner: float, outer: float, land: float) -> None:
    assume(offset + land < wall)
    found = edge_of(EdgeInputs("any", EdgeShape.DOUBLE_45, offset, inner, outer, land_mm=land), wall)
    assert 0 < found.spindle_height_mm <= found.inner_drop_mm
    assert 0 <= found.outer_spindle_height_mm <= found.outer_drop_mm
    assert found.land_mm == pytest.approx(land)
    assert found.high_by_tenth_land_mm <= found.land_mm <= found.low_by_tenth_land_mm
    assert (found.high_by_tenth_height_loss_mm > 0) == (
        found.high_by_tenth_land_mm == 0 and land < 0.1 / math.tan(math.radians(inner))
    )


@settings(max_examples=300)
@given(st.floats(1, 12), st.floats(0, 1), st.floats(0, 5), st.floats(10, 80))
def test_no_over_cut_takes_more_than_its_slope(radius: float, share: float, over: float, angle: float) -> None:
    lost = height_lost_to_round(over, angle, radius, share * radius)
    assert -1e-9 <= lost <= over * math.tan(math.radians(angle)) + 1e-6
    assert height_lost_to_round(over + 0.1, angle, radius, share * radius) >= lost - 1e-9


@settings(max_examples=25, deadline=None)
@given(st.floats(1, 6), st.floats(0.1, 1), st.floats(0, 4), st.floats(15, 75))
def test_height_lost_to_a_round_is_what_cutters_take(radius: float, share: float, over: float, angle: float) -> None:
    wall, offset = 8.0, share * radius
    slope = math.tan(math.radians(angle))
    outer_height = math.sqrt(radius**2 - (radius - offset) ** 2)
    inside = straight_from_inside(wall, (wall - offset + over) * slope, angle)
    _, loss = cut(wall, inside, rounded_from_outside(outer_height, radius))
    assert height_lost_to_round(over, angle, radius, offset) == pytest.approx(loss, abs=0.005)


def test_more_over_cut_costs_more_height() -> None:
    assert height_lost(0, 45, 45) == 0
    assert height_lost(0.2, 45, 45) < height_lost(0.4, 45, 45) < height_lost(0.4, 45, None)


@pytest.mark.parametrize(
    ("edge", "code"),
    [
        (replace(SNARE_SIDE, outer_angle_deg=None), "flat_top"),
        (replace(ROUND_OVER, apex_offset_mm=4.5), "flat_top"),
        (SINGLE, "sharp_outer_corner"),
        (replace(DOUBLE, inner_angle_deg=75.0), "deep_cut"),
        (replace(FULL, round_over_radius_mm=2.4), "round_not_half_the_wall"),
        (replace(FULL, round_over_radius_mm=3.5), "round_not_half_the_wall"),
    ],
)
def test_a_doubtful_edge_is_warned_of(edge: EdgeInputs, code: str) -> None:
    assert code in {warning.code for warning in edge_of(edge).warnings}


@pytest.mark.parametrize("edge", [DOUBLE, ROUND_OVER, SHALLOW, FULL, SNARE_SIDE], ids=lambda e: e.name)
def test_the_usual_edges_pass_without_warning(edge: EdgeInputs) -> None:
    assert edge_of(edge).warnings == ()


def test_the_worker_is_told_both_ways() -> None:
    assert "softer" in edge_of(DOUBLE).advice and "leaves 0.30 mm, a sharper edge" in edge_of(DOUBLE).advice
    assert "cuts over and takes 0.05 mm" in edge_of(replace(DOUBLE, land_mm=0.0)).advice


@pytest.mark.parametrize(
    ("edge", "code", "field"),
    [
        (replace(DOUBLE, apex_offset_mm=6.5), "apex_outside_wall", "batter_edge.apex_offset_mm"),
        (replace(DOUBLE, apex_offset_mm=-0.1), "apex_outside_wall", "batter_edge.apex_offset_mm"),
        (replace(DOUBLE, apex_offset_mm=5.9), "apex_outside_wall", "batter_edge.apex_offset_mm"),
        (replace(DOUBLE, outer_angle_deg=None), "no_outer_angle", "batter_edge.outer_angle_deg"),
        (replace(ROUND_OVER, round_over_radius_mm=None), "no_radius", "batter_edge.round_over_radius_mm"),
        (replace(ROUND_OVER, round_over_radius_mm=7.0), "round_too_large", "batter_edge.round_over_radius_mm"),
        (replace(DOUBLE, inner_angle_deg=85.0), "out_of_range", "batter_edge.inner_angle_deg"),
        (replace(DOUBLE, land_mm=math.nan), "out_of_range", "batter_edge.land_mm"),
        (replace(DOUBLE, apex_offset_mm=math.nan), "apex_outside_wall", "batter_edge.apex_offset_mm"),
    ],
)
def test_an_impossible_edge_is_refused(edge: EdgeInputs, code: str, field: str) -> None:
    with pytest.raises(SpecError) as refused:
        edge_geometry(wall_mm=6.0, outside_diameter_mm=352.4, edge=edge, field="batter_edge")
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.message
