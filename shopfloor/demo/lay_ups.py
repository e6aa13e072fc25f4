"""Glues, press cycles and lay-ups.

Mixes, spreads, clocks and press settings are the usual figures of the trade, from memory: a shop puts in those of its
own glue's data sheet before it glues anything.
"""

from __future__ import annotations

from typing import Any

GLUES: list[dict[str, Any]] = [
    {
        "name": "Urea powder, two-part",
        "mix": [("resin powder", 100.0), ("water", 60.0)],
        "solids_pct": 62.0,
        "spread_g_per_m2": 160.0,
        "waste_pct": 20.0,
        "pot_life_min_at_20c": 210.0,
        "closed_time_min_at_20c": 18.0,
        "halving_step_c": 9.0,
        "min_room_c": 10.0,
        "max_room_c": 35.0,
        "caution": (
            "Gives off formaldehyde while it is mixed, at press opening and when hot: air extraction on, gloves, goggles, "
            "eye wash at hand. Follow its safety data sheet."
        ),
        "note": "Usual figures, from memory; the glue's own data sheet goes first.",
    },
    {
        "name": "Cross-link PVA",
        "mix": [("PVA dispersion", 100.0), ("hardener", 5.0)],
        "solids_pct": 50.0,
        "spread_g_per_m2": 170.0,
        "waste_pct": 15.0,
        "pot_life_min_at_20c": 720.0,
        "closed_time_min_at_20c": 14.0,
        "halving_step_c": 10.0,
        "min_room_c": 14.0,
        "max_room_c": 32.0,
        "caution": "The hardener is acid and can make skin sensitive: gloves and goggles. Follow its safety data sheet.",
        "note": "Usual figures, from memory; softens above some 70 °C, so it is pressed warm, not hot.",
    },
]

PRESS_CYCLES: list[dict[str, Any]] = [
    {
        "name": "Hot mould, four rams",
        "pressure_n_per_mm2": 0.6,
        "temperature_c": 100.0,
        "base_time_min": 4.0,
        "minutes_per_mm": 1.0,
        "rest_h": 48.0,
        "cylinders": 4,
        "cylinder_bore_mm": 100.0,
        "note": "For urea. Cool under pressure before opening; rest two days before trimming.",
    },
    {
        "name": "Warm mould, air bag",
        "pressure_n_per_mm2": 0.4,
        "temperature_c": 60.0,
        "base_time_min": 25.0,
        "minutes_per_mm": 2.0,
        "rest_h": 24.0,
        "cylinders": 0,
        "cylinder_bore_mm": 0.0,
        "note": "For PVA. The bag stands at 4 bar: never open the mould before the gauge shows zero.",
    },
]

_UREA_HOT = {"glue": "Urea powder, two-part", "press_cycle": "Hot mould, four rams"}
_PVA_WARM = {"glue": "Cross-link PVA", "press_cycle": "Warm mould, air bag"}

# Plates from the outside to the inside, each with the grain of its faces.
LAY_UPS: list[dict[str, Any]] = [
    {
        "name": "Birch 9 mm, nine veneers",
        "plates": [("Birch 3.0, three-veneer, cross-grain", "axial")] * 3,
        "note": "Three equal plates: bass drums and snares.",
    }
    | _UREA_HOT,
    {
        "name": "Birch 7 mm, seven veneers",
        "plates": [
            ("Birch 3.0, three-veneer, cross-grain", "axial"),
            ("Birch 1.0, one veneer, long-grain", "around"),
            ("Birch 3.0, three-veneer, cross-grain", "axial"),
        ],
        "note": "The single veneer lies crosswise between two plates: toms.",
    }
    | _UREA_HOT,
    {
        "name": "Birch 5.4 mm, nine veneers",
        "plates": [("Birch 1.8, three-veneer, cross-grain", "axial")] * 3,
        "note": "Thin and easy to bend: the smallest toms.",
    }
    | _UREA_HOT,
    {
        "name": "Maple 9 mm, nine veneers",
        "plates": [("Maple 3.0, three-veneer, cross-grain", "axial")] * 3,
        "note": "Bass drums and snares.",
    }
    | _UREA_HOT,
    {
        "name": "Maple 7 mm, seven veneers",
        "plates": [
            ("Maple 3.0, three-veneer, cross-grain", "axial"),
            ("Maple 1.0, one veneer, long-grain", "around"),
            ("Maple 3.0, three-veneer, cross-grain", "axial"),
        ],
        "note": "The single veneer lies crosswise between two plates: toms.",
    }
    | _UREA_HOT,
    {
        "name": "Maple 5.4 mm, nine veneers",
        "plates": [("Maple 1.8, three-veneer, cross-grain", "axial")] * 3,
        "note": "Thin and easy to bend: the smallest toms.",
    }
    | _UREA_HOT,
    {
        "name": "Maple 4.5 mm, vintage thin",
        "plates": [
            ("Maple 0.9, one veneer, cross-grain", "axial"),
            ("Maple 0.9, one veneer, long-grain", "around"),
        ]
        * 2
        + [("Maple 0.9, one veneer, cross-grain", "axial")],
        "seam_kind": "butt",
        "fit_allowance_mm": 0.3,
        "note": "Five single veneers, crosswise: a warm, low snare or tom.",
    }
    | _PVA_WARM,
    {
        "name": "Walnut and beech 6.6 mm",
        "plates": [
            ("Walnut 1.8, three-veneer, cross-grain", "axial"),
            ("Beech 3.0, three-veneer, cross-grain", "axial"),
            ("Walnut 1.8, three-veneer, cross-grain", "axial"),
        ],
        "note": "Beech between walnut faces.",
    }
    | _UREA_HOT,
    {
        "name": "Walnut 5.4 mm, nine veneers",
        "plates": [("Walnut 1.8, three-veneer, cross-grain", "axial")] * 3,
        "note": "The smallest toms of the oiled line.",
    }
    | _UREA_HOT,
    {
        "name": "Beech 9 mm, nine veneers",
        "plates": [("Beech 3.0, three-veneer, cross-grain", "axial")] * 3,
        "note": "Loud snares.",
    }
    | _UREA_HOT,
    {
        "name": "Beech 7 mm, seven veneers",
        "plates": [
            ("Beech 3.0, three-veneer, cross-grain", "axial"),
            ("Beech 1.0, one veneer, long-grain", "around"),
            ("Beech 3.0, three-veneer, cross-grain", "axial"),
        ],
        "note": "The single veneer lies crosswise between two plates.",
    }
    | _UREA_HOT,
    {
        "name": "Khaya 4.8 mm, six veneers",
        "plates": [("Khaya 2.4, three-veneer, cross-grain", "axial")] * 2,
        "seam_kind": "diagonal",
        "diagonal_angle_deg": 15.0,
        "note": "Two soft plates with slanted seams: warm toms.",
    }
    | _PVA_WARM,
    {
        "name": "Khaya 7.2 mm, nine veneers",
        "plates": [("Khaya 2.4, three-veneer, cross-grain", "axial")] * 3,
        "seam_kind": "diagonal",
        "diagonal_angle_deg": 15.0,
        "note": "Three soft plates with slanted seams: warm bass drums and snares.",
    }
    | _PVA_WARM,
]
