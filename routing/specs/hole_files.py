"""The hole list as files for other programs: a drawing (DXF R12) and a drilling program in RS274/NGC words.

Both are neutral: they state their convention in themselves, and nothing in them belongs to one machine.
"""

from __future__ import annotations

import io
import math
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from routing.specs.drilling import DrillingResult
from routing.specs.errors import SpecError, require_between
from routing.specs.hole_rules import Hole
from routing.specs.seam_lines import SeamLine, seam_runs

_FRACTIONS = "¼½¾⅛⅜⅝⅞"
_SPELLED = {"×": "x", "–": "-", "—": "-", "′": "'", "″": '"', "ø": "o", "Ø": "O", "ß": "ss", "æ": "ae", "%": " pct "}

LINE_LENGTH = 120  # RS274/NGC lines are shorter than 256 characters

_COLOURS = {"SHELL": 7, "SEAMS": 8, "HARDWARE": 9, "HOLES": 1, "TEXT": 3}  # layer: number of its colour


@dataclass(frozen=True, slots=True)
class DrillProgramRules:
    """How a program drills; feeds and speeds from memory, to be set for each machine and bit."""

    safe_z_mm: float = 60.0  # over clamps and hoops of the fixture; the shell turns only up here
    clearance_z_mm: float = 3.0  # feed begins here
    break_through_mm: float = 2.0  # into the backing block
    feed_mm_per_min: float = 150.0
    speed_rpm: float = 2000.0  # published advice for wood bits: 1500 to 2500
    large_feed_mm_per_min: float = 60.0  # above 13 mm
    large_speed_rpm: float = 1000.0
    decimals: int = 3


def hole_map_dxf(drilling: DrillingResult, *, title: str, seams: Sequence[SeamLine] = ()) -> str:
    """The outside of a shell unrolled, as DXF R12 (AC1009) text, in mm.

    x is the arc from the datum, y the height above the resonant edge: seen from outside with the batter edge up, as the
    shell itself is seen. The format has no unit before R2000, so a TEXT entity states the millimetres. Layers: SHELL,
    SEAMS, HARDWARE, HOLES, TEXT. A hole that crosses the datum is drawn at both ends.
    """
    # Imported here: ezdxf takes long to load and only this function needs it.
    from ezdxf.addons.r12writer import R12FastStreamWriter

    width, height = drilling.circumference_mm, drilling.height_mm
    stream = io.StringIO()
    drawing = R12FastStreamWriter(stream, fixed_tables=True)
    size = max(2.5, min(4.0, height / 40))

    def outline(left: float, bottom: float, right: float, top: float, layer: str) -> None:
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        drawing.add_polyline_2d(corners, closed=True, layer=layer, color=_COLOURS[layer])

    def write(words: str, x: float, y: float) -> None:
        drawing.add_text(_plain(words), insert=(x, y), height=size, layer="TEXT", color=_COLOURS["TEXT"])

    outline(0.0, 0.0, width, height, "SHELL")
    # The ends of the map stand for an upright seam at the datum; the file says so in a line of its own.
    at_datum = any(seam.angle_deg % 360 == 0 and not seam.slant_deg for seam in seams)
    datum = [(0.0, 0.0, 0.0, height)] if at_datum else []
    for x0, y0, x1, y1 in [*datum, *seam_runs(seams, width, height)]:
        drawing.add_line((x0, height - y0), (x1, height - y1), layer="SEAMS", color=_COLOURS["SEAMS"])
    for piece in drilling.pieces:
        half_round, half_axial = piece.footprint_round_mm / 2, piece.footprint_axial_mm / 2
        y = height - piece.height_mm
        for x in _both_ends(piece.arc_mm, half_round, width):
            outline(x - half_round, y - half_axial, x + half_round, y + half_axial, "HARDWARE")
    for hole in drilling.holes:
        y = height - hole.height_mm
        for x in _both_ends(hole.arc_mm, hole.diameter_mm / 2, width):
            drawing.add_circle((x, y), hole.diameter_mm / 2, layer="HOLES", color=_COLOURS["HOLES"])
        write(f"{hole.number}", hole.arc_mm + hole.diameter_mm / 2 + 0.5, y + hole.diameter_mm / 2)
    for line, words in enumerate(
        (
            title,
            f"UNITS: MILLIMETRES. OUTSIDE UNROLLED, SEEN FROM OUTSIDE, {width:.2f} x {height:.2f} MM.",
            "BATTER EDGE AT THE TOP. LEFT AND RIGHT END ARE THE DATUM (OUTER SEAM). ARC RUNS TO THE RIGHT.",
        )
    ):
        write(words, 0.0, -(line + 2) * size * 1.6)
    drawing.close()
    return stream.getvalue()


