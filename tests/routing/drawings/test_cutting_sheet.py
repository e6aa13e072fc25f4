"""A cutting sheet shows each blank at its place and says its size."""

from __future__ import annotations

import pytest

from routing.drawings.common import DASH, FIRM, HEAVY, THIN
from routing.drawings.cutting_sheet import cutting_sheet_svg
from routing.specs.cutting_plan import PlacedBlank, SheetLayout, orders_for_shell, plan_release
from tests.routing.drawings.examples import DRUMS, LAYOUT, STOCK, sheet_of
from tests.routing.drawings.reading import overlapping, strokes, words


def test_blanks_lie_to_scale() -> None:
    svg = cutting_sheet_svg(STOCK, LAYOUT)
    (sheet,) = strokes(svg, HEAVY)
    (left, top), scale = sheet[0], (sheet[1][0] - sheet[0][0]) / STOCK.length_mm
    assert (sheet[2][1] - top) / scale == pytest.approx(STOCK.width_mm, abs=0.05)
    drawn = [line for line in strokes(svg, FIRM) if len(line) == 5]
    assert len(drawn) == len(LAYOUT.blanks)
    for line, blank in zip(drawn, LAYOUT.blanks, strict=True):
        assert ((line[0][0] - left) / scale, (line[0][1] - top) / scale) == pytest.approx(
            (blank.x_mm, blank.y_mm), abs=0.1
        )
        assert (line[1][0] - line[0][0]) / scale == pytest.approx(blank.along_grain_mm, abs=0.1)
        assert (line[2][1] - line[1][1]) / scale == pytest.approx(blank.across_grain_mm, abs=0.1)


def test_small_blanks_get_a_number_that_the_list_explains() -> None:
    said = [word.text for word in words(cutting_sheet_svg(STOCK, LAYOUT))]
    assert {"K-1 plate 1", "1800 × 490", "300 × 700", "grain", "1: K-2 hoop, 40 × 60", "1"} <= set(said)


def test_offcuts_are_dashed_and_marked_to_keep() -> None:
    svg = cutting_sheet_svg(STOCK, LAYOUT)
    assert len(strokes(svg, THIN, DASH)) == 1
    assert "keep" in [word.text for word in words(svg)]


@pytest.mark.parametrize("drum", DRUMS)
def test_plans_of_real_drums_say_everything_without_overlap(drum: str) -> None:
    plates, sheet = DRUMS[drum].plates, sheet_of(drum)
    orders = orders_for_shell("K-1001-1", plates, sheet.cutting) * 3
    for plan in plan_release(orders):
        for layout in plan.sheets:
            svg = cutting_sheet_svg(plan.stock, layout)
            found = words(svg)
            assert overlapping(found) == []
            text = " ".join(word.text for word in found)
            for blank in layout.blanks:
                assert blank.label in text
                assert f"{blank.along_grain_mm:.1f}".removesuffix(".0") in text


def test_very_narrow_strips_keep_their_number_inside() -> None:
    layout = SheetLayout(1, (PlacedBlank("ring", 0.0, 0.0, 900.0, 25.0),), (), 2.0)
    svg = cutting_sheet_svg(STOCK, layout)
    (blank,) = (line for line in strokes(svg, FIRM) if len(line) == 5)
    (word,) = (word for word in words(svg) if word.text in ("1", "ring, 900 × 25"))
    assert blank[0][1] - 0.6 <= word.box[1]
    assert word.box[3] <= blank[2][1] + 0.6
