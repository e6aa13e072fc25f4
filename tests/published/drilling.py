"""Layout of lugs, distances of holes, threads and clearance holes, held against tables and the rules of the trade."""

from __future__ import annotations

from dataclasses import replace

from routing.specs.drilling import DrillingResult, drilling, lug_arc, lug_chord
from routing.specs.errors import SpecError
from routing.specs.hardware import hardware
from routing.specs.hole_layout import LayoutRules, angle_apart
from routing.specs.inputs import FittingInputs, LugKind, Role
from routing.specs.threads import clearance_hole, thread
from routing.specs.units import MM_PER_INCH, mm_from_inches
from tests.published.checks import Check, Mark
from tests.routing.specs.example_drums import ROD
from tests.routing.specs.example_drums import hardware as example

_SEGMENTS = "engineering table of chords of a circle in equal segments"
_FACTORS = "machinist's spacing table of chordal factors"
_HAND = "π·D/N and D·sin(180°/N) by hand"
_ISO273 = "ISO 273, reference table of clearance holes"
_UNC = "thread reference table, UNC and metric"
_SCREWS = "screw thread chart of numbered sizes"
_GAPS = "division of the circle by hand"
_LUGS = range(4, 17)


def _drum(role: Role, lugs: int, *fittings: FittingInputs) -> DrillingResult:
    return drilling(
        role=role, hardware=replace(example(lugs), fittings=fittings), outside_diameter_mm=403.2, depth_mm=406.4
    )


def _fitting(kind: str, pieces: int = 1, height: float = 203.2, hole: float = 5.0) -> FittingInputs:
    return FittingInputs(kind, kind, None, pieces, ((0.0, 0.0, hole),), 5.0, 5.0, height_mm=height)


def _clean(found: DrillingResult, *codes: str) -> bool:
    return not any(warning.code in codes for warning in found.warnings)


def _in_gaps_opposite(lugs: int) -> bool:
    found = _drum(Role.SNARE, lugs, _fitting("strainer"), _fitting("butt"))
    rows = [piece.angle_deg for piece in found.pieces if piece.kind == "lug"]
    both = [piece.angle_deg for piece in found.pieces if piece.kind in ("strainer", "butt")]
    in_gaps = all(min(angle_apart(angle, row) for row in rows) > 1 for angle in both)
    return _clean(found, "odd_lugs", "not_opposite") and in_gaps and abs(angle_apart(*both) - 180) < 1e-9


def _vent_square_to_strainer(lugs: int) -> bool:
    found = _drum(Role.SNARE, lugs, _fitting("strainer"), _fitting("vent"))
    strainer, vent = (
        next(piece.angle_deg for piece in found.pieces if piece.kind == kind) for kind in ("strainer", "vent")
    )
    return abs(angle_apart(strainer, vent) - 90) < 1e-9


def _claw_at_six(lugs: int) -> bool:
    found = _drum(Role.BASS, lugs)
    return any(
        angle_apart(piece.angle_deg, found.turn_deg) < 180 / lugs - 1e-9
        for piece in found.pieces
        if piece.kind == "lug"
    )


def _refused_for(hoop_holes: int, lugs: int) -> str:
    try:
        drilling(
            role=Role.BASS,
            hardware=replace(example(lugs), hoop_holes=hoop_holes),
            outside_diameter_mm=555.6,
            depth_mm=457.2,
        )
    except SpecError as refused:
        return refused.code
    return "accepted"


def _vent_warns(rim_mm: float) -> bool:
    return not _clean(_drum(Role.RACK_TOM, 6, _fitting("vent", height=rim_mm + 6.35, hole=12.7)), "hole_near_edge")


def _engagement(length_mm: float) -> bool:
    rod = replace(ROD, length_mm=length_mm, stack_above_shell_edge_mm=14.0, lug_mouth_from_edge_mm=16.0)
    found = hardware(replace(example(8), rod=rod)).rod
    return found is not None and found.fits


