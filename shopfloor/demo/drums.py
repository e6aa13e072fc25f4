"""The drum models of the three lines. Sizes are diameter × depth in inches."""

from __future__ import annotations

from typing import Any

LINES: list[dict[str, Any]] = [
    {"name": "Heron", "finish_kind": "lacquer", "note": "Maple and birch, lacquered."},
    {"name": "Bittern", "finish_kind": "oil", "note": "Walnut and beech, oiled by hand."},
    {"name": "Wren", "finish_kind": "wrap", "note": "Khaya and birch, wrapped."},
]

# diameter, depth, lay-up, batter edge, resonant edge, hardware
Row = tuple[float, float, str, str, str, str]
Drums = dict[str, list[Row]]

_45, _ROUND, _SHALLOW = "Double 45", "45 with 3 mm round-over", "Shallow 30"
_BRIGHT, _FULL, _SNARE = "Bright single 45", "Full round for 4.8 mm walls", "Snare side"

HERON: Drums = {
    "snare": [
        (14, 5.5, "Birch 9 mm, nine veneers", _45, _SNARE, "Snare 14 × 5.5, ten tube lugs"),
        (14, 6.5, "Maple 9 mm, nine veneers", _45, _SNARE, "Snare 14, ten bridge lugs"),
        (13, 6, "Birch 9 mm, nine veneers", _BRIGHT, _SNARE, "Snare 13, eight bridge lugs"),
        (12, 5, "Maple 7 mm, seven veneers", _BRIGHT, _SNARE, "Snare 12 × 5, six tube lugs"),
    ],
    "rack_tom": [
        (8, 7, "Maple 5.4 mm, nine veneers", _45, _45, "Rack tom 8, five one-screw lugs"),
        (10, 7, "Maple 7 mm, seven veneers", _45, _45, "Rack tom 10, six bridge lugs"),
        (10, 8, "Maple 7 mm, seven veneers", _45, _45, "Rack tom 10, six bridge lugs"),
        (12, 8, "Maple 7 mm, seven veneers", _45, _45, "Rack tom 12, six bridge lugs"),
        (12, 9, "Maple 7 mm, seven veneers", _45, _45, "Rack tom 12, six bridge lugs"),
        (13, 9, "Maple 7 mm, seven veneers", _45, _45, "Rack tom 13, six bridge lugs"),
    ],
    "floor_tom": [
        (14, 12, "Maple 7 mm, seven veneers", _45, _ROUND, "Floor tom 14, eight bridge lugs"),
        (14, 14, "Maple 7 mm, seven veneers", _45, _ROUND, "Floor tom 14, eight bridge lugs"),
        (16, 14, "Maple 7 mm, seven veneers", _45, _ROUND, "Floor tom 16, eight bridge lugs"),
        (16, 16, "Maple 7 mm, seven veneers", _45, _ROUND, "Floor tom 16, eight bridge lugs"),
        (18, 16, "Maple 7 mm, seven veneers", _45, _ROUND, "Floor tom 18, eight bridge lugs"),
    ],
    "bass": [
        (18, 14, "Maple 9 mm, nine veneers", _45, _45, "Bass drum 18, eight lugs"),
        (20, 14, "Maple 9 mm, nine veneers", _ROUND, _45, "Bass drum 20, eight lugs"),
        (20, 16, "Maple 9 mm, nine veneers", _ROUND, _45, "Bass drum 20, eight lugs"),
        (22, 16, "Maple 9 mm, nine veneers", _ROUND, _45, "Bass drum 22, ten lugs"),
        (22, 18, "Maple 9 mm, nine veneers", _ROUND, _45, "Bass drum 22, ten lugs"),
        (24, 14, "Maple 9 mm, nine veneers", _ROUND, _45, "Bass drum 24, ten lugs"),
    ],
}
BITTERN: Drums = {
    "snare": [
        (14, 5.5, "Beech 9 mm, nine veneers", _45, _SNARE, "Snare 14 × 5.5, eight tube lugs, die-cast"),
        (14, 6.5, "Maple 4.5 mm, vintage thin", _45, _SNARE, "Snare 14, eight bridge lugs"),
        (13, 6, "Beech 9 mm, nine veneers", _45, _SNARE, "Snare 13, eight bridge lugs"),
        (12, 5, "Beech 7 mm, seven veneers", _45, _SNARE, "Snare 12 × 5, six tube lugs"),
    ],
    "rack_tom": [
        (8, 7, "Walnut 5.4 mm, nine veneers", _45, _45, "Rack tom 8, five one-screw lugs"),
        (10, 7, "Walnut and beech 6.6 mm", _45, _45, "Rack tom 10, six bridge lugs"),
        (10, 8, "Walnut and beech 6.6 mm", _45, _45, "Rack tom 10, six bridge lugs"),
        (12, 8, "Walnut and beech 6.6 mm", _45, _45, "Rack tom 12, six bridge lugs"),
        (12, 9, "Walnut and beech 6.6 mm", _45, _45, "Rack tom 12, six bridge lugs"),
        (13, 9, "Walnut and beech 6.6 mm", _45, _45, "Rack tom 13, six bridge lugs"),
    ],
    "floor_tom": [
        (14, 12, "Walnut and beech 6.6 mm", _45, _ROUND, "Floor tom 14, eight bridge lugs"),
        (14, 14, "Walnut and beech 6.6 mm", _45, _ROUND, "Floor tom 14, eight bridge lugs"),
        (16, 14, "Walnut and beech 6.6 mm", _45, _ROUND, "Floor tom 16, eight bridge lugs"),
        (16, 16, "Walnut and beech 6.6 mm", _45, _ROUND, "Floor tom 16, eight bridge lugs"),
        (18, 16, "Walnut and beech 6.6 mm", _45, _ROUND, "Floor tom 18, eight bridge lugs"),
    ],
    "bass": [
        (18, 14, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 18, eight lugs"),
        (20, 14, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 20, eight lugs"),
        (20, 16, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 20, eight lugs"),
        (22, 16, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 22, ten lugs"),
        (22, 18, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 22, ten lugs"),
        (24, 14, "Walnut and beech 6.6 mm", _SHALLOW, _45, "Bass drum 24, ten lugs"),
    ],
}
WREN: Drums = {
    "snare": [
        (14, 5.5, "Birch 9 mm, nine veneers", _45, _SNARE, "Snare 14 × 5.5, eight tube lugs"),
        (14, 6.5, "Khaya 7.2 mm, nine veneers", _45, _SNARE, "Snare 14, eight bridge lugs"),
        (13, 6, "Birch 7 mm, seven veneers", _45, _SNARE, "Snare 13, eight bridge lugs"),
        (12, 5, "Birch 7 mm, seven veneers", _45, _SNARE, "Snare 12 × 5, six tube lugs"),
    ],
    "rack_tom": [
        (8, 7, "Birch 5.4 mm, nine veneers", _45, _45, "Rack tom 8, five one-screw lugs"),
        (10, 7, "Khaya 4.8 mm, six veneers", _FULL, _45, "Rack tom 10, five one-screw lugs"),
        (10, 8, "Khaya 4.8 mm, six veneers", _FULL, _45, "Rack tom 10, five one-screw lugs"),
        (12, 8, "Khaya 4.8 mm, six veneers", _FULL, _45, "Rack tom 12, six one-screw lugs"),
        (12, 9, "Khaya 4.8 mm, six veneers", _FULL, _45, "Rack tom 12, six one-screw lugs"),
        (13, 9, "Khaya 4.8 mm, six veneers", _FULL, _45, "Rack tom 13, six one-screw lugs"),
    ],
    "floor_tom": [
        (14, 12, "Khaya 4.8 mm, six veneers", _FULL, _45, "Floor tom 14, six one-screw lugs"),
        (14, 14, "Khaya 4.8 mm, six veneers", _FULL, _45, "Floor tom 14, six one-screw lugs"),
        (16, 14, "Khaya 4.8 mm, six veneers", _FULL, _45, "Floor tom 16, six one-screw lugs"),
        (16, 16, "Khaya 4.8 mm, six veneers", _FULL, _45, "Floor tom 16, six one-screw lugs"),
        (18, 16, "Birch 7 mm, seven veneers", _45, _ROUND, "Floor tom 18, eight bridge lugs"),
    ],
    "bass": [
        (18, 14, "Khaya 7.2 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 18, eight lugs"),
        (20, 14, "Khaya 7.2 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 20, eight lugs, tom mount"),
        (20, 16, "Khaya 7.2 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 20, eight lugs, tom mount"),
        (22, 16, "Khaya 7.2 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 22, eight lugs, tom mount"),
        (22, 18, "Birch 9 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 22, eight lugs, tom mount"),
        (24, 14, "Birch 9 mm, nine veneers", _SHALLOW, _ROUND, "Bass drum 24, ten lugs"),
    ],
}

CODE_WORDS = {"snare": "snare", "rack_tom": "tom", "floor_tom": "floor", "bass": "bass"}
# By diameter: depth, flat and overall width of the snare bed in mm, batter and snare-side pitch at the lugs in Hz.
# From memory; pitches within the published 220 to 349 Hz and 330 to 391 Hz of a 14 in snare.
SNARE_BEDS: dict[float, tuple[float, float, float]] = {
    14: (1.2, 50.0, 100.0),
    13: (1.1, 46.0, 92.0),
    12: (1.0, 42.0, 84.0),
}
PITCHES: dict[float, tuple[float, float]] = {14: (290.0, 350.0), 13: (320.0, 375.0), 12: (345.0, 390.0)}


def _models() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for line, drums in (("Heron", HERON), ("Bittern", BITTERN), ("Wren", WREN)):
        for role, sizes in drums.items():
            for diameter, depth, lay_up, batter, resonant, hardware in sizes:
                size = f"{diameter:g}x{depth:g}".replace(".", "-")
                row: dict[str, Any] = {
                    "code": f"{line.lower()}-{CODE_WORDS[role]}-{size}",
                    "line": line,
                    "role": role,
                    "nominal_diameter_in": float(diameter),
                    "nominal_depth_in": float(depth),
                    "lay_up": lay_up,
                    "batter_edge": batter,
                    "resonant_edge": resonant,
                    "hardware": hardware,
                }
                if role == "snare":
                    bed, pitch = SNARE_BEDS[diameter], PITCHES[diameter]
                    row |= dict(
                        zip(("snare_bed_depth_mm", "snare_bed_flat_mm", "snare_bed_width_mm"), bed, strict=True)
                    )
                    row |= dict(zip(("batter_pitch_hz", "resonant_pitch_hz"), pitch, strict=True))
                rows.append(row)
    return rows


MODELS = _models()
