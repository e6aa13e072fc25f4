"""Bearing edges and snare beds, held against plane geometry and what the trade has published."""

from __future__ import annotations

import math

from routing.specs.edges import EdgeResult, apex_shift, edge_geometry, height_lost, height_lost_to_round
from routing.specs.inputs import EdgeInputs, EdgeShape, SnareBedInputs
from routing.specs.snare_bed import snare_bed, straight_across
from tests.published.checks import Check, Mark

_GEOMETRY = "plane geometry by hand, angles from the head plane"
_CHORDS = "engineering table of chords of a circle in equal segments"


def _edge(wall: float, offset: float, inner: float, *, outer: float = 45.0, land: float = 0.0) -> EdgeResult:
    shape = EdgeInputs("any", EdgeShape.DOUBLE_45, offset, inner, outer, land_mm=land)
    return edge_geometry(wall_mm=wall, outside_diameter_mm=352.4, edge=shape)


def _round_over(radius: float, offset: float) -> EdgeResult:
    shape = EdgeInputs("any", EdgeShape.ROUND_OVER_45, offset, 45.0, round_over_radius_mm=radius, land_mm=0.0)
    return edge_geometry(wall_mm=8.0, outside_diameter_mm=352.4, edge=shape)


def _bed_warns(depth: float, flat: float, overall: float) -> bool:
    bed = SnareBedInputs(depth, flat, overall)
    return bool(snare_bed(bed=bed, apex_diameter_mm=349.4, strainer_deg=180.0).warnings)


CHECKS = [
    Check(
        "inner drop at 45°, walls 5, 6 and 7.5 mm",
        _GEOMETRY,
        (3.5, 4.5, 5.5),
        lambda: tuple(_edge(t, a, 45.0).inner_drop_mm for t, a in ((5.0, 1.5), (6.0, 1.5), (7.5, 2.0))),
        1e-9,
        Mark.COMPUTED,
    ),
    Check(
        "inner drop at 30° from the head plane, wall 6, apex 1.5",
        _GEOMETRY,
        2.598,
        lambda: _edge(6.0, 1.5, 30.0).inner_drop_mm,
        0.001,
        Mark.COMPUTED,
        trap=7.794,  # 30° measured from the wall instead
    ),
    Check(
        "apex moves 1, 1.732, 2.414 and 0.577 mm a millimetre of spindle at 45, 30, 22.5 and 60°",
        _GEOMETRY,
        (1.0, math.sqrt(3), 1 + math.sqrt(2), 1 / math.sqrt(3)),
        lambda: tuple(apex_shift(1.0, angle) for angle in (45.0, 30.0, 22.5, 60.0)),
        1e-9,
        Mark.COMPUTED,
    ),
    Check(
        "cuts at 45° that overlap by 1 mm cost half a millimetre",
        _GEOMETRY,
        0.5,
        lambda: height_lost(1.0, 45.0, 45.0),
        1e-9,
        Mark.COMPUTED,
        trap=1.0,  # both slopes counted in full
    ),
    Check(
        "cuts at 30 and 45° that overlap by 1 mm",
        _GEOMETRY,
        1 / (1 + math.sqrt(3)),
        lambda: height_lost(1.0, 30.0, 45.0),
        1e-9,
        Mark.COMPUTED,
    ),
    Check(
        "a 45° cut 1 mm past a round of 3 mm costs less than past a corner",
        "line and circle by hand: (2 + u)² + u² = 9, u = (√56 − 4)/4, 1 − u lost",
        0.1292,
        lambda: height_lost_to_round(1.0, 45.0, 3.0, 3.0),
        0.00005,
        Mark.COMPUTED,
        trap=1.0,  # as past a sharp corner
    ),
    Check(
        "round-over of 1/8 in leaves the outside face 3.2 mm down",
        "small maker's page on a 1/8 in radius with 45°",
        3.175,
        lambda: _round_over(3.175, 3.175).outer_drop_mm,
        1e-9,
    ),
    Check(
        "round-over of 1/4 in, apex 5 mm in: the arc's end by Pythagoras",
        _GEOMETRY,
        math.sqrt(6.35**2 - 1.35**2),
        lambda: _round_over(6.35, 5.0).outer_drop_mm,
        1e-9,
        Mark.COMPUTED,
        trap=6.35,  # the whole radius, which the apex cuts off
    ),
    Check(
        "a full round of 3 mm cut 0.1 mm low leaves a flat of 2·√(2·3·0.1 − 0.1²)",
        _GEOMETRY,
        1.536,
        lambda: (
            edge_geometry(
                wall_mm=6.0, outside_diameter_mm=352.4, edge=EdgeInputs("any", EdgeShape.FULL_ROUND, 3.0)
            ).low_by_tenth_land_mm
        ),
        0.001,
        Mark.COMPUTED,
        trap=0.2,
    ),
    Check(
        "rough cut leaves the land standing: 4.5 mm drop less half of 0.4 mm",
        "drum-component tutorial: leave a narrow flat, then sand it true",
        4.3,
        lambda: _edge(6.0, 1.5, 45.0, land=0.4).spindle_height_mm,
        1e-9,
    ),
    Check(
        "chord of 1/8, 1/12 and 1/24 of a circle of radius 1 (m)",
        _CHORDS,
        (765.4, 517.6, 261.1),
        lambda: tuple(straight_across(math.pi * 1000 * share, 1000.0) * 2 for share in (1 / 8, 1 / 12, 1 / 24)),
        0.05,
    ),
    Check(
        "24.57° of a 352.4 mm shell, straight across",
        "2·arcsin(w/D) by hand for a width of 75 mm",
        75.0,
        lambda: straight_across(24.57 / 360 * math.pi * 352.4, 352.4),
        0.03,
        Mark.COMPUTED,
        trap=75.56,  # the arc taken for the straight width
    ),
    Check(
        "3 mm deep and steep is doubtful, 1.2 mm over 90 mm is not",
        "trade column on snare beds: too steep a ramp wrinkles the head (limit from memory)",
        (1.0, 0.0),
        lambda: (float(_bed_warns(3.0, 50.0, 90.0)), float(_bed_warns(1.2, 50.0, 90.0))),
        mark=Mark.FROM_MEMORY,
    ),
]
