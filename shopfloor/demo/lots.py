"""Lots of material in the demo shop, all invented: plates, glue, lacquer, wrap, hardware, heads and snare wires.

Days are counted from the day the demo is loaded: one lot has expired, one is empty, one is on hold.
"""

from __future__ import annotations

from typing import Any

LOTS: list[dict[str, Any]] = [
    {
        "code": "PL-0412",
        "kind": "plate",
        "name": "Birch 3.0, three-veneer, cross-grain",
        "state": "open",
        "days_ago": 40,
    },
    {"code": "PL-0413", "kind": "plate", "name": "Birch 1.0, one veneer, long-grain", "state": "open", "days_ago": 40},
    {"code": "PL-0431", "kind": "plate", "name": "Maple 3.0, three-veneer, cross-grain", "days_ago": 12},
    {
        "code": "PL-0398",
        "kind": "plate",
        "name": "Birch 3.0, three-veneer, cross-grain",
        "state": "empty",
        "days_ago": 95,
    },
    {"code": "GC-0207", "kind": "glue", "name": "resin powder", "state": "open", "days_ago": 60, "keeps_days": 300},
    {"code": "GC-0211", "kind": "glue", "name": "PVA dispersion", "state": "open", "days_ago": 30, "keeps_days": 330},
    {"code": "GC-0195", "kind": "glue", "name": "hardener", "state": "open", "days_ago": 380, "keeps_days": -15},
    {
        "code": "CO-0118",
        "kind": "coating",
        "name": "Clear base, satin",
        "state": "open",
        "days_ago": 25,
        "keeps_days": 150,
    },
    {"code": "CO-0121", "kind": "coating", "name": "Sanding sealer", "days_ago": 8, "keeps_days": 170},
    {"code": "WR-0056", "kind": "wrap", "name": "Sparkle sheet 0.5", "state": "open", "days_ago": 70},
    {"code": "HW-0330", "kind": "hardware", "name": "Lugs and rods, chromed", "state": "open", "days_ago": 20},
    {
        "code": "HW-0326",
        "kind": "hardware",
        "name": "Lugs and rods, chromed",
        "state": "held",
        "days_ago": 34,
        "note": "Plating flakes at the screw holes; waiting for the supplier.",
    },
    {"code": "HD-0144", "kind": "head", "name": "Coated and clear heads, mixed sizes", "state": "open", "days_ago": 18},
    {"code": "SW-0029", "kind": "snare_wire", "name": "Snare wires, 20 strands", "state": "open", "days_ago": 50},
]
