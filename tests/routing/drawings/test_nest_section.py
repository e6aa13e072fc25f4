"""The nest drawing shows the drums in their carton to scale, each inside the next with its hardware."""

from __future__ import annotations

from dataclasses import replace

import pytest

from routing.drawings.common import DASH, HEAVY, THIN
from routing.drawings.nest_section import LEFT, SECTION, TOP, nest_section_svg
from tests.routing.drawings.examples import NEST
from tests.routing.drawings.reading import NS, overlapping, root, solids, strokes, words

SIDE, HEIGHT = 706.0, 537.0


def test_walls_are_to_scale() -> None:
    svg = nest_section_svg(NEST, carton_side_mm=SIDE, carton_height_mm=HEIGHT)
    (carton,) = strokes(svg, HEAVY)
    scale = SECTION / SIDE
    assert (carton[1][0] - LEFT) / scale == pytest.approx(SIDE, abs=0.1)
    assert (carton[2][1] - TOP) / scale == pytest.approx(HEIGHT, abs=0.1)
    walls = [s for s in solids(svg) if len(s) == 5]
    assert len(walls) == 2 * len(NEST)
    middle = LEFT + SIDE * scale / 2
    for drum, pair in zip(NEST, zip(walls[::2], walls[1::2], strict=True), strict=True):
        left, right = (sorted({x for x, _ in wall}) for wall in pair)
        assert (middle - left[0]) / scale * 2 == pytest.approx(drum.outside_diameter_mm, abs=0.3)
        assert (right[0] - middle) / scale * 2 == pytest.approx(drum.inside_diameter_mm, abs=0.3)
        heights = [y for _, y in pair[0]]
        assert (max(heights) - min(heights)) / scale == pytest.approx(drum.depth_mm, abs=0.2)
        assert min(heights) >= TOP
        assert max(heights) <= TOP + HEIGHT * scale


def test_hardware_is_dashed_as_far_as_it_stands_out() -> None:
    svg = nest_section_svg(NEST, carton_side_mm=SIDE, carton_height_mm=HEIGHT)
    scale = SECTION / SIDE
    middle = LEFT + SIDE * scale / 2
    right = sorted((line[0][0] - middle) / scale for line in strokes(svg, THIN, DASH) if line[0][0] > middle)
    wanted = sorted(
        radius
        for drum in NEST
        for radius in (
            drum.outside_diameter_mm / 2 + drum.outside_projection_mm,
            drum.inside_diameter_mm / 2 - drum.inside_projection_mm,
        )
    )
    assert right == pytest.approx(wanted, abs=0.05)


def test_every_drum_is_named_with_its_size() -> None:
    found = words(nest_section_svg(NEST, carton_side_mm=SIDE, carton_height_mm=HEIGHT))
    said = [word.text for word in found]
    assert {"1  22×18 bass", "2  16×16 floor tom", "3  12×8 tom", "Ø 403.2 × 406.4", "carton inside 706"} <= set(said)
    assert overlapping(found) == []


def test_long_names_take_two_lines_and_a_serial_number_stays_whole() -> None:
    drums = [
        replace(NEST[0], name="22 × 18 in bass drum of oak with hoops OW2600035N"),
        replace(NEST[1], name="16 × 16 in floor tom OW2600036L"),
    ]
    svg = nest_section_svg(drums, carton_side_mm=SIDE, carton_height_mm=HEIGHT)
    found = words(svg)
    said = " ".join(word.text for word in found)
    assert "22 × 18 in bass drum of oak with hoops OW2600035N, Ø" in said
    assert "2  16 × 16 in floor tom OW2600036L, Ø" in said
    assert overlapping(found) == []


def test_a_name_that_is_longer_still_is_cut_and_said_whole() -> None:
    name = "22 × 18 in bass drum of oak with hoops, a mount and a very long description of all that OW2600035N"
    svg = nest_section_svg([replace(NEST[0], name=name)], carton_side_mm=SIDE, carton_height_mm=HEIGHT)
    assert any(word.text.endswith("…") for word in words(svg))
    assert name in [title.text for title in root(svg).iter(f"{NS}title")]


def test_an_empty_nest_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one drum"):
        nest_section_svg([], carton_side_mm=SIDE, carton_height_mm=HEIGHT)
