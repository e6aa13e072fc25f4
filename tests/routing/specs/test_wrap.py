from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import WrapInputs
from routing.specs.wrap import WrapResult, wrap

SHEET = WrapInputs("pearl", 0.5, 20.0, 6.0, 1372.0, 610.0, 22.0, 25.0)


def covered(
    sheet: WrapInputs = SHEET, *, wood: float = 300.6, depth: float = 203.2, nominal: float = 304.8
) -> WrapResult:
    return wrap(wrap=sheet, wood_diameter_mm=wood, depth_mm=depth, nominal_diameter_mm=nominal)


def test_one_piece() -> None:
    found = covered()
    assert found.pieces == 1
    assert found.blank_length_mm == pytest.approx(math.pi * 300.6 + 20)
    assert found.blank_height_mm == pytest.approx(203.2 - 12)
    assert found.diameter_over_wrap_mm == pytest.approx(301.6) and found.head_play_mm == pytest.approx(3.2)
    assert found.diameter_at_overlap_mm == pytest.approx(302.1)
    assert found.head_fits and found.warnings == ()


@given(st.floats(150, 660), st.floats(300, 3000), st.floats(5, 40))
def test_pieces_cover_the_shell_and_come_from_the_sheet(wood: float, sheet_length: float, overlap: float) -> None:
    sheet = replace(SHEET, sheet_length_mm=sheet_length, overlap_mm=overlap)
    if math.pi * wood / 4 + overlap > sheet_length:
        with pytest.raises(SpecError, match="too short even for four"):
            covered(sheet, wood=wood, nominal=wood + 4)
        return
    found = covered(sheet, wood=wood, nominal=wood + 4)
    assert found.piece_length_mm <= sheet_length
    assert found.pieces * (found.piece_length_mm - overlap) == pytest.approx(math.pi * wood)
    assert found.blank_length_mm == pytest.approx(found.pieces * found.piece_length_mm)
    if found.pieces > 1:
        assert math.pi * wood / (found.pieces - 1) + overlap > sheet_length


def test_glue_goes_on_both_surfaces() -> None:
    found = covered()
    on_wrap = found.blank_length_mm * found.blank_height_mm / 1e6 * 22
    on_shell = (found.blank_length_mm - 20) * found.blank_height_mm / 1e6 * 22
    assert found.adhesive_dry_g == pytest.approx(on_wrap + on_shell)
    assert found.adhesive_wet_g == pytest.approx(4 * found.adhesive_dry_g)


@pytest.mark.parametrize(("wood", "fits"), [(302.5, False), (301.6, True), (301.71, False), (301.69, True)])
def test_a_head_must_pass_the_overlap(wood: float, fits: bool) -> None:
    found = covered(wood=wood)
    assert found.head_fits is fits
    assert {warning.code for warning in found.warnings} == (set() if fits else {"head_tight_at_overlap"})


@pytest.mark.parametrize(
    ("sheet", "code", "field"),
    [
        (replace(SHEET, shy_mm=29.0, sheet_width_mm=100.0), "sheet_too_narrow", "sheet_width_mm"),
        (replace(SHEET, sheet_length_mm=200.0), "sheet_too_short", "sheet_length_mm"),
        (replace(SHEET, thickness_mm=math.nan), "out_of_range", "thickness_mm"),
        (replace(SHEET, overlap_mm=-1.0), "out_of_range", "overlap_mm"),
        (replace(SHEET, adhesive_solids_pct=0.0), "out_of_range", "adhesive_solids_pct"),
        (replace(SHEET, adhesive_dry_g_per_m2=0.0), "out_of_range", "adhesive_dry_g_per_m2"),
    ],
)
def test_an_impossible_wrap_is_refused(sheet: WrapInputs, code: str, field: str) -> None:
    with pytest.raises(SpecError) as refused:
        covered(sheet)
    assert (refused.value.code, refused.value.field) == (code, f"finish.wrap.{field}")


def test_a_shell_that_vanishes_under_its_free_edges_is_refused() -> None:
    with pytest.raises(SpecError, match="leave nothing"):
        covered(replace(SHEET, shy_mm=30.0), depth=60.0)
