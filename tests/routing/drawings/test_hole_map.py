"""Every hole is where the spec puts it, and can be told from every other."""

from __future__ import annotations

import pytest

from routing.drawings.common import FIRM, HEAVY, THIN
from routing.drawings.hole_map import LEAST_RADIUS, MapHole, MapPiece, hole_map_svg
from tests.routing.drawings.examples import DRUMS, hole_map, seam_arcs, sheet_of
from tests.routing.drawings.reading import Words, circles, strokes, words


def frame(svg: str) -> tuple[float, float, float, float]:
    (outline,) = strokes(svg, HEAVY)
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("drum", DRUMS)
def test_holes_are_to_scale_both_ways(drum: str) -> None:
    drilling = sheet_of(drum).drilling
    svg = hole_map(sheet_of(drum))
    left, top, right, bottom = frame(svg)
    scale = (right - left) / drilling.circumference_mm
    assert (bottom - top) / scale == pytest.approx(drilling.height_mm, abs=0.05)
    drawn = circles(svg, FIRM)
    assert len(drawn) == len(drilling.holes)
    for ((x, y), radius), hole in zip(drawn, drilling.holes, strict=True):
        assert (x - left) / scale == pytest.approx(hole.arc_mm, abs=0.05)
        assert (y - top) / scale == pytest.approx(hole.height_mm, abs=0.05)
        assert radius == pytest.approx(max(hole.diameter_mm * scale / 2, LEAST_RADIUS), abs=0.01)


@pytest.mark.parametrize("drum", DRUMS)
def test_a_number_stands_next_to_its_own_hole_and_on_none(drum: str) -> None:
    drilling = sheet_of(drum).drilling
    svg = hole_map(sheet_of(drum))
    numbers = [word for word in words(svg) if word.text.isdecimal()]
    left, top, right, bottom = frame(svg)
    inside = [w for w in numbers if left < w.box[0] and w.box[2] < right and top < w.box[1] and w.box[3] < bottom]
    assert [word.text for word in inside] == [str(hole.number) for hole in drilling.holes]
    drawn = circles(svg, FIRM)
    for word, (own, radius) in zip(inside, drawn, strict=True):
        assert gap(word, own) - radius < 8
        for middle, other in drawn:
            assert gap(word, middle) > other - 0.1, f"{word.text} stands on a hole"


def gap(word: Words, point: tuple[float, float]) -> float:
    x, y = point
    dx = max(word.box[0] - x, 0, x - word.box[2])
    dy = max(word.box[1] - y, 0, y - word.box[3])
    return float((dx * dx + dy * dy) ** 0.5)


@pytest.mark.parametrize("drum", DRUMS)
def test_ordinates_say_every_arc_angle_and_height(drum: str) -> None:
    drilling = sheet_of(drum).drilling
    said = [word.text for word in words(hole_map(sheet_of(drum)))]
    for hole in drilling.holes:
        assert any(text.split()[-1] == f"{round(hole.arc_mm, 1):.1f}" for text in said)
        assert f"{round(hole.height_mm, 1):.1f}" in said
        angle = f"{round(hole.arc_mm, 1) / drilling.circumference_mm * 360:.1f}"
        assert angle.removesuffix(".0") + "°" in said
    assert f"once round: {drilling.circumference_mm:.1f} mm" in said


def test_seams_are_marked_where_they_are() -> None:
    sheet = sheet_of("snare")
    svg = hole_map(sheet)
    left, _, right, _ = frame(svg)
    scale = (right - left) / sheet.drilling.circumference_mm
    drawn = [(line[0][0] - left) / scale for line in strokes(svg, FIRM, "7 2 1.2 2")]
    assert drawn == pytest.approx(sorted(seam_arcs(sheet))[1:], abs=0.05)  # the first is the datum: the map's own side
    assert {"seam", "seam 90°", "seam 180°"} <= {word.text for word in words(svg)}


def test_hardware_is_named_at_its_holes() -> None:
    said = [word.text for word in words(hole_map(sheet_of("snare")))]
    for name in ("strainer", "butt plate", "vent, badge"):
        assert any(text.startswith(name) for text in said), name


def test_a_footprint_over_the_datum_shows_at_both_ends() -> None:
    svg = hole_map_svg(
        circumference_mm=1000,
        height_mm=200,
        holes=[MapHole(1, 5, 100, 5)],
        pieces=[MapPiece("butt plate", "butt", 5, 100, 40, 60)],
        seam_arcs_mm=[],
    )
    left, _, right, _ = frame(svg)
    scale = (right - left) / 1000
    open_boxes = [line for line in strokes(svg, THIN) if len(line) == 4 and abs(line[1][1] - line[2][1]) > 20]
    reach = sorted(abs(line[1][0] - line[0][0]) / scale for line in open_boxes)
    assert reach == pytest.approx([15, 25], abs=0.1)


def test_diameters_are_listed_in_runs() -> None:
    holes = [MapHole(n, n * 50, 50, 5.0) for n in (1, 2, 3, 5)] + [MapHole(4, 200, 90, 12.7), MapHole(6, 300, 90, 5)]
    svg = hole_map_svg(circumference_mm=1000, height_mm=200, holes=holes, pieces=[], seam_arcs_mm=[])
    assert "Ø 5: holes 1–3, 5, 6; Ø 12.7: hole 4" in [word.text for word in words(svg)]


def test_a_shell_without_holes_is_drawn_and_one_without_size_is_an_error() -> None:
    assert circles(hole_map_svg(circumference_mm=900, height_mm=200, holes=[], pieces=[], seam_arcs_mm=[0]), FIRM) == []
    with pytest.raises(ValueError, match="circumference and a height"):
        hole_map_svg(circumference_mm=0, height_mm=200, holes=[], pieces=[], seam_arcs_mm=[])