def drilling_program(
    drilling: DrillingResult,
    *,
    title: str,
    wall_mm: float,
    rules: DrillProgramRules | None = None,
) -> str:
    """The holes as an RS274/NGC program for a shell held on a rotary A axis along X (words after NISTIR 6556).

    Wall 1 to 30 mm. X is mm from the batter edge, Z0 the outside of the shell under the drill, A the angle of the hole
    from the datum in degrees, counter-clockwise seen from the batter side. The shell is turned by G0 at the safe height
    only: in a canned cycle the rotary axis must stand still. One tool for each diameter, the small ones first.
    SpecError ``no_holes`` when there is nothing to drill.
    """
    keep = rules or DrillProgramRules()
    _check(keep, wall_mm)
    if not drilling.holes:
        raise SpecError("no_holes", "drilling.holes", "The drum has no holes, so there is no program to write.")
    lines = list(_program(drilling, title, wall_mm, keep))
    return "\n".join(lines) + "\n"


def _check(rules: DrillProgramRules, wall_mm: float) -> None:
    require_between(wall_mm, 1.0, 30.0, field="wall_mm", unit="mm")
    require_between(rules.clearance_z_mm, 0.5, 50.0, field="clearance_z_mm", unit="mm")
    require_between(rules.safe_z_mm, rules.clearance_z_mm, 500.0, field="safe_z_mm", unit="mm")
    require_between(rules.break_through_mm, 0.0, 30.0, field="break_through_mm", unit="mm")
    for value, field in (
        (rules.feed_mm_per_min, "feed_mm_per_min"),
        (rules.large_feed_mm_per_min, "large_feed_mm_per_min"),
    ):
        require_between(value, 1.0, 5000.0, field=field, unit="mm/min")
    for value, field in ((rules.speed_rpm, "speed_rpm"), (rules.large_speed_rpm, "large_speed_rpm")):
        require_between(value, 10.0, 30_000.0, field=field, unit="rpm")
    require_between(rules.decimals, 2, 6, field="decimals")


