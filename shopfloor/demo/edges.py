"""Bearing-edge profiles: the six shapes. Angles from the head plane; sizes are common practice, no source."""

from __future__ import annotations

from typing import Any

EDGES: list[dict[str, Any]] = [
    {
        "name": "Bright single 45",
        "shape": "single_45",
        "apex_offset_mm": 0.5,
        "inner_angle_deg": 45.0,
        "land_mm": 0.3,
        "note": "Apex almost at the outside: brightest, and the easiest to dent.",
    },
    {
        "name": "Double 45",
        "shape": "double_45",
        "apex_offset_mm": 1.5,
        "inner_angle_deg": 45.0,
        "outer_angle_deg": 45.0,
        "land_mm": 0.4,
        "note": "The usual edge of toms and of a snare's batter side.",
    },
    {
        "name": "45 with 3 mm round-over",
        "shape": "round_over_45",
        "apex_offset_mm": 3.0,
        "inner_angle_deg": 45.0,
        "round_over_radius_mm": 3.0,
        "land_mm": 0.4,
        "note": "Warmer: floor toms and bass drums.",
    },
    {
        "name": "Shallow 30",
        "shape": "shallow",
        "apex_offset_mm": 2.0,
        "inner_angle_deg": 30.0,
        "outer_angle_deg": 45.0,
        "land_mm": 0.4,
        "note": "More wood under the head: dark, short.",
    },
    {
        "name": "Full round for 4.8 mm walls",
        "shape": "full_round",
        "apex_offset_mm": 2.4,
        "inner_angle_deg": 45.0,
        "round_over_radius_mm": 2.4,
        "land_mm": 0.4,
        "note": "Radius is half the wall: a change of lay-up needs another edge.",
    },
    {
        "name": "Snare side",
        "shape": "snare_side",
        "apex_offset_mm": 1.2,
        "inner_angle_deg": 45.0,
        "outer_angle_deg": 45.0,
        "land_mm": 0.3,
        "note": "Sharp, for the snare-side head; the beds are cut into it.",
    },
]
