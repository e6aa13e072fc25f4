"""Woods and the plates made of them.

Published values stand with their source in the note of each wood. Sheet sizes, thicknesses and the choice of woods
are common practice in the trade, no source.
"""

from __future__ import annotations

from typing import Any

from routing.specs.moisture import change_coefficient

SPECIES: list[dict[str, Any]] = [
    {
        "name": "Yellow birch",
        "specific_gravity": 0.62,
        "change_radial_per_pct": 0.00256,
        "change_tangential_per_pct": 0.00338,
        "note": "USDA Wood Handbook: G at 12 % from Table 5-3a, coefficients from Table 13-5.",
    },
    {
        "name": "Sugar maple",
        "specific_gravity": 0.63,
        "change_radial_per_pct": 0.00165,
        "change_tangential_per_pct": 0.00353,
        "note": "USDA Wood Handbook: G at 12 % from Table 5-3a, coefficients from Table 13-5.",
    },
    {
        "name": "American beech",
        "specific_gravity": 0.64,
        "change_radial_per_pct": 0.00190,
        "change_tangential_per_pct": 0.00431,
        "note": "USDA Wood Handbook: G at 12 % from Table 5-3a, coefficients from Table 13-5.",
    },
    {
        "name": "Black walnut",
        "specific_gravity": 0.55,
        "change_radial_per_pct": 0.00190,
        "change_tangential_per_pct": 0.00274,
        "note": "USDA Wood Handbook: G at 12 % from Table 5-3a, coefficients from Table 13-5.",
    },
    {
        "name": "African mahogany (Khaya)",
        "specific_gravity": 0.45,
        "change_radial_per_pct": round(change_coefficient(2.5), 5),
        "change_tangential_per_pct": round(change_coefficient(4.5), 5),
        "note": (
            "Coefficients computed as 1 / (30·100/S − 30 + 10) from the shrinkage S in the USDA Wood Handbook, Table 4-4: "
            "2.5 % radial, 4.5 % tangential. G at 12 % from memory (0.42 on green volume); weigh a plate of your own."
        ),
    },
]

# A sheet is named long-grain when the grain of its faces runs along its longer side, else cross-grain. The faces of
# most plates stand along the shell's axis, so that they wrap easily: those come from cross-grain sheets, which give
# 2.5 m round the shell.
_CROSS_GRAIN = {"stock_length_mm": 1250.0, "stock_width_mm": 2500.0}
_LONG_GRAIN = {"stock_length_mm": 2500.0, "stock_width_mm": 1250.0}

PLATES: list[dict[str, Any]] = [
    {"name": "Birch 3.0, three-veneer, cross-grain", "species": "Yellow birch", "thickness_mm": 3.0, "veneers": 3}
    | _CROSS_GRAIN,
    {"name": "Birch 1.8, three-veneer, cross-grain", "species": "Yellow birch", "thickness_mm": 1.8, "veneers": 3}
    | _CROSS_GRAIN,
    {"name": "Birch 1.0, one veneer, long-grain", "species": "Yellow birch", "thickness_mm": 1.0, "veneers": 1}
    | _LONG_GRAIN,
    {"name": "Maple 3.0, three-veneer, cross-grain", "species": "Sugar maple", "thickness_mm": 3.0, "veneers": 3}
    | _CROSS_GRAIN,
    {"name": "Maple 1.8, three-veneer, cross-grain", "species": "Sugar maple", "thickness_mm": 1.8, "veneers": 3}
    | _CROSS_GRAIN,
    {"name": "Maple 1.0, one veneer, long-grain", "species": "Sugar maple", "thickness_mm": 1.0, "veneers": 1}
    | _LONG_GRAIN,
    {"name": "Maple 0.9, one veneer, cross-grain", "species": "Sugar maple", "thickness_mm": 0.9, "veneers": 1}
    | _CROSS_GRAIN,
    {"name": "Maple 0.9, one veneer, long-grain", "species": "Sugar maple", "thickness_mm": 0.9, "veneers": 1}
    | _LONG_GRAIN,
    {"name": "Beech 3.0, three-veneer, cross-grain", "species": "American beech", "thickness_mm": 3.0, "veneers": 3}
    | _CROSS_GRAIN,
    {"name": "Beech 1.0, one veneer, long-grain", "species": "American beech", "thickness_mm": 1.0, "veneers": 1}
    | _LONG_GRAIN,
    {"name": "Walnut 1.8, three-veneer, cross-grain", "species": "Black walnut", "thickness_mm": 1.8, "veneers": 3}
    | _CROSS_GRAIN,
    {
        "name": "Khaya 2.4, three-veneer, cross-grain",
        "species": "African mahogany (Khaya)",
        "thickness_mm": 2.4,
        "veneers": 3,
    }
    | _CROSS_GRAIN,
]
