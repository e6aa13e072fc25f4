from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import SeamInputs, SeamKind
from routing.specs.layup import lay_up
from routing.specs.pressing import furthest_glue_line, gauge_pressure, parting_force, pressing
from tests.routing.specs.example_drums import PRESS, plate

LAYUP = lay_up(352.4, [plate()] * 3, SeamInputs(SeamKind.BUTT))


def press_shell(**changes):
    return pressing(layup=LAYUP, height_mm=154.7, press=replace(PRESS, **changes))


def test_a_snare_in_the_mould() -> None:
    result = press_shell()
    assert result.pressure_bar == pytest.approx(4)
    assert result.parting_force_n == pytest.approx(0.4 * 352.4 * 154.7)
    assert result.wall_area_m2 == pytest.approx(math.pi * 341.6 * 154.7 / 1e6)
    assert result.furthest_line_mm == pytest.approx(3.6)
    assert result.time_min == pytest.approx(4 + 3.6)
    assert result.relief_bar == pytest.approx(4.4)
    assert result.rest_h == 48
    assert result.warnings == ()


@given(st.floats(0.01, 2), st.floats(100, 700), st.floats(50, 600), st.integers(1, 8), st.floats(20, 300))
def test_cylinders_at_the_gauge_pressure_hold_the_force(
    pressure: float, diameter: float, height: float, cylinders: int, bore: float
) -> None:
    force = parting_force(pressure, diameter, height)
    bar = gauge_pressure(force, cylinders, bore)
    assert bar / 10 * cylinders * math.pi / 4 * bore**2 == pytest.approx(force)


@given(st.lists(st.floats(0.5, 4), min_size=2, max_size=8))
def test_heat_from_both_sides_never_has_further_to_go(walls: list[float]) -> None:
    one, both = furthest_glue_line(walls), furthest_glue_line(walls, heated_both_sides=True)
    assert 0 < both <= one < sum(walls)
    assert both <= sum(walls) / 2


def test_no_cylinders_no_gauge() -> None:
    assert press_shell(cylinders=0).gauge_bar is None
    assert furthest_glue_line([3.0]) == 0


@pytest.mark.parametrize(
    ("changes", "codes"),
    [({"pressure_n_per_mm2": 0.1}, ["pressure_low"]), ({"rest_h": 12.0}, ["rest_short"]), ({"rest_h": 24.0}, [])],
)
def test_doubtful_cycles_warn(changes, codes) -> None:
    assert [w.code for w in press_shell(**changes).warnings] == codes


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pressure_n_per_mm2": 0.0}, "press.pressure_n_per_mm2"),
        ({"pressure_n_per_mm2": float("nan")}, "press.pressure_n_per_mm2"),
        ({"temperature_c": 300.0}, "press.temperature_c"),
        ({"base_time_min": -1.0}, "press.base_time_min"),
        ({"minutes_per_mm": float("inf")}, "press.minutes_per_mm"),
        ({"rest_h": -1.0}, "press.rest_h"),
        ({"cylinders": 2, "cylinder_bore_mm": 0.0}, "press.cylinder_bore_mm"),
        ({"cylinders": -1}, "press.cylinders"),
    ],
)
def test_impossible_cycles_are_refused(changes, field) -> None:
    with pytest.raises(SpecError) as refused:
        press_shell(**changes)
    assert refused.value.field == field
