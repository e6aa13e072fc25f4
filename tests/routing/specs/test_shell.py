from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.specs.errors import SpecError
from routing.specs.inputs import Role
from routing.specs.shell import outside_diameter, shell_geometry, tolerances_for

diameters = st.floats(6, 28)
depths = st.floats(3, 24)
walls = st.floats(2, 15)


def test_a_snare_of_14_by_5_and_a_half_inches() -> None:
    shell = shell_geometry(role=Role.SNARE, nominal_diameter_in=14, nominal_depth_in=5.5, wall_mm=5.4)
    assert shell.outside_diameter_mm == pytest.approx(352.4)
    assert shell.inside_diameter_mm == pytest.approx(341.6)
    assert shell.outside_circumference_mm == pytest.approx(1107.1, abs=0.05)
    assert shell.mm_per_degree == pytest.approx(3.075, abs=0.0005)
    assert shell.depth_mm == pytest.approx(139.7)
    assert shell.outside_area_m2 == pytest.approx(0.15466, abs=1e-5)
    assert shell.warnings == ()


def test_a_wrapped_shell_is_moulded_smaller() -> None:
    bare = shell_geometry(role=Role.SNARE, nominal_diameter_in=14, nominal_depth_in=5.5, wall_mm=5.4)
    wrapped = shell_geometry(
        role=Role.SNARE, nominal_diameter_in=14, nominal_depth_in=5.5, wall_mm=5.4, wrap_thickness_mm=0.5
    )
    assert wrapped.outside_diameter_mm == pytest.approx(bare.outside_diameter_mm - 1.0)
    assert wrapped.diameter_over_finish_mm == pytest.approx(bare.diameter_over_finish_mm)


@given(diameters, depths, walls, st.floats(0, 6), st.floats(0, 1))
def test_sizes_agree_with_each_other(diameter: float, depth: float, wall: float, under: float, wrap: float) -> None:
    shell = shell_geometry(
        role=Role.BASS,
        nominal_diameter_in=diameter,
        nominal_depth_in=depth,
        wall_mm=wall,
        head_undersize_mm=under,
        wrap_thickness_mm=wrap,
    )
    assert shell.outside_diameter_mm - shell.inside_diameter_mm == pytest.approx(2 * wall)
    assert shell.outside_diameter_mm + 2 * wrap + under == pytest.approx(diameter * 25.4)
    assert shell.mm_per_degree * 360 == pytest.approx(math.pi * shell.outside_diameter_mm)
    assert 0 < shell.inside_area_m2 < shell.outside_area_m2 < math.inf


@given(diameters, st.floats(0.01, 2))
def test_more_nominal_size_is_more_shell(diameter: float, more: float) -> None:
    assert outside_diameter(diameter + more) > outside_diameter(diameter)


@pytest.mark.parametrize(
    ("undersize", "code"),
    [(0.8, "head_tight"), (1.6, "head_tight"), (2.0, "head_fit"), (4.9, "head_fit"), (5.5, "head_loose")],
)
def test_an_unusual_fit_warns(undersize: float, code: str) -> None:
    shell = shell_geometry(
        role=Role.SNARE, nominal_diameter_in=14, nominal_depth_in=5.5, wall_mm=5, head_undersize_mm=undersize
    )
    assert [(w.code, w.field) for w in shell.warnings] == [(code, "head_undersize_mm")]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"nominal_diameter_in": 2.0}, "nominal_diameter_in"),
        ({"nominal_diameter_in": float("nan")}, "nominal_diameter_in"),
        ({"nominal_depth_in": float("inf")}, "nominal_depth_in"),
        ({"nominal_depth_in": 0.0}, "nominal_depth_in"),
        ({"head_undersize_mm": -1.0}, "head_undersize_mm"),
        ({"wrap_thickness_mm": 5.0}, "finish.wrap.thickness_mm"),
        ({"wall_mm": 0.0}, "plates"),
        ({"wall_mm": float("nan")}, "plates"),
        ({"wall_mm": 120.0}, "plates"),
    ],
)
def test_impossible_shells_are_refused(change: dict[str, float], field: str) -> None:
    good = {"nominal_diameter_in": 14.0, "nominal_depth_in": 5.5, "wall_mm": 5.4}
    with pytest.raises(SpecError) as refused:
        shell_geometry(role=Role.SNARE, **(good | change))
    assert refused.value.field == field


def test_a_bass_drum_may_be_less_round() -> None:
    assert tolerances_for(Role.BASS).roundness.target_mm > tolerances_for(Role.SNARE).roundness.target_mm
    for role in Role:
        tolerances = tolerances_for(role)
        for name in tolerances.__dataclass_fields__:
            tolerance = getattr(tolerances, name)
            assert 0 < tolerance.target_mm < tolerance.accept_mm
            assert tolerance.accepts(-tolerance.accept_mm)
            assert not tolerance.accepts(tolerance.accept_mm + 0.01)
