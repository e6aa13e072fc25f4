"""The edge drawing is the profile to scale, with its angles and drops."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from routing.drawings.common import HEAVY
from routing.drawings.edge_profile import WIDTH, edge_profile_svg
from routing.specs.edges import edge_geometry
from routing.specs.inputs import EdgeInputs, EdgeShape
from tests.routing.drawings.examples import edge_drawing
from tests.routing.drawings.reading import overlapping, strokes, words

EDGES = {
    "double 45": EdgeInputs("double 45", EdgeShape.DOUBLE_45, 1.5, 45, 45),
    "single 45": EdgeInputs("single 45", EdgeShape.SINGLE_45, 0.0, 45),
    "round-over": EdgeInputs("round-over", EdgeShape.ROUND_OVER_45, 3.0, 45, None, 3.0),
    "shallow": EdgeInputs("shallow", EdgeShape.SHALLOW, 2.0, 30, 45),
    "full round": EdgeInputs("full round", EdgeShape.FULL_ROUND, 0.0),
    "snare side": EdgeInputs("snare side", EdgeShape.SNARE_SIDE, 1.0, 45, land_mm=0.3),
    "steep": EdgeInputs("steep", EdgeShape.DOUBLE_45, 2.5, 60, 30),
}


@pytest.mark.parametrize("wall", [5.4, 9.0, 12.0])
@pytest.mark.parametrize("name", EDGES)
def test_the_outline_is_the_profile_in_one_scale(name: str, wall: float) -> None:
    edge = edge_geometry(wall_mm=wall, outside_diameter_mm=352.4, edge=EDGES[name])
    svg = edge_profile_svg(edge_drawing(edge, wall))
    (outline,) = strokes(svg, HEAVY)
    scale = (outline[-1][0] - outline[0][0]) / wall
    left = outline[0][0]
    top = min(y for _, y in outline)
    drawn = [((x - left) / scale, (y - top) / scale) for x, y in outline[1:-1]]
    assert len(drawn) == len(edge.profile)
    for (x, z), (want_x, want_z) in zip(drawn, edge.profile, strict=True):
        assert x == pytest.approx(want_x, abs=0.005)
        assert z == pytest.approx(want_z, abs=0.005)
    if name != "full round":
        (x1, z1), (x2, z2) = drawn[-2:]
        assert math.degrees(math.atan2(z2 - z1, x2 - x1)) == pytest.approx(edge.inner_angle_deg, abs=0.1)


@pytest.mark.parametrize("wall", [5.4, 9.0, 12.0])
@pytest.mark.parametrize("name", EDGES)
def test_words_do_not_stand_on_each_other(name: str, wall: float) -> None:
    edge = edge_geometry(wall_mm=wall, outside_diameter_mm=352.4, edge=EDGES[name])
    svg = edge_profile_svg(edge_drawing(edge, wall, bed_depth_mm=1.2))
    assert overlapping(words(svg)) == []


def test_every_number_is_on_it() -> None:
    edge = edge_geometry(wall_mm=9.0, outside_diameter_mm=352.4, edge=EDGES["double 45"])
    said = {word.text for word in words(edge_profile_svg(edge_drawing(edge, 9.0)))}
    assert {"apex 1.5", "wall 9.0", "7.5", "1.5", "45°", "cutter leaves 0.4 flat; true it away"} <= said


def test_a_full_round_shows_its_radius_and_no_angle() -> None:
    edge = edge_geometry(wall_mm=9.0, outside_diameter_mm=352.4, edge=EDGES["full round"])
    said = {word.text for word in words(edge_profile_svg(edge_drawing(edge, 9.0)))}
    assert "R 4.5" in said
    assert not any("°" in text or "true it away" in text for text in said)


def test_a_snare_bed_is_dashed_at_its_depth() -> None:
    edge = edge_geometry(wall_mm=5.4, outside_diameter_mm=352.4, edge=EDGES["snare side"])
    svg = edge_profile_svg(edge_drawing(edge, 5.4, bed_depth_mm=1.2))
    (outline,) = strokes(svg, HEAVY)
    scale = (outline[-1][0] - outline[0][0]) / 5.4
    ((start, end),) = strokes(svg, 0.45, "4 2.2")
    assert start[1] == end[1] == pytest.approx(min(y for _, y in outline) + 1.2 * scale, abs=0.02)


LONG = "Double forty-five with a softened crown for thin shells of the oil line, as agreed for small toms"


def test_a_long_name_stands_whole_in_lines_of_its_own() -> None:
    edge = edge_geometry(wall_mm=9.0, outside_diameter_mm=352.4, edge=EDGES["double 45"])
    svg = edge_profile_svg(replace(edge_drawing(edge, 9.0), name=LONG))
    said = words(svg)
    lines = [word for word in said if word.text in LONG]
    assert " ".join(word.text for word in lines) == LONG and len(lines) == 3
    assert max(word.box[2] for word in lines) < WIDTH
    assert overlapping(said) == []


def test_nothing_to_draw_is_an_error() -> None:
    edge = edge_geometry(wall_mm=9.0, outside_diameter_mm=352.4, edge=EDGES["double 45"])
    with pytest.raises(ValueError, match="wall thickness"):
        edge_profile_svg(edge_drawing(edge, 0.0))
