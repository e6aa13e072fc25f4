"""The common hand: label places, text widths, hatch and dimension lines."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from routing.drawings.common import Drawing, hatch, in_lines, least_covered, overlap, spread, text_width
from tests.routing.drawings.reading import points_of, solids, strokes, words


@given(st.lists(st.floats(0, 100), max_size=30), st.floats(0.1, 20))
def test_spread_keeps_order_distance_and_bounds(wanted: list[float], apart: float) -> None:
    wanted.sort()
    places = spread(wanted, apart, 0, 100)
    assert len(places) == len(wanted)
    fits = (len(wanted) - 1) * apart <= 100
    for first, second in pairwise(places):
        assert second - first >= (apart if fits else 100 / (len(wanted) - 1)) - 1e-6
    assert all(-1e-6 <= place <= 100 + 1e-6 for place in places)


def test_spread_leaves_alone_what_has_room() -> None:
    assert spread([10, 30, 80], 15, 0, 100) == [10, 30, 80]
    assert spread([50, 50], 10, 0, 100) == [45, 55]


@pytest.mark.parametrize(
    "words_", ["Ottermill Drum Works", "1107.1", "plate 3, measured", "WIDE WALL mm", "Ø 12.7 × 3°"]
)
def test_text_width_is_that_of_the_font_on_this_machine(words_: str) -> None:
    font = ImageFont.truetype("DejaVuSansCondensed.ttf", 1000)
    assert text_width(words_, 10) == pytest.approx(font.getlength(words_) / 100, rel=0.02)
    bold = ImageFont.truetype("DejaVuSansCondensed-Bold.ttf", 1000)
    assert text_width(words_, 10, bold=True) == pytest.approx(bold.getlength(words_) / 100, rel=0.02)


@given(st.text(max_size=60), st.floats(30, 200))
def test_lines_hold_every_letter_and_fit(said: str, room: float) -> None:
    lines = in_lines(said, room, 7.5)
    assert "".join("".join(lines).split()) == "".join(said.split())
    assert all(text_width(line, 7.5) <= room for line in lines)


def test_lines_break_between_words_and_only_a_long_word_inside() -> None:
    assert in_lines("birch plate of six", 40, 7.5) == ["birch plate", "of six"]
    assert in_lines("short", 400, 7.5) == ["short"]
    assert len(in_lines("w" * 20, 40, 7.5)) > 2


def test_hatch_stays_inside_a_square_and_covers_it_evenly() -> None:
    lines = points_of(hatch([(0, 0), (20, 0), (20, 20), (0, 20)], apart=5))
    assert all(-0.01 <= value <= 20.01 for line in lines for point in line for value in point)
    length = sum(math.dist(a, b) for a, b in lines)
    assert length * 5 == pytest.approx(20 * 20, rel=0.1)


def test_the_least_covering_place_is_taken_and_the_first_of_equals() -> None:
    right, left = (10.0, 0.0, 20.0, 5.0), (-10.0, 0.0, 0.0, 5.0)
    frame = (-20.0, -20.0, 40.0, 40.0)
    assert least_covered([right, left], [], frame) == right
    assert least_covered([right, left], [(15.0, 0.0, 30.0, 30.0)], frame) == left
    assert least_covered([right, left], [], (-20.0, -20.0, 12.0, 40.0)) == left
    assert overlap((0, 0, 4, 4), (2, 1, 9, 3)) == 4


@pytest.mark.parametrize(("end", "turn"), [((100, 0), 0), ((0, -100), -90), ((0, 100), -90), ((-100, 0), 0)])
def test_a_dimension_reads_from_below_or_from_the_right(end: tuple[float, float], turn: float) -> None:
    drawing = Drawing()
    drawing.dimension(0, 0, *end, "352.4")
    svg = drawing.svg(200, 200, title="a", name="b")
    (word,) = words(svg)
    assert ("rotate(-90" in svg) == (turn == -90)
    # above the line as it is read: over it when level, on its left when upright
    assert word.box[3 if turn == 0 else 2] < 0
    tips = sorted(arrow[0] for arrow in solids(svg))
    assert tips == sorted([(0.0, 0.0), (float(end[0]), float(end[1]))])


def test_a_short_dimension_puts_arrows_and_words_outside() -> None:
    drawing = Drawing()
    drawing.dimension(50, 50, 54, 50, "4.0 mm")
    svg = drawing.svg(200, 200, title="a", name="b")
    (word,) = words(svg)
    assert word.box[0] > 54
    first, second = sorted(solids(svg))
    assert {first[0][0], second[0][0]} == {50.0, 54.0}
    assert min(x for x, _ in first) < 50 < 54 < max(x for x, _ in second)


def test_a_dimension_between_equal_points_is_not_drawn() -> None:
    drawing = Drawing()
    drawing.dimension(5, 5, 5, 5, "0")
    assert strokes(drawing.svg(9, 9, title="a", name="b"), 0.45) == []
