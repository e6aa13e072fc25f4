from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import SnareBedInputs
from routing.specs.snare_bed import STEEPEST_RAMP, SnareBedResult, snare_bed, straight_across

BED = SnareBedInputs(1.2, 50.0, 90.0)


def bed_of(bed: SnareBedInputs = BED, strainer: float = 180.0) -> SnareBedResult:
    return snare_bed(bed=bed, apex_diameter_mm=349.4, strainer_deg=strainer)


def test_width_as_angle_and_straight_across() -> None:
    found = bed_of()
    assert math.radians(found.overall_deg) * 349.4 / 2 == pytest.approx(90.0)
    assert found.overall_chord_mm == pytest.approx(349.4 * math.sin(math.radians(found.overall_deg / 2)))
    assert found.flat_chord_mm < 50 and found.overall_chord_mm < 90
    assert found.ramp_length_mm == 20 and found.ramp_slope == pytest.approx(0.06)


@given(st.floats(-720, 720))
def test_the_beds_stand_opposite_each_other(strainer: float) -> None:
    found = bed_of(strainer=strainer)
    assert 0 <= found.strainer_bed_deg <= 360 and 0 <= found.butt_bed_deg <= 360
    assert abs(found.strainer_bed_deg - found.butt_bed_deg) == pytest.approx(180)


@given(st.floats(100, 600), st.floats(0, 1))
def test_arc_and_chord_lead_back(diameter: float, share: float) -> None:
    arc = share * math.pi * diameter / 2
    chord = straight_across(arc, diameter)
    assert chord <= arc + 1e-9
    assert math.asin(min(chord / diameter, 1.0)) * diameter == pytest.approx(arc, abs=1e-4 * diameter)


def test_the_gentle_width_that_is_named_is_gentle() -> None:
    steep = bed_of(SnareBedInputs(1.6, 50.0, 70.0))
    (warning,) = steep.warnings
    assert warning.code == "steep_ramp" and "90 mm overall" in warning.message
    assert bed_of(SnareBedInputs(1.6, 50.0, 90.0)).warnings == ()
    assert bed_of(SnareBedInputs(1.6, 50.0, 89.0)).warnings != ()
    assert bed_of().ramp_slope <= STEEPEST_RAMP and bed_of().warnings == ()


@pytest.mark.parametrize(
    ("bed", "code"),
    [
        (SnareBedInputs(6.0, 50.0, 90.0), "out_of_range"),
        (SnareBedInputs(math.nan, 50.0, 90.0), "out_of_range"),
        (SnareBedInputs(1.2, 90.0, 90.0), "no_ramp"),
        (SnareBedInputs(1.2, 50.0, math.nan), "out_of_range"),
        (SnareBedInputs(1.2, 200.0, 400.0), "bed_too_wide"),
        (SnareBedInputs(1.2, 2.0, 90.0), "out_of_range"),
    ],
)
def test_an_impossible_bed_is_refused(bed: SnareBedInputs, code: str) -> None:
    with pytest.raises(SpecError) as refused:
        bed_of(bed)
    assert refused.value.code == code and refused.value.field.startswith("snare_bed.")
