"""The lay-up drawing shows the plates' true proportions and the seams at their angles."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from routing.drawings.common import FIRM, HEAVY
from routing.drawings.plate_stack import CENTRE_X, INNER, LEFT, OUTER, RIGHT, StackPlate, plate_stack_svg
from tests.routing.drawings.examples import sheet_of, stack_plates
from tests.routing.drawings.reading import circles, overlapping, root, solids, strokes, words

UNEQUAL = [
    StackPlate("maple face", 0.6, 1, "around", (0.0,)),
    StackPlate("core", 1.8, 3, "axial", (180.0,)),
    StackPlate("core", 2.4, 3, "around", (90.0,), 1078.8),
]


def test_plates_are_to_scale_across_the_wall() -> None:
    svg = plate_stack_svg(UNEQUAL)
    top, bottom = (line[0][1] for line in strokes(svg, HEAVY)[:2])
    edges = sorted({line[0][1] for line in strokes(svg, FIRM)} | {bottom})
    thicknesses = [below - above for above, below in pairwise(edges)]
    assert edges[0] == top
    assert [t / (bottom - top) * 4.8 for t in thicknesses] == pytest.approx([0.6, 1.8, 2.4], abs=0.001)


def test_every_number_is_on_it() -> None:
    said = {word.text for word in words(plate_stack_svg(UNEQUAL))}
    assert {"0.60", "1.80", "2.40", "wall 4.80 mm, 7 veneers", "3 veneers, around, L 1078.8"} <= said


def test_seams_lie_at_their_angles_counter_clockwise_from_below() -> None:
    svg = plate_stack_svg(UNEQUAL)
    centre_y = circles(svg, HEAVY)[0][0][1]
    step = (OUTER - INNER) / 3
    for number, (line, angle) in enumerate(zip(strokes(svg, 3.0), (0, 180, 90), strict=True)):
        near, far = ((math.hypot(x - CENTRE_X, y - centre_y)) for x, y in line)
        assert (far, near) == pytest.approx((OUTER - number * step, OUTER - (number + 1) * step), abs=0.02)
        for x, y in line:
            # 0° below, 90° on the right: counter-clockwise as one looks at it
            assert math.degrees(math.atan2(x - CENTRE_X, y - centre_y)) % 360 == pytest.approx(angle, abs=0.1)


def test_grain_around_is_lines_and_axial_grain_is_dots() -> None:
    around = plate_stack_svg([StackPlate("a", 1, 1, "around", ())])
    axial = plate_stack_svg([StackPlate("a", 1, 1, "axial", ())])
    dots = [s for s in solids(axial) if min(x for x, _ in s) > LEFT and len(s) == 5]
    assert len(dots) > 50
    assert len(strokes(around, 0.3)) > 10
    assert strokes(axial, 0.3) == []


def test_a_plate_of_three_veneers_alternates() -> None:
    svg = plate_stack_svg([StackPlate("a", 3, 3, "around", ())])
    lines = {round(line[0][1], 1) for line in strokes(svg, 0.3)}
    dots = {round(s[0][1], 1) for s in solids(svg) if min(x for x, _ in s) > LEFT and len(s) == 5}
    assert min(lines) < min(dots)
    assert max(dots) < max(lines)
    assert not any(min(dots) < y < max(dots) for y in lines)


@pytest.mark.parametrize("count", [1, 2, 6, 8])
def test_many_plates_keep_their_words_apart(count: int) -> None:
    svg = plate_stack_svg([StackPlate("birch leaf", 0.6, 1, "around", (n * 45.0,), 1000.0) for n in range(count)])
    assert overlapping(words(svg)) == []


LONG = "Birch 3.0, three-veneer, cross-grain"


@pytest.mark.parametrize("count", [1, 3, 8])
def test_a_long_name_is_said_in_whole_words_and_clear_of_all_else(count: int) -> None:
    seams = [(45.0,), (270.0,), (315.0,)]
    svg = plate_stack_svg([StackPlate(LONG, 3, 3, "axial", seams[n % 3], 1133.7) for n in range(count)])
    said = words(svg)
    assert overlapping(said) == []
    names = [word for word in said if word.text == "cross-grain" or "Birch" in word.text]
    assert len(names) == 2 * count
    assert all(word.box[2] < CENTRE_X - OUTER for word in names)


@pytest.mark.parametrize(
    "name", ["core " * 12, "W" * 60, "Œ" * 60, "Ж" * 60, "Maple-and-" * 6, "a " + "W" * 58, "漢" * 60]
)
@pytest.mark.parametrize("count", [1, 3, 8])
def test_a_name_has_as_many_lines_as_it_needs_and_runs_into_nothing(name: str, count: int) -> None:
    svg = plate_stack_svg([StackPlate(name, 3, 3, "axial", (45.0,), 1133.7) for _ in range(count)])
    said = words(svg)
    assert overlapping(said) == []
    names = [
        word for word in said if word.box[0] == RIGHT + 12 and "axial" not in word.text and "wall" not in word.text
    ]
    assert all(word.box[2] < CENTRE_X - OUTER for word in names)
    every = "".join(word.text for word in names).replace(" ", "")
    assert every == "".join(f"{number}{name}" for number in range(1, count + 1)).replace(" ", "")


def test_a_mark_stays_on_its_letter() -> None:
    svg = plate_stack_svg([StackPlate("W\u0301" * 30, 3, 3, "axial", ())])
    lines = [word.text for word in words(svg) if "\u0301" in word.text]
    assert len(lines) > 1 and not any(line.startswith("\u0301") for line in lines)


def test_the_lay_up_of_a_real_drum() -> None:
    sheet = sheet_of("snare")
    svg = plate_stack_svg(stack_plates(sheet))
    assert f"wall {sheet.layup.wall_mm:.2f} mm" in (root(svg)[0].text or "")


def test_nothing_to_draw_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one plate"):
        plate_stack_svg([])
