from __future__ import annotations

import pytest

from routing.specs.cutting import cut_sizes, pressed_height
from routing.specs.errors import SpecError
from routing.specs.inputs import Grain, SeamInputs, SeamKind
from routing.specs.layup import lay_up
from tests.routing.specs.example_drums import plate


def cut(plates, *, seam=None, depth=139.7, trim=7.5, rough=(30.0, 20.0), diameter=352.4):
    layup = lay_up(diameter, plates, seam or SeamInputs(SeamKind.BUTT), height_mm=pressed_height(depth, trim))
    return cut_sizes(
        layup=layup,
        plates=plates,
        depth_mm=depth,
        trim_each_end_mm=trim,
        rough_length_allowance_mm=rough[0],
        rough_width_allowance_mm=rough[1],
    )


def test_precise_and_rough_sizes() -> None:
    result = cut([plate(), plate(grain=Grain.AXIAL)])
    outer, inner = result.blanks
    assert result.pressed_height_mm == pytest.approx(154.7)
    assert outer.length_mm == pytest.approx(1101.4, abs=0.05)
    assert outer.rough_length_mm == pytest.approx(outer.length_mm + 30)
    assert outer.rough_height_mm == pytest.approx(174.7)
    assert (outer.rough_along_grain_mm, outer.rough_across_grain_mm) == (outer.rough_length_mm, outer.rough_height_mm)
    assert (inner.rough_along_grain_mm, inner.rough_across_grain_mm) == (inner.rough_height_mm, inner.rough_length_mm)


def test_a_slanted_seam_takes_a_longer_rough_blank() -> None:
    straight, slanted = cut([plate()]), cut([plate()], seam=SeamInputs(SeamKind.DIAGONAL))
    assert slanted.blanks[0].slant_mm > 40
    assert slanted.blanks[0].rough_length_mm == pytest.approx(
        straight.blanks[0].rough_length_mm + slanted.blanks[0].slant_mm
    )


def test_the_sheet_limits_the_rough_size_and_says_so() -> None:
    result = cut([plate(stock=(1110, 160))])
    blank = result.blanks[0]
    assert (blank.rough_length_mm, blank.rough_height_mm) == (1110, 160)
    assert [w.field for w in result.warnings] == ["plates.0.stock_length_mm", "plates.0.stock_width_mm"]


@pytest.mark.parametrize(
    ("plates", "options", "field"),
    [
        ([plate(stock=(2500, 150))], {}, "plates.0.stock_width_mm"),
        ([plate(grain=Grain.AXIAL, stock=(150, 1250))], {}, "plates.0.stock_length_mm"),
        ([plate(stock=(1105, 500))], {"seam": SeamInputs(SeamKind.DIAGONAL)}, "plates.0.stock_length_mm"),
        ([plate()], {"trim": -1.0}, "trim_each_end_mm"),
        ([plate()], {"rough": (float("nan"), 20.0)}, "rough_length_allowance_mm"),
        ([plate()], {"rough": (30.0, 500.0)}, "rough_width_allowance_mm"),
    ],
)
def test_impossible_blanks_are_refused(plates, options, field) -> None:
    with pytest.raises(SpecError) as refused:
        cut(plates, **options)
    assert refused.value.field == field
