"""Hardware sets: lugs, hoops, rods and fittings for each role and size, and the parts list that goes into the bags.

Hole patterns, lengths and masses are usual figures, from memory; a shop measures its own parts. One bag holds parts of
one kind, so that a scale can tell that one is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Lug:
    name: str
    fields: dict[str, Any]  # of the hardware set
    holes: int
    mass_g: float
    gasket_g: float
    screw: str
    screw_g: float
    washer_g: float


def _lug(
    name: str,
    kind: str,
    *,
    spacing: float,
    first: float,
    round_mm: float,
    axial: float,
    mouth: float,
    mass: float,
    screw: str = "M4",
    thread_depth: float = 22.0,
) -> Lug:
    m4 = screw == "M4"
    return Lug(
        name,
        {
            "lug_name": name,
            "lug_kind": kind,
            "lug_hole_spacing_mm": spacing,
            "lug_hole_diameter_mm": 4.8 if m4 else 5.8,
            "lug_screw": screw,
            "lug_first_hole_from_edge_mm": first,
            "lug_footprint_round_mm": round_mm,
            "lug_footprint_axial_mm": axial,
            "lug_projection_mm": 24.0 if kind == "double_ended" else 22.0,
            "rod_lug_mouth_from_edge_mm": mouth,
            "rod_thread_depth_mm": thread_depth,
        },
        holes=2 if spacing else 1,
        mass_g=mass,
        gasket_g=0.8,
        screw=f"{screw} lug screw",
        screw_g=2.4 if m4 else 4.2,
        washer_g=0.6 if m4 else 0.9,
    )


# A double-ended lug reaches for both hoops, so its length goes with the depth of the drum.
TUBE_76 = _lug(
    "76 mm tube lug", "double_ended", spacing=50.8, first=38.0, round_mm=22.0, axial=76.0, mouth=25.5, mass=58.0
)
TUBE_90 = _lug(
    "90 mm tube lug", "double_ended", spacing=50.8, first=44.0, round_mm=22.0, axial=90.0, mouth=25.0, mass=66.0
)
BRIDGE = _lug("bridge lug", "single_ended", spacing=25.4, first=30.0, round_mm=24.0, axial=58.0, mouth=16.0, mass=48.0)
POINT = _lug("one-screw lug", "single_ended", spacing=0.0, first=32.0, round_mm=20.0, axial=34.0, mouth=17.0, mass=31.0)
BASS_LUG = _lug(
    "bass lug",
    "single_ended",
    spacing=38.1,
    first=60.0,
    round_mm=28.0,
    axial=80.0,
    mouth=45.0,
    mass=86.0,
    screw="M5",
    thread_depth=28.0,
)

# Mass of one piece in g by nominal diameter.
PRESSED_HOOP_G = {8: 270, 10: 350, 12: 440, 13: 490, 14: 560, 16: 660, 18: 760}
HEAVY_HOOP_G = {12: 620, 13: 690, 14: 780}
CAST_HOOP_G = {12: 820, 13: 930, 14: 1050}
WOOD_HOOP_G = {18: 450, 20: 505, 22: 560, 24: 615}
HEAD_G = {8: 85, 10: 110, 12: 140, 13: 155, 14: 175, 16: 215, 18: 260, 20: 340, 22: 400, 24: 460}
HOOPS = {
    "pressed steel 1.6 mm": PRESSED_HOOP_G,
    "pressed steel 2.3 mm": HEAVY_HOOP_G,
    "die-cast": CAST_HOOP_G,
    "maple": WOOD_HOOP_G,
}

VENT = {
    "name": "vent with badge",
    "kind": "vent",
    "pieces": 1,
    "holes": [[0.0, 0.0, 12.7]],
    "footprint_round_mm": 38.0,
    "footprint_axial_mm": 38.0,
    "height_fraction": 0.5,
}
STRAINER = {
    "name": "strainer",
    "kind": "strainer",
    "pieces": 1,
    "screw": "M5",
    "holes": [[0.0, -22.0, 5.5], [0.0, 22.0, 5.5]],
    "footprint_round_mm": 46.0,
    "footprint_axial_mm": 80.0,
    "height_mm": -57.0,
}
BUTT = {
    "name": "butt plate",
    "kind": "butt",
    "pieces": 1,
    "screw": "M5",
    "holes": [[0.0, -16.0, 5.5], [0.0, 16.0, 5.5]],
    "footprint_round_mm": 40.0,
    "footprint_axial_mm": 52.0,
    "height_mm": -48.0,
}
BRACKET = {
    "name": "tom bracket",
    "kind": "bracket",
    "pieces": 1,
    "screw": "M6",
    "holes": [[-20.0, -27.0, 6.6], [20.0, -27.0, 6.6], [-20.0, 27.0, 6.6], [20.0, 27.0, 6.6]],
    "footprint_round_mm": 60.0,
    "footprint_axial_mm": 75.0,
    "height_fraction": 0.45,
}
LEG = {
    "name": "leg bracket",
    "kind": "leg",
    "pieces": 3,
    "screw": "M6",
    "holes": [[0.0, -19.0, 6.6], [0.0, 19.0, 6.6]],
    "footprint_round_mm": 42.0,
    "footprint_axial_mm": 90.0,
    "height_mm": -95.0,
}
SPUR = {
    "name": "spur",
    "kind": "spur",
    "pieces": 2,
    "screw": "M6",
    "holes": [[-15.0, -26.0, 6.6], [15.0, -26.0, 6.6], [-15.0, 26.0, 6.6], [15.0, 26.0, 6.6]],
    "footprint_round_mm": 50.0,
    "footprint_axial_mm": 80.0,
    "height_mm": -100.0,
}
MOUNT = {
    "name": "tom mount plate",
    "kind": "mount",
    "pieces": 1,
    "screw": "M6",
    "holes": [[-32.0, -25.0, 6.6], [32.0, -25.0, 6.6], [-32.0, 25.0, 6.6], [32.0, 25.0, 6.6], [0.0, 0.0, 28.0]],
    "footprint_round_mm": 90.0,
    "footprint_axial_mm": 75.0,
    "height_fraction": 0.6,
}

Row = tuple[str, str, int, float, float, int]  # part, bag, quantity, mass of one in g, ± %, spare


def _parts(role: str, diameter: int, lugs: int, lug: Lug, hoop: str, rod: str, rod_g: float, mount: bool) -> list[Row]:
    castings = lugs if lug.fields["lug_kind"] == "double_ended" else 2 * lugs
    screws, rods = castings * lug.holes, 2 * lugs
    hoop_g, head_g = float(HOOPS[hoop][diameter]), float(HEAD_G[diameter])
    rows: list[Row] = [
        (lug.name, "lugs", castings, lug.mass_g, 2.0, 0),
        ("lug gasket", "gaskets", castings, lug.gasket_g, 4.0, 2),
        (lug.screw, "lug screws", screws, lug.screw_g, 1.0, 2),
        ("lug screw washer", "lug screws", screws, lug.washer_g, 3.0, 2),
        (rod, "rods", rods, rod_g, 1.5, 1),
        ("rod washer, steel", "rod washers", rods, 0.9, 2.0, 2),
        ("rod washer, nylon", "nylon washers", rods, 0.3, 3.0, 2),
        ("vent with badge", "fittings", 1, 24.0, 2.0, 0),
        ("drum key", "fittings", 1, 32.0, 2.0, 0),
    ]
    if role == "snare":
        rows += [
            ("strainer", "fittings", 1, 215.0, 2.0, 0),
            ("butt plate", "fittings", 1, 72.0, 2.0, 0),
            ("strainer or butt gasket", "gaskets", 2, 1.6, 4.0, 0),
            ("M5 strainer screw", "fitting screws", 4, 4.2, 1.0, 1),
            ("strainer screw washer", "fitting screws", 4, 0.9, 3.0, 1),
            ("snare strap", "fitting screws", 2, 2.2, 3.0, 1),
            ("snare wires, 20 strands", "", 1, 68.0, 3.0, 0),
            (f"batter hoop, {hoop}", "", 1, hoop_g, 2.0, 0),
            (f"snare-side hoop, {hoop}", "", 1, hoop_g - 10, 2.0, 0),
            ("batter head, coated", "", 1, head_g, 4.0, 0),
            ("snare-side head", "", 1, head_g - 25, 4.0, 0),
        ]
        return rows
    rows += [
        (f"hoop, {hoop}", "", 2, hoop_g, 2.0, 0),
        ("batter head", "", 1, head_g, 4.0, 0),
        ("resonant head", "", 1, head_g, 4.0, 0),
    ]
    if role == "rack_tom":
        rows += [
            ("bracket gasket", "gaskets", 1, 3.0, 4.0, 0),
            ("tom bracket", "fittings", 1, 260.0, 2.0, 0),
            ("wing bolt", "fittings", 1, 24.0, 2.0, 0),
            ("M6 bracket screw", "fitting screws", 4, 7.5, 1.0, 1),
            ("bracket screw washer", "fitting screws", 4, 1.8, 3.0, 1),
        ]
    elif role == "floor_tom":
        rows += [
            ("leg bracket gasket", "gaskets", 3, 2.0, 4.0, 0),
            ("leg bracket", "fittings", 3, 118.0, 2.0, 0),
            ("wing bolt", "fittings", 3, 24.0, 2.0, 0),
            ("M6 bracket screw", "fitting screws", 6, 7.5, 1.0, 1),
            ("bracket screw washer", "fitting screws", 6, 1.8, 3.0, 1),
            ("leg with rubber foot", "", 3, 330.0, 2.0, 0),
            ("memory lock", "", 3, 38.0, 2.0, 0),
        ]
    elif role == "bass":
        rows += [
            ("claw", "claws", rods, 74.0, 2.0, 1),
            ("claw pad", "gaskets", rods, 0.8, 4.0, 2),
            ("spur gasket", "gaskets", 2, 2.5, 4.0, 0),
            ("M6 spur screw", "fitting screws", 8, 7.5, 1.0, 1),
            ("spur screw washer", "fitting screws", 8, 1.8, 3.0, 1),
            ("spur", "", 2, 380.0, 2.0, 0),
            ("hoop protector", "", 1, 28.0, 3.0, 0),
            ("batter patch", "", 1, 3.0, 5.0, 0),
        ]
        if mount:
            rows += [
                ("M6 mount plate screw", "fitting screws", 4, 7.5, 1.0, 1),
                ("mount plate screw washer", "fitting screws", 4, 1.8, 3.0, 1),
                ("tom mount plate", "", 1, 410.0, 2.0, 0),
            ]
    return rows


def _fittings(role: str, lugs: int, mount: bool) -> list[dict[str, Any]]:
    if role == "snare":
        return [STRAINER, BUTT, VENT]
    if role == "rack_tom":
        return [BRACKET, VENT]
    if role == "floor_tom":
        # Three does not divide eight: the usual answer is two wide gaps and a narrow one.
        return [LEG | {"angles_deg": [0, 135, 225]} if lugs == 8 else LEG, VENT]
    # With eight lugs no gap lies where spurs belong; they go beside the lug, clear of its foot.
    spur = SPUR | {"angles_deg": [57, 303]} if lugs == 8 else SPUR
    return [spur, *([MOUNT] if mount else []), VENT]


def _set(
    name: str, role: str, diameter: int, lugs: int, lug: Lug, hoop: str, *, rod_mm: int = 42, mount: bool = False
) -> dict[str, Any]:
    rod = f"{rod_mm} mm claw rod" if role == "bass" else f"{rod_mm} mm tension rod"
    rod_g = round(4.0 + 0.19 * rod_mm, 1)
    return lug.fields | {
        "name": name,
        "role": role,
        "for_diameter_in": float(diameter),
        "lugs_per_head": lugs,
        "hoop_holes": lugs,
        "hoop_kind": hoop,
        "rod_name": rod,
        "rod_length_mm": float(rod_mm),
        "rod_stack_above_edge_mm": 28.0 if role == "bass" else 10.0,
        "mount_projection_mm": {"rack_tom": 38.0, "floor_tom": 30.0, "bass": 34.0, "snare": 36.0}[role],
        "fittings": _fittings(role, lugs, mount),
        "parts": _parts(role, diameter, lugs, lug, hoop, rod, rod_g, mount),
    }


_THIN, _HEAVY, _CAST, _WOOD = HOOPS
HARDWARE: list[dict[str, Any]] = [
    _set("Snare 14 × 5.5, ten tube lugs", "snare", 14, 10, TUBE_90, _HEAVY, rod_mm=48),
    _set("Snare 14 × 5.5, eight tube lugs, die-cast", "snare", 14, 8, TUBE_90, _CAST, rod_mm=48),
    _set("Snare 14 × 5.5, eight tube lugs", "snare", 14, 8, TUBE_90, _HEAVY, rod_mm=48),
    _set("Snare 14, ten bridge lugs", "snare", 14, 10, BRIDGE, _HEAVY),
    _set("Snare 14, eight bridge lugs", "snare", 14, 8, BRIDGE, _HEAVY),
    _set("Snare 13, eight bridge lugs", "snare", 13, 8, BRIDGE, _HEAVY),
    _set("Snare 12 × 5, six tube lugs", "snare", 12, 6, TUBE_76, _HEAVY, rod_mm=48),
    _set("Rack tom 8, five one-screw lugs", "rack_tom", 8, 5, POINT, _THIN),
    _set("Rack tom 10, six bridge lugs", "rack_tom", 10, 6, BRIDGE, _THIN),
    _set("Rack tom 10, five one-screw lugs", "rack_tom", 10, 5, POINT, _THIN),
    _set("Rack tom 12, six bridge lugs", "rack_tom", 12, 6, BRIDGE, _THIN),
    _set("Rack tom 12, six one-screw lugs", "rack_tom", 12, 6, POINT, _THIN),
    _set("Rack tom 13, six bridge lugs", "rack_tom", 13, 6, BRIDGE, _THIN),
    _set("Rack tom 13, six one-screw lugs", "rack_tom", 13, 6, POINT, _THIN),
    _set("Floor tom 14, eight bridge lugs", "floor_tom", 14, 8, BRIDGE, _THIN),
    _set("Floor tom 14, six one-screw lugs", "floor_tom", 14, 6, POINT, _THIN),
    _set("Floor tom 16, eight bridge lugs", "floor_tom", 16, 8, BRIDGE, _THIN),
    _set("Floor tom 16, six one-screw lugs", "floor_tom", 16, 6, POINT, _THIN),
    _set("Floor tom 18, eight bridge lugs", "floor_tom", 18, 8, BRIDGE, _THIN),
    _set("Bass drum 18, eight lugs", "bass", 18, 8, BASS_LUG, _WOOD, rod_mm=92),
    _set("Bass drum 20, eight lugs", "bass", 20, 8, BASS_LUG, _WOOD, rod_mm=92),
    _set("Bass drum 20, eight lugs, tom mount", "bass", 20, 8, BASS_LUG, _WOOD, rod_mm=92, mount=True),
    _set("Bass drum 22, ten lugs", "bass", 22, 10, BASS_LUG, _WOOD, rod_mm=92),
    _set("Bass drum 22, eight lugs, tom mount", "bass", 22, 8, BASS_LUG, _WOOD, rod_mm=92, mount=True),
    _set("Bass drum 24, ten lugs", "bass", 24, 10, BASS_LUG, _WOOD, rod_mm=92),
]
