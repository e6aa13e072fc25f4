"""Glue and press, held against guides for glues and presses, and textbook mechanics."""

from __future__ import annotations

import math
from dataclasses import replace

from routing.specs.gluing import clocks, glue_lines, mix_by_weight
from routing.specs.inputs import MixPartInputs, SeamInputs, SeamKind
from routing.specs.layup import lay_up
from routing.specs.moisture import water_in_glue
from routing.specs.pressing import NEWTON_PER_TONNE_FORCE, gauge_pressure, parting_force, press_time
from tests.published.checks import Check, Mark
from tests.routing.specs.example_drums import GLUE, PRESS, plate

_OUNCE_G, _POUND_G, _FOOT_M = 28.349523125, 453.59237, 0.3048


def _clock_ratio(step_c: float, change_c: float) -> float:
    glue = replace(GLUE, halving_step_c=step_c, min_room_c=0, max_room_c=40)
    return clocks(glue, 20 + change_c).pot_life_min / clocks(glue, 20).pot_life_min


def _spread_from_coverage(water_oz: float) -> float:
    """Spread in g/m² that makes one pound of powder with its water reach 50 square feet of one glue line."""
    per_m2 = (_POUND_G + water_oz * _OUNCE_G) / (50 * _FOOT_M**2)
    layup = lay_up(352.4, [plate(), plate()], SeamInputs(SeamKind.BUTT))
    line = glue_lines(layup, 100, per_m2)[0]
    return line.glue_g / line.area_m2


def _by_slices(pressure: float, diameter: float, height: float) -> float:
    """The parting force as the sum over narrow strips of half a cylinder, each pressed outwards."""
    strips = 20_000
    angle = math.pi / strips
    strip = pressure * diameter / 2 * angle * height
    return math.fsum(strip * math.sin((index + 0.5) * angle) for index in range(strips))


def _glue_area(diameter_mm: float, height_mm: float, *thicknesses_mm: float) -> float:
    layup = lay_up(diameter_mm, [plate(t) for t in thicknesses_mm], SeamInputs(SeamKind.BUTT))
    return math.fsum(line.area_m2 for line in glue_lines(layup, height_mm, 150))


CHECKS = [
    Check(
        "spread of 1 lb of powder and 9 oz of water on 50 square feet, g/m²",
        "veneer urea instructions: 1 lb with 8 to 10 oz of water covers about 50 square feet",
        155.0,
        lambda: _spread_from_coverage(9),
        5.0,
    ),
    Check(
        "powder in 160 g of mix at 100 to 60",
        "powdered urea guide: 50 to 65 of water for 100 of powder",
        100.0,
        lambda: mix_by_weight((MixPartInputs("powder", 100), MixPartInputs("water", 60)), 160)[0].mass_g,
        1e-9,
        trap=96.0,  # 60 taken as a share of the mix
    ),
    Check(
        "epoxy pot life 18 °F colder",
        "epoxy temperature rule: twice as long for each 18 °F (10 °C) colder",
        2.0,
        lambda: _clock_ratio(10, -18 / 1.8),
        1e-9,
    ),
    Check(
        "urea pot life at 30 °C where it halves every 10 °C",
        "glue data from memory, halves for each 8 to 10 °C",
        0.5,
        lambda: _clock_ratio(10, 10),
        1e-9,
        Mark.FROM_MEMORY,
    ),
    Check(
        "water in 150 g/m² of a mix with 62 % solids",
        "arithmetic by hand, 150 × 0.38",
        57.0,
        lambda: water_in_glue(150, 62),
        1e-9,
        Mark.COMPUTED,
    ),
    Check(
        "load of one bar on a square metre, tonnes",
        "woodworking magazine on vacuum presses: about 10 t on a square metre",
        10.0,
        lambda: parting_force(0.1, 1000, 1000) / NEWTON_PER_TONNE_FORCE,
        0.3,
    ),
    Check(
        "kilogram-force in newton",
        "NIST SP 811, standard acceleration 9.80665 m/s²",
        9806.65,
        lambda: NEWTON_PER_TONNE_FORCE,
    ),
    Check(
        "mould of 352.4 × 457 mm at 3 bar, kN",
        "projected area of a cylinder under pressure, summed over strips",
        round(_by_slices(0.3, 352.4, 457) / 1000, 3),
        lambda: parting_force(0.3, 352.4, 457) / 1000,
        0.001,
        Mark.COMPUTED,
        trap=round(0.3 * math.pi * 352.4 * 457 / 1000, 3),  # the whole wall instead of the projected area
    ),
    Check(
        "force per wall of a thin tube, N for each mm of height",
        "thin-walled pressure vessels (textbook), p·D/2 for each wall",
        52.86,
        lambda: parting_force(0.3, 352.4, 100) / 2 / 100,
        0.001,
        Mark.FROM_MEMORY,
    ),
    Check(
        "one cylinder of 100 mm bore, gauge for 4712 N",
        "piston area from memory, 78.5 cm² at 6 bar gives 4.71 kN",
        6.0,
        lambda: gauge_pressure(4712.4, 1, 100),
        0.001,
        Mark.FROM_MEMORY,
    ),
    Check(
        "hot plates, 10 mm to the furthest line at 30 to 50 s a mm, min",
        "plywood technology pages: 30 to 50 s a mm at 105 to 120 °C",
        (5.0, 8.333),
        lambda: tuple(press_time(replace(PRESS, base_time_min=0, minutes_per_mm=s / 60), 10) for s in (30, 50)),
        0.001,
    ),
    Check(
        "glue lines of a 14 × 5.5 in shell of three 1.8 mm plates, m²",
        "arithmetic by hand, two cylinders of 154.7 mm height",
        0.34,
        lambda: _glue_area(352.4, 5.5 * 25.4 + 15, 1.8, 1.8, 1.8),
        0.005,
        Mark.COMPUTED,
    ),
    Check(
        "glue lines of a 22 × 18 in shell of six 1.25 mm plies, m²",
        "arithmetic by hand, five cylinders of 472.2 mm height",
        4.07,
        lambda: _glue_area(555.6, 18 * 25.4 + 15, *[1.25] * 6),
        0.005,
        Mark.COMPUTED,
    ),
]
