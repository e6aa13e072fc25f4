"""Finishes: lacquers, oils and wraps with invented names. Films, dwells and grits are usual figures, from memory."""

from __future__ import annotations

from typing import Any


def _coat(
    name: str, stage: str, surface: str, wet: float, solids: float, grit: int | None, dwell_h: float
) -> dict[str, Any]:
    return {
        "name": name,
        "stage": stage,
        "surface": surface,
        "wet_film_um": wet,
        "volume_solids_pct": solids,
        "grit_before": grit,
        "base_dwell_h": dwell_h,
    }


_INSIDE = _coat("inside sealer", "inside_seal", "inside", 60.0, 30.0, 240, 2.0)
_SEAL_1 = _coat("first seal coat", "seal", "outside", 90.0, 32.0, 220, 2.0)
_SEAL_2 = _coat("second seal coat", "seal", "outside", 90.0, 32.0, 320, 12.0)
_SEALS = [_INSIDE, _SEAL_1, _SEAL_2]


def _colour(name: str, coats: int) -> list[dict[str, Any]]:
    return [
        _coat(f"{name}, coat {number}", "colour", "outside", 70.0, 30.0, 320 if number == 1 else None, 2.0)
        for number in range(1, coats + 1)
    ]


def _clear(gloss: str, coats: int, first_grit: int | None) -> list[dict[str, Any]]:
    grit = 400 if gloss == "satin" else 600
    return [
        _coat(f"{gloss} clear, coat {number}", "clear", "outside", 90.0, 33.0, first_grit if number == 1 else grit, 2.0)
        for number in range(1, coats + 1)
    ]


# Test cards of the two clear lacquers mixed: per cent of gloss base, gloss units at 60°. Invented.
_CARDS = [(0.0, 11.0), (25.0, 21.0), (50.0, 39.0), (75.0, 63.0), (100.0, 91.0)]

_SATIN = {
    "kind": "lacquer",
    "gloss_target_gu": 30.0,
    "cure_to_drill_h": 48.0,
    "cure_to_pack_h": 120.0,
    "drawdowns": _CARDS,
}
_GLOSS = {
    "kind": "lacquer",
    "gloss_target_gu": 85.0,
    "cure_to_drill_h": 72.0,
    "cure_to_pack_h": 240.0,
    "drawdowns": _CARDS,
}
_OIL = {"kind": "oil", "gloss_target_gu": 15.0, "cure_to_drill_h": 48.0, "cure_to_pack_h": 96.0}


def _oil(name: str) -> list[dict[str, Any]]:
    """Three thin coats by hand. Nearly all of it stays; it hardens by air, so the film-forming limit is lower."""
    by_hand = {"transfer_efficiency": 0.9, "film_forming_min_c": 10.0}
    return [
        _coat(f"{name}, first coat", "oil", "both", 35.0, 60.0, 220, 24.0) | by_hand,
        _coat(f"{name}, second coat", "oil", "both", 25.0, 60.0, 320, 24.0) | by_hand,
        _coat(f"{name}, last coat", "oil", "outside", 20.0, 60.0, 400, 24.0) | by_hand,
    ]


LACQUERS_AND_OILS: list[dict[str, Any]] = [
    {"name": "Clear Water satin", "coats": _SEALS + _clear("satin", 3, 320)} | _SATIN,
    {"name": "Clear Water gloss", "coats": _SEALS + _clear("gloss", 6, 320)} | _GLOSS,
    {"name": "Kingfisher Blue satin", "coats": _SEALS + _colour("kingfisher blue", 2) + _clear("satin", 2, None)}
    | _SATIN,
    {"name": "Kingfisher Blue gloss", "coats": _SEALS + _colour("kingfisher blue", 2) + _clear("gloss", 5, None)}
    | _GLOSS,
    {"name": "Rowan Red gloss", "coats": _SEALS + _colour("rowan red", 3) + _clear("gloss", 5, None)} | _GLOSS,
    {"name": "Sedge Green satin", "coats": _SEALS + _colour("sedge green", 2) + _clear("satin", 2, None)} | _SATIN,
    {"name": "Weir Black satin", "coats": _SEALS + _colour("weir black", 2) + _clear("satin", 2, None)} | _SATIN,
    {"name": "Millstone White gloss", "coats": _SEALS + _colour("millstone white", 3) + _clear("gloss", 5, None)}
    | _GLOSS,
    {"name": "Alder Oil", "coats": _oil("alder oil")} | _OIL,
    {"name": "Dark Peat Oil", "coats": _oil("dark peat oil")} | _OIL,
    {"name": "Honey Oil", "coats": _oil("honey oil")} | _OIL,
]

WRAP_SHEETS: list[dict[str, Any]] = [
    {
        "name": "Sparkle sheet 0.5",
        "thickness_mm": 0.5,
        "sheet_length_mm": 1372.0,
        "sheet_width_mm": 610.0,
        "note": "Shells of 18 in and more take two pieces of this sheet.",
    },
    {
        "name": "Swirl sheet 0.7, long",
        "thickness_mm": 0.7,
        "sheet_length_mm": 2000.0,
        "sheet_width_mm": 610.0,
        "overlap_mm": 22.0,
        "note": "Long enough to go round any drum in one piece.",
    },
]

_WRAP = {"kind": "wrap", "cure_to_drill_h": 24.0, "cure_to_pack_h": 48.0}
WRAPS: list[dict[str, Any]] = [
    {"name": "Starling Sparkle", "wrap": "Sparkle sheet 0.5"} | _WRAP,
    {"name": "Brook Blue Sparkle", "wrap": "Sparkle sheet 0.5"} | _WRAP,
    {"name": "Foxglove Sparkle", "wrap": "Sparkle sheet 0.5"} | _WRAP,
    {"name": "Pebble Grey Swirl", "wrap": "Swirl sheet 0.7, long"} | _WRAP,
    {"name": "Moonlit Cream Swirl", "wrap": "Swirl sheet 0.7, long"} | _WRAP,
]