def _program(drilling: DrillingResult, title: str, wall: float, rules: DrillProgramRules) -> Iterator[str]:
    def number(value: float) -> str:
        return f"{value + 0.0:.{rules.decimals}f}"

    diameters = sorted({hole.diameter_mm for hole in drilling.holes})
    deepest = -(wall + rules.break_through_mm)
    yield "%"
    yield from _comment(title)
    for words in (
        "CAUTION: DRY-RUN FIRST. RUN THE WHOLE PROGRAM IN THE AIR WITH THE SPINDLE OFF, WATCH CLAMPS AND BACKING BLOCK,",
        "GUARDS CLOSED, HANDS AWAY FROM THE TURNING SHELL. CHECK ONE HOLE AGAINST THE HOLE LIST BEFORE DRILLING.",
        "YOUR MACHINE'S MANUAL AND THE RULES OF YOUR SHOP COME FIRST.",
        "CONVENTION: MILLIMETRES AND DEGREES, ABSOLUTE.",
        "X = DISTANCE FROM THE BATTER EDGE ALONG THE SHELL AXIS. X0 AT THE BATTER EDGE.",
        "Z0 = OUTSIDE OF THE SHELL UNDER THE DRILL, POSITIVE AWAY FROM THE SHELL. Y STAYS AT 0, OVER THE AXIS.",
        "A = ANGLE OF THE HOLE ROUND THE SHELL FROM THE DATUM, THE OUTER FACE SEAM, WHICH IS A0.",
        "A COUNTS COUNTER-CLOCKWISE SEEN FROM THE BATTER SIDE. IF YOUR ROTARY COUNTS THE OTHER WAY, REVERSE IT THERE:",
        "A MIRRORED DRUM IS SCRAP.",
        f"SHELL: {drilling.circumference_mm / math.pi:.2f} MM OUTSIDE DIAMETER, {drilling.height_mm:.2f} MM LONG.",
        f"WALL {wall:.2f} MM, {len(drilling.holes)} HOLES.",
        f"FEEDS AND SPEEDS ARE STARTING VALUES. DEPTH GOES {rules.break_through_mm:g} MM INTO A CURVED BACKING BLOCK.",
    ):
        yield from _comment(words)
    for tool, diameter in enumerate(diameters, start=1):
        kind = next(hole.tool for hole in drilling.holes if hole.diameter_mm == diameter)
        yield from _comment(f"T{tool} = {diameter:g} MM {kind}")
    yield "G17 G21 G40 G49 G80 G90 G94 G98"
    yield f"G0 Z{number(rules.safe_z_mm)}"
    yield f"G0 X{number(0)} Y{number(0)} A{number(0)}"
    for tool, diameter in enumerate(diameters, start=1):
        large = diameter > 13.0
        yield f"T{tool} M6"
        yield from _comment("SET TOOL LENGTH SO THAT Z0 IS THE OUTSIDE OF THE SHELL")
        yield f"G0 Z{number(rules.safe_z_mm)}"
        yield f"S{rules.large_speed_rpm if large else rules.speed_rpm:.0f} M3"
        yield f"F{rules.large_feed_mm_per_min if large else rules.feed_mm_per_min:.0f}"
        for hole in drilling.holes:
            if hole.diameter_mm == diameter:
                yield from _hole(hole, deepest, rules, number)
        yield "G80"
        yield "M5"
    yield f"G0 Z{number(rules.safe_z_mm)}"
    yield f"G0 A{number(0)}"
    yield "M30"
    yield "%"


def _hole(hole: Hole, deepest: float, rules: DrillProgramRules, number: Callable[[float], str]) -> Iterator[str]:
    yield from _comment(f"HOLE {hole.number}: {hole.feature} {hole.piece}, ARC {hole.arc_mm:.2f}")
    # The cycle before ended at the safe height; G80 lets the shell turn without drilling.
    yield "G80"
    yield f"G0 X{number(hole.height_mm)} A{number(hole.angle_deg)}"
    yield f"G81 X{number(hole.height_mm)} Y{number(0)} Z{number(deepest)} R{number(rules.clearance_z_mm)}"


def _comment(words: str) -> Iterator[str]:
    """A message that a control ignores: one pair of brackets, no bracket inside, plain letters, short lines."""
    rest = _plain(words).replace("(", "[").replace(")", "]").upper()
    while len(rest) > LINE_LENGTH - 2:
        cut = rest.rfind(" ", 0, LINE_LENGTH - 2)
        cut = cut if cut > 0 else LINE_LENGTH - 2
        yield f"({rest[:cut]})"
        rest = rest[cut:].strip()
    yield f"({rest})"


def _plain(words: str) -> str:
    """Text in ASCII on one line: both formats are older than Unicode."""
    spelled = "".join(f" {unicodedata.normalize('NFKD', c)}" if c in _FRACTIONS else _SPELLED.get(c, c) for c in words)
    folded = unicodedata.normalize("NFKD", spelled.replace("⁄", "/")).encode("ascii", "ignore").decode("ascii")
    return " ".join(folded.split())


def _both_ends(arc: float, half: float, width: float) -> tuple[float, ...]:
    """Where a thing is drawn on the unrolled shell; twice when it lies across the datum."""
    if arc - half < 0:
        return arc, arc + width
    if arc + half > width:
        return arc, arc - width
    return (arc,)
