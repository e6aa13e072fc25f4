from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import Grain, RoomInputs
from routing.specs.moisture import (
    change_coefficient,
    density,
    dimensional_change,
    equilibrium_moisture,
    humidity_for_moisture,
    moisture,
    moisture_content,
)
from tests.routing.specs.example_drums import plate

temperatures = st.floats(0, 60)


@given(temperatures, st.floats(0, 100))
def test_moisture_is_a_sensible_number(temperature: float, humidity: float) -> None:
    value = equilibrium_moisture(temperature, humidity)
    assert math.isfinite(value)
    assert 0 <= value < 40


@given(temperatures, st.floats(0, 99), st.floats(0.01, 1))
def test_damper_air_is_wetter_wood(temperature: float, humidity: float, more: float) -> None:
    assert equilibrium_moisture(temperature, humidity + more) > equilibrium_moisture(temperature, humidity)


@given(temperatures, st.floats(0, 100))
def test_humidity_and_moisture_are_inverse(temperature: float, humidity: float) -> None:
    assert humidity_for_moisture(temperature, equilibrium_moisture(temperature, humidity)) == pytest.approx(
        humidity, abs=1e-6
    )


@given(st.floats(0, 3000), st.floats(0, 0.02), st.floats(0, 30), st.floats(0, 30))
def test_movement_there_and_back_is_none(size: float, coefficient: float, start: float, end: float) -> None:
    there = dimensional_change(size, coefficient, start, end)
    assert there == pytest.approx(-dimensional_change(size, coefficient, end, start))
    assert math.isfinite(there)


@given(st.floats(1, 500), st.floats(0, 50))
def test_moisture_content_from_weights(dry: float, percent: float) -> None:
    assert moisture_content(dry * percent / 100, dry) == pytest.approx(percent, abs=1e-6)


@given(st.floats(1, 19), st.floats(0.05, 1))
def test_wood_that_shrinks_more_moves_more(shrinkage: float, more: float) -> None:
    assert change_coefficient(shrinkage + more) > change_coefficient(shrinkage)


@given(st.floats(0.2, 1.2), st.floats(0, 29))
def test_wetter_wood_is_heavier(gravity: float, percent: float) -> None:
    assert density(gravity, percent + 1) > density(gravity, percent)


def report(plates=None, *, plate_pct=8.0, humidity=42.0, height=154.7):
    return moisture(
        plates=plates or [plate()] * 3,
        room=RoomInputs(20.0, humidity, plate_pct),
        pressed_height_mm=height,
        spread_g_per_m2=150,
        glue_solids_pct=62,
    )


@pytest.mark.parametrize(
    ("percent", "fit", "codes"),
    [
        (8.0, True, []),
        (4.9, False, ["too_dry"]),
        (10.1, False, ["too_wet"]),
        (5.5, True, ["moisture_off_target", "room_off_plate"]),
        (9.5, True, ["moisture_off_target"]),
    ],
)
def test_verdict_of_plates(percent: float, fit: bool, codes: list[str]) -> None:
    result = report(plate_pct=percent)
    assert result.fit_to_glue is fit
    assert [w.code for w in result.warnings] == codes
    assert f"{percent:.1f} %" in result.verdict


def test_a_damp_room_is_beyond_the_figures_for_movement() -> None:
    assert [w.code for w in report(humidity=85.0).warnings] == ["room_off_plate", "movement_uncertain"]


def test_water_from_the_glue_goes_half_to_each_side() -> None:
    outer, middle, inner = report().plates
    assert outer.water_from_glue_g_per_m2 == pytest.approx(28.5)
    assert middle.water_from_glue_g_per_m2 == pytest.approx(57.0)
    assert inner.glue_lines == 1
    # 57 g of water on 1.8 mm of birch: about 5 % (by hand: 57 / (1.8 · 620)).
    assert middle.rise_pct == pytest.approx(5.1, abs=0.05)


def test_a_single_plate_gets_no_water() -> None:
    assert report([plate()]).plates[0].rise_pct == 0


def test_a_shell_with_axial_faces_moves_less_in_height() -> None:
    around = report([plate(grain=Grain.AROUND)] * 3, humidity=60)
    axial = report([plate(grain=Grain.AXIAL)] * 3, humidity=60)
    assert 0 < axial.shell_height_move_mm < around.shell_height_move_mm


@pytest.mark.parametrize(
    "call",
    [
        lambda: equilibrium_moisture(-20, 50),
        lambda: equilibrium_moisture(20, 101),
        lambda: equilibrium_moisture(float("nan"), 50),
        lambda: humidity_for_moisture(20, 60),
        lambda: moisture_content(-1, 100),
        lambda: moisture_content(100, 0),
        lambda: moisture_content(float("inf"), 1),
        lambda: dimensional_change(100, 0.5, 8, 10),
        lambda: density(0, 8),
        lambda: change_coefficient(0),
        lambda: report(plate_pct=-1),
    ],
)
def test_nonsense_is_refused(call) -> None:
    with pytest.raises(SpecError):
        call()
