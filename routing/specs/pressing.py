"""The force in the mould, how long it must hold, and when the shell may be trimmed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import PressInputs
from routing.specs.layup import LayUpResult
from routing.specs.sentences import gettext_noop

_NO_CYLINDERS = gettext_noop("Give at least one cylinder.")
_PRESSURE_LOW = gettext_noop(
    "{pressure} N/mm² is low for urea and PVA glue (0.2 and more, from memory); epoxy takes less."
)
_REST_SHORT = gettext_noop(
    "{rest} h of rest is short: 24 h is recommended before machining pressed wood, 48 h for shells."
)

BAR_PER_N_PER_MM2 = 10.0  # exact
NEWTON_PER_TONNE_FORCE = 9806.65
RELIEF_MARGIN = 1.10  # common practice: relief valve at most 10 % above working pressure


@dataclass(frozen=True, slots=True)
class PressingResult:
    wall_area_m2: float  # inner face of the pressed shell, where a bladder or plug presses
    pressure_n_per_mm2: float
    pressure_bar: float
    wall_force_n: float  # sum over the wall; what a segmented plug must give in all
    parting_force_n: float  # pushes the two halves of the mould apart
    parting_force_tonnes: float
    cylinders: int
    gauge_bar: float | None  # at the cylinders that hold the mould shut; None without cylinders
    relief_bar: float | None  # highest setting of the relief valve on the line that makes the pressure
    furthest_line_mm: float  # from the heated face to the furthest glue line
    time_min: float
    temperature_c: float
    rest_h: float
    warnings: tuple[SpecWarning, ...]


def parting_force(pressure_n_per_mm2: float, diameter_mm: float, height_mm: float) -> float:
    """Force in N that separates the two halves of a mould: p·D·H.

    The pressure on half a cylinder adds up to that on its projected area, whatever the shape of the half. p 0 to 3
    N/mm², D 50 to 1100 mm, H 10 to 1500 mm.
    """
    require_between(pressure_n_per_mm2, 0.0, 3.0, field="press.pressure_n_per_mm2", unit="N/mm²")
    require_between(diameter_mm, 50.0, 1100.0, field="nominal_diameter_in", unit="mm")
    require_between(height_mm, 10.0, 1500.0, field="nominal_depth_in", unit="mm")
    return pressure_n_per_mm2 * diameter_mm * height_mm


def gauge_pressure(force_n: float, cylinders: int, bore_mm: float) -> float:
    """Gauge pressure in bar that gives ``force_n`` with equal cylinders pushing together: F / (n·π/4·d²).

    Friction in the cylinders is not counted; real gauges read a few per cent more.
    """
    require_between(force_n, 0.0, 1e8, field="force_n", unit="N")
    if cylinders < 1:
        raise SpecError("no_cylinders", "press.cylinders", _NO_CYLINDERS)
    require_between(bore_mm, 5.0, 1000.0, field="press.cylinder_bore_mm", unit="mm")
    return force_n / (cylinders * math.pi / 4 * bore_mm**2) * BAR_PER_N_PER_MM2


def press_time(press: PressInputs, furthest_line_mm: float) -> float:
    """Time at temperature in minutes: base time and so many minutes for each mm to the furthest glue line.

    From memory, hot urea at 90 to 100 °C: base 3 to 5 min and 1 min a mm. Published for flat plywood at 105 to 120 °C:
    30 to 50 s a mm. Cold pressing is described by a base time of hours and 0 min a mm.
    """
    require_between(press.base_time_min, 0.0, 3000.0, field="press.base_time_min", unit="min")
    require_between(press.minutes_per_mm, 0.0, 240.0, field="press.minutes_per_mm", unit="min")
    require_between(furthest_line_mm, 0.0, 100.0, field="plates", unit="mm")
    return press.base_time_min + press.minutes_per_mm * furthest_line_mm


def furthest_glue_line(thicknesses_mm: Sequence[float], *, heated_both_sides: bool = False) -> float:
    """Distance in mm from the heated face to the furthest glue line.

    A mould heats the shell from outside; the furthest line lies inside all plates but the last. Heated from both sides
    it is the line nearest the middle. 0 for a single plate.
    """
    depths = []
    stacked = 0.0
    for t in thicknesses_mm[:-1]:
        stacked += t
        depths.append(stacked)
    if not depths:
        return 0.0
    if not heated_both_sides:
        return depths[-1]
    wall = stacked + thicknesses_mm[-1]
    return max(min(depth, wall - depth) for depth in depths)


def pressing(*, layup: LayUpResult, height_mm: float, press: PressInputs) -> PressingResult:
    """Force, gauge pressure, time and rest for one shell as pressed (height in mm).

    Pressure 0.01 to 2 N/mm²; temperature 5 to 160 °C; rest 0 to 1000 h; SpecError outside.
    """
    require_between(press.pressure_n_per_mm2, 0.01, 2.0, field="press.pressure_n_per_mm2", unit="N/mm²")
    require_between(press.temperature_c, 5.0, 160.0, field="press.temperature_c", unit="°C")
    require_between(press.rest_h, 0.0, 1000.0, field="press.rest_h", unit="h")
    require_between(press.cylinders, 0, 50, field="press.cylinders")
    # The bladder presses on the inner face, but the halves are parted along the bore of the mould: leaks and a
    # bladder that creeps between plate and mould make the whole bore count, so the larger diameter is the safe one.
    force = parting_force(press.pressure_n_per_mm2, layup.outside_diameter_mm, height_mm)
    inner = layup.plates[-1].inner_diameter_mm
    area = math.pi * inner * height_mm / 1e6
    furthest = furthest_glue_line([plate.thickness_mm for plate in layup.plates])
    gauge = gauge_pressure(force, press.cylinders, press.cylinder_bore_mm) if press.cylinders else None
    bar = press.pressure_n_per_mm2 * BAR_PER_N_PER_MM2
    return PressingResult(
        wall_area_m2=area,
        pressure_n_per_mm2=press.pressure_n_per_mm2,
        pressure_bar=bar,
        wall_force_n=press.pressure_n_per_mm2 * area * 1e6,
        parting_force_n=force,
        parting_force_tonnes=force / NEWTON_PER_TONNE_FORCE,
        cylinders=press.cylinders,
        gauge_bar=gauge,
        relief_bar=bar * RELIEF_MARGIN,
        furthest_line_mm=furthest,
        time_min=press_time(press, furthest),
        temperature_c=press.temperature_c,
        rest_h=press.rest_h,
        warnings=_warnings(press),
    )


def _warnings(press: PressInputs) -> tuple[SpecWarning, ...]:
    found = []
    if press.pressure_n_per_mm2 < 0.2:
        found.append(
            SpecWarning(
                "pressure_low",
                "press.pressure_n_per_mm2",
                _PRESSURE_LOW.format(pressure=f"{press.pressure_n_per_mm2:g}"),
            )
        )
    if press.rest_h < 24:
        found.append(
            SpecWarning(
                "rest_short",
                "press.rest_h",
                _REST_SHORT.format(rest=f"{press.rest_h:g}"),
            )
        )
    return tuple(found)