CHECKS = [
    Check(
        "chords of 4, 6, 8, 10, 12, 16 segments of radius 1 m",
        _SEGMENTS,
        (1414.2, 1000.0, 765.4, 618.0, 517.6, 390.2),
        lambda: tuple(lug_chord(2000.0, n) for n in (4, 6, 8, 10, 12, 16)),
        0.05,
    ),
    Check(
        "chord of 24 segments of radius 3 m, worked",
        _SEGMENTS,
        0.7833,
        lambda: lug_chord(2000.0, 24) / 1000 * 3,
        0.0002,
    ),
    Check(
        "chordal factors of 5, 7, 8, 9, 10, 12 divisions",
        _FACTORS,
        (0.5878, 0.4339, 0.3827, 0.3420, 0.3090, 0.2588),
        lambda: tuple(lug_chord(1000.0, n) / 1000 for n in (5, 7, 8, 9, 10, 12)),
        0.00005,
    ),
    Check(
        "divider setting of 14 × 8 lugs",
        _HAND,
        134.9,
        lambda: lug_chord(352.4, 8),
        0.05,
        Mark.COMPUTED,
        trap=138.4,  # the arc, set straight
    ),
    Check(
        "arcs of 14 × 10, 16 × 8, 22 × 10",
        _HAND,
        (110.7, 158.3, 174.5),
        lambda: tuple(lug_arc(d, n) for d, n in ((352.4, 10), (403.2, 8), (555.6, 10))),
        0.05,
        Mark.COMPUTED,
    ),
    Check(
        "half a millimetre round a 14 in shell as an angle",
        "0.5 / (π·352.4/360) by hand",
        0.163,
        lambda: (
            drilling(
                role=Role.SNARE, hardware=example(8), outside_diameter_mm=352.4, depth_mm=139.7
            ).angle_tolerance_deg
        ),
        0.001,
        Mark.COMPUTED,
    ),
    Check(
        "what can be held by hand round the shell",
        "compiled drum-building guide: diagonals equal within half a millimetre",
        0.5,
        lambda: LayoutRules().arc_tolerance_mm,
    ),
    Check(
        "numbers of lugs that put strainer and butt into gaps opposite",
        _GAPS,
        tuple(float(n) for n in _LUGS if n % 2 == 0),
        lambda: tuple(float(n) for n in _LUGS if _in_gaps_opposite(n)),
        mark=Mark.COMPUTED,
    ),
    Check(
        "numbers of lugs with a gap square to the strainer",
        _GAPS,
        (4.0, 8.0, 12.0, 16.0),
        lambda: tuple(float(n) for n in _LUGS if n % 2 == 0 and _vent_square_to_strainer(n)),
        mark=Mark.COMPUTED,
    ),
    Check(
        "numbers of lugs that let three legs stand 120° apart in gaps",
        _GAPS,
        (6.0, 9.0, 12.0, 15.0),
        lambda: tuple(float(n) for n in _LUGS if _clean(_drum(Role.FLOOR_TOM, n, _fitting("leg", 3)), "legs_uneven")),
        mark=Mark.COMPUTED,
    ),
    Check(
        "legs of an eight-lug floor tom",
        "common practice, no source",
        (0.0, 135.0, 225.0),
        lambda: tuple(
            piece.angle_deg for piece in _drum(Role.FLOOR_TOM, 8, _fitting("leg", 3)).pieces if piece.kind == "leg"
        ),
        1e-9,
        Mark.COMMON_PRACTICE,
    ),
    Check(
        "bass drums with a claw at six o'clock",
        "common practice, no source: the pedal clamps there",
        0.0,
        lambda: float(sum(_claw_at_six(n) for n in _LUGS)),
        mark=Mark.COMMON_PRACTICE,
    ),
    Check(
        "ten-hole hoops for eight lugs",
        "buyer's blog: hoops that came only with ten holes after eight lugs were bought",
        "hoop_holes",
        lambda: _refused_for(10, 8),
    ),
    Check(
        "rim of a vent 18.9 and 19.1 mm from the edge",
        "small maker's page on vents: at least 3/4 in",
        (1.0, 0.0),
        lambda: (float(_vent_warns(18.9)), float(_vent_warns(19.1))),
    ),
    Check(
        "clearance holes of M4, fine to coarse",
        _ISO273,
        (4.3, 4.5, 4.8),
        lambda: tuple(clearance_hole("M4", fit) for fit in ("fine", "medium", "coarse")),
        1e-9,
    ),
    Check(
        "medium clearance holes of M2.5, M3, M5, M6, M8, M10",
        _ISO273,
        (2.9, 3.4, 5.5, 6.6, 9.0, 11.0),
        lambda: tuple(clearance_hole(name) for name in ("M2.5", "M3", "M5", "M6", "M8", "M10")),
        1e-9,
    ),
    Check(
        "12-24 UNC, major diameter, mm",
        _UNC,
        5.486,
        lambda: thread("12-24 UNC").major_mm,
        0.0005,
        trap=5.556,  # 7/32 in, by which rods are often called
    ),
    Check(
        "numbered sizes 0, 4, 8, 10, 12, in",
        _SCREWS,
        (0.060, 0.112, 0.164, 0.190, 0.216),
        lambda: tuple(thread(f"{n}-32").major_mm / MM_PER_INCH for n in (0, 4, 8, 10, 12)),
        1e-9,
    ),
    Check(
        "a quarter turn of a 12-24 rod, mm",
        "25.4 / 24 / 4 by hand",
        0.2646,
        lambda: thread("12-24").pitch_mm / 4,
        0.0001,
        Mark.COMPUTED,
    ),
    Check(
        "a rod needs 1.5 diameters in the nut",
        "from memory: 8.2 mm of a 12-24 rod",
        (0.0, 1.0),
        lambda: (float(_engagement(38.2)), float(_engagement(38.3))),
        mark=Mark.FROM_MEMORY,
    ),
    Check(
        "lugs, lug screws and rods of a ten-lug snare with double-ended lugs",
        "common practice, no source: N, 2 for each, 2N",
        (10.0, 20.0, 20.0),
        lambda: _counts(10),
        mark=Mark.COMMON_PRACTICE,
    ),
    Check(
        "two-inch lug spacing",
        "drum-component tutorial: 2 in between the holes of a lug",
        50.8,
        lambda: mm_from_inches(2),
        1e-9,
    ),
]


def _counts(lugs: int) -> tuple[float, ...]:
    one = replace(example(lugs).lugs, kind=LugKind.DOUBLE_ENDED, hole_spacing_mm=50.8)
    found = hardware(replace(example(lugs), lugs=one, parts=()))
    return float(found.lugs), float(found.lug_screws), float(found.rods)
