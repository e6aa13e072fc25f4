"""Sizes, lengths and seams, held against the trade's publications and plain arithmetic."""

from __future__ import annotations

from routing.specs.inputs import Role, SeamInputs, SeamKind
from routing.specs.layup import lay_up, mid_plane_length, seam_angles
from routing.specs.shell import outside_diameter, tolerances_for
from routing.specs.units import inch_fraction, mm_from_inches
from tests.published.checks import Check, Mark
from tests.routing.specs.example_drums import plate

_HAND = "arithmetic by hand, L = π·(D − 2T − t)"


def _lengths(diameter_mm: float, *thicknesses_mm: float) -> tuple[float, ...]:
    plates = [plate(t) for t in thicknesses_mm]
    return tuple(one.mid_plane_length_mm for one in lay_up(diameter_mm, plates, SeamInputs(SeamKind.BUTT)).plates)


def _scarf(slope: float, thickness_mm: float) -> float:
    seam = SeamInputs(SeamKind.SCARF, scarf_slope=slope)
    return lay_up(352.4, [plate(thickness_mm)], seam).plates[0].scarf_length_mm


def _wall(*thicknesses_mm: float) -> float:
    return lay_up(352.4, [plate(t) for t in thicknesses_mm], SeamInputs(SeamKind.BUTT)).wall_mm


CHECKS = [
    Check(
        "an inch",
        "international yard and pound agreement of 1959",
        25.4,
        lambda: mm_from_inches(1),
        mark=Mark.PUBLISHED,
    ),
    Check(
        "shell 1/8 in under nominal, as the rule of a tape shows it",
        "drum builders' forum page on shell diameter",
        "13 7/8 in",
        lambda: inch_fraction(outside_diameter(14, head_undersize_mm=3.175)),
    ),
    Check(
        "outside diameter of a 14 in shell",
        "drum builders' forum page on shell diameter",
        352.4,
        lambda: outside_diameter(14),
        0.05,
        trap=355.6,  # the nominal size, which no head fits
    ),
    Check(
        "largest accepted out-of-round stays below 1/16 in",
        "snare buying guide: avoid 1/16 in and more",
        True,
        lambda: all(tolerances_for(role).roundness.accept_mm < mm_from_inches(1 / 16) for role in Role),
    ),
    Check(
        "next plate of 0.7 mm shorter by 2πt",
        "how-to article on veneer shells: each ply 2πt shorter",
        4.398,
        lambda: mid_plane_length(355.6, 0, 0.7) - mid_plane_length(355.6, 0.7, 0.7),
        0.001,
        trap=2.199,  # πt: the thickness counted on one side only
    ),
    Check(
        "lengths of three 1.8 mm plates in 352.4 mm",
        _HAND,
        (1101.4, 1090.1, 1078.8),
        lambda: _lengths(352.4, 1.8, 1.8, 1.8),
        0.05,
        Mark.COMPUTED,
        trap=1107.1,  # the outer circumference
    ),
    Check(
        "lengths of six 0.9 mm plies in 352.4 mm",
        _HAND,
        (1104.3, 1098.6, 1093.0, 1087.3, 1081.7, 1076.0),
        lambda: _lengths(352.4, *[0.9] * 6),
        0.06,
        Mark.COMPUTED,
    ),
    Check(
        "lengths of 0.6, 1.8, 1.8, 0.6 mm in 301.6 mm",
        _HAND,
        (945.6, 938.1, 926.8, 919.2),
        lambda: _lengths(301.6, 0.6, 1.8, 1.8, 0.6),
        0.06,
        Mark.COMPUTED,
    ),
    Check(
        "scarf 1:12 of a 2.4 mm plate",
        "boat-building forum: 8 to 1 for strength, 12 to 1 for curves",
        28.8,
        lambda: _scarf(12, 2.4),
        1e-9,
    ),
    Check(
        "scarf 1:8 of a 0.9 mm plate",
        "boat-building forum: 8 to 1 for strength, 12 to 1 for curves",
        7.2,
        lambda: _scarf(8, 0.9),
        1e-9,
    ),
    Check(
        "second seam opposite, third a quarter turn off",
        "visitor's report of a shell works: seams at 180° and 90°",
        (0.0, 180.0, 90.0),
        lambda: seam_angles(3),
    ),
    Check(
        "walls of 4, 6, 8 and 10 plies of 1.25 mm",
        "shell thickness pages: 5, 7.5, 10 and 12.5 mm",
        (5.0, 7.5, 10.0, 12.5),
        lambda: tuple(_wall(*[1.25] * count) for count in (4, 6, 8, 10)),
        1e-9,
    ),
    Check(
        "wall of two plates of three 1 mm veneers and one 1 mm veneer",
        "common practice, no source",
        7.0,
        lambda: _wall(3.0, 1.0, 3.0),
        1e-9,
        Mark.COMMON_PRACTICE,
    ),
]
