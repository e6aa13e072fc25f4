"""Films, coverage, gloss and climate of coats, and wraps, held against published examples."""

from __future__ import annotations

from routing.specs.coats import (
    coats,
    dry_film,
    dwell_factor,
    gloss_angle,
    material_ml,
    thinned_solids,
)
from routing.specs.inputs import CoatInputs, CoatStage, FinishInputs, FinishKind, RoomInputs, Surface, WrapInputs
from routing.specs.units import mm_from_inches
from routing.specs.wrap import WrapResult, wrap
from tests.published.checks import Check, Mark

_COVERAGE = "coating maker's sheet on theoretical spreading rate"
_TABLE = "coating maker's table of spreading rates"
_THINNED = "paint technician's page on coverage after thinning"
_GLOSS = "ISO 2813, when to use which angle"
_DRYING = "finish drying-time page: 10 to 15 °F colder doubles, over 70 % humidity adds 50 to 100 %"
_SHEETS = "drum repair questions and answers: 24 × 54 in sheets, two pieces from 18 in"

_MIL_UM = 25.4
_FAHRENHEIT = 5 / 9


def _covered(nominal_in: float, *, overlap: float = 20.0) -> WrapResult:
    sheet = WrapInputs("sheet", 0.5, overlap, 6.35, mm_from_inches(54), mm_from_inches(24), 22.0, 25.0)
    nominal = mm_from_inches(nominal_in)
    return wrap(wrap=sheet, wood_diameter_mm=nominal - 4.2, depth_mm=300.0, nominal_diameter_mm=nominal)


def _rate(dry_um: float, solids: float, thinning: float = 0.0, lost: float = 0.0) -> float:
    """Square metres that a litre covers at a dry film, from the material and the dry film of a wet one of 100 µm."""
    return 1000 / material_ml(1.0, 100.0, 1 - lost) * dry_film(100.0, solids, thinning) / dry_um


def _may_coat(temperature: float) -> bool:
    coat = CoatInputs("clear", CoatStage.CLEAR, Surface.OUTSIDE, 90.0, 33.0, 0.65, 0.0, None, 2.0)
    finish = FinishInputs("any", FinishKind.LACQUER, coats=(coat,))
    made = coats(finish=finish, outside_area_m2=0.2, inside_area_m2=0.2, room=RoomInputs(temperature, 50.0))
    return made.coats[0].may_coat


CHECKS = [
    Check("65 % solids, 125 µm dry: m² a litre", _COVERAGE, 5.2, lambda: _rate(125, 65), 0.001),
    Check(
        "100 % solids: 1000 m² a litre at 1 µm",
        _COVERAGE,
        1000.0,
        lambda: _rate(1, 100),
        1e-9,
        trap=100.0,  # a formula printed with 100 instead of 1000
    ),
    Check(
        "71 % solids, 176 µm wet: dry µm", "coating glossary, wet and dry film", 125.0, lambda: dry_film(176, 71), 0.07
    ),
    Check(
        "50 % solids, 100 µm wet: dry µm", "coating glossary, wet and dry film", 50.0, lambda: dry_film(100, 50), 1e-9
    ),
    Check(
        "42 % solids, 3.57 mil wet: dry mil",
        "paint consultant's column of October 2003",
        1.5,
        lambda: dry_film(3.57 * _MIL_UM, 42) / _MIL_UM,
        0.002,
    ),
    Check(
        "62 % solids, 161 µm wet: dry µm",
        "paint shop's page of wet and dry film formulas",
        100.0,
        lambda: dry_film(161, 62),
        0.3,
    ),
    Check(
        "35 % solids, 357 µm wet: dry µm",
        "inspection company's film calculator page",
        125.0,
        lambda: dry_film(357, 35),
        0.15,
    ),
    Check(
        "spreading rates at 85/175, 55/75, 65/200, 95/25 (solids %, µm)",
        _TABLE,
        (4.9, 7.3, 3.3, 38.0),
        lambda: tuple(_rate(dry, solids) for solids, dry in ((85, 175), (55, 75), (65, 200), (95, 25))),
        0.05,
    ),
    Check(
        "50 % solids thinned by 10 %",
        _THINNED,
        45.45,
        lambda: thinned_solids(50, 10),
        0.005,
        trap=45.0,  # the thinner taken off the solids
    ),
    Check("the same, 60 µm dry: m² a litre", _THINNED, 7.57, lambda: _rate(60, 50, 10), 0.01),
    Check(
        "the same with 30 % lost: m² a litre",
        _THINNED,
        5.299,
        lambda: _rate(60, 50, 10, 0.30),
        0.01,
        trap=5.82,  # divided by 1.3 instead of times 0.7
    ),
    Check(
        "gloss of 10, 35 and 70 units stays at 60°",
        _GLOSS,
        (60.0, 60.0, 60.0),
        lambda: tuple(float(gloss_angle(units)) for units in (10, 35, 70)),
    ),
    Check("above 70 units at 20°", _GLOSS, 20.0, lambda: float(gloss_angle(70.5)), trap=60.0),
    Check("below 10 units at 85°", _GLOSS, 85.0, lambda: float(gloss_angle(9.5)), trap=60.0),
    Check(
        "dwell doubles somewhere from 10 to 15 °F colder",
        _DRYING,
        True,
        lambda: dwell_factor(21 - 10 * _FAHRENHEIT, 50) < 2 < dwell_factor(21 - 15 * _FAHRENHEIT, 50),
    ),
    Check(
        "damp air of 70 to 85 % adds a half to the whole",
        _DRYING,
        (1.5, 2.0),
        lambda: (dwell_factor(21, 70), dwell_factor(21, 85)),
        1e-9,
    ),
    Check(
        "good movement of air takes 20 to 30 % off",
        _DRYING,
        True,
        lambda: 0.7 <= dwell_factor(21, 50, air=0.75) <= 0.8,
    ),
    Check(
        "no film forms at 15.9 °C, at 16 °C it does",
        "coating maker's glossary: above 16 °C",
        (0.0, 1.0),
        lambda: (float(_may_coat(15.9)), float(_may_coat(16.0))),
    ),
    Check(
        "pieces of wrap for 8, 10, 12, 13, 14, 16, 18, 20, 22, 24 in",
        _SHEETS,
        (1, 1, 1, 1, 1, 1, 2, 2, 2, 2),
        lambda: tuple(float(_covered(size).pieces) for size in (8, 10, 12, 13, 14, 16, 18, 20, 22, 24)),
    ),
    Check(
        "a blank stands 1/4 in free of both edges",
        "drum magazine on wrapping: about 1/4 in shy",
        300.0 - 12.7,
        lambda: _covered(14).blank_height_mm,
        1e-9,
    ),
    Check(
        "a head passes 3.2 mm but not 1.6 mm less its overlap",
        "review of heads for old shells: 1/16 in under nominal is hard to fit",
        (1.0, 0.0),
        lambda: (
            float(_covered(14).head_fits),
            float(
                wrap(
                    wrap=WrapInputs("sheet", 0.5, 20.0, 6.0, 1400.0, 610.0, 22.0, 25.0),
                    wood_diameter_mm=355.6 - 1.6 - 1.0,
                    depth_mm=140.0,
                    nominal_diameter_mm=355.6,
                ).head_fits
            ),
        ),
    ),
    Check(
        "satin clear of 90 µm wet at 33 % gives about 30 µm",
        "common practice, no source",
        30.0,
        lambda: dry_film(90, 33),
        0.5,
        Mark.COMMON_PRACTICE,
    ),
]
