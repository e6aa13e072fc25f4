"""Every hole of a drum: angle, arc from the datum, height, diameter and tool, and whether the holes keep their distance.

Angles run from the seam datum counter-clockwise seen from the batter side; seen from outside with the batter edge up,
arcs therefore run to the right. Heights count from the batter edge.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass, replace

from routing.specs.errors import SpecWarning, require_between
from routing.specs.hole_layout import LayoutRules, Placed, angle_apart, place_all
from routing.specs.hole_rules import (
    Hole,
    edge_warnings,
    footprint_warnings,
    hole_warnings,
    seam_warnings,
    wrap_warnings,
)
from routing.specs.inputs import HardwareInputs, Role
from routing.specs.seam_lines import SeamLine, keep_out, leanings

LARGEST_BRAD_POINT_MM = 13.0


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """A piece of hardware as it will stand on the shell, for the drawing."""

    name: str
    kind: str
    piece: int
    angle_deg: float
    arc_mm: float
    height_mm: float
    footprint_round_mm: float
    footprint_axial_mm: float


@dataclass(frozen=True, slots=True)
class DrillingResult:
    holes: tuple[Hole, ...]  # numbered round from the datum, then down
    pieces: tuple[PlacedPiece, ...]
    turn_deg: float  # of the drum's frame against the seam datum
    circumference_mm: float
    height_mm: float
    lugs_per_head: int
    lug_pitch_deg: float
    lug_pitch_arc_mm: float
    lug_chord_mm: float  # divider setting
    arc_tolerance_mm: float
    angle_tolerance_deg: float  # the same as an angle
    height_tolerance_mm: float
    nearest_seam_mm: float  # closest the middle of any hole comes to a plate seam
    wrap_seam_deg: float | None  # where the wrap's (first) overlap goes: under a row of lugs
    wrap_seams_deg: tuple[float, ...]  # one for each piece of the wrap
    warnings: tuple[SpecWarning, ...]


def lug_arc(outside_diameter_mm: float, lugs: int) -> float:
    """Arc from lug to lug in mm: π·D/N; 1 to 100 divisions of a circle of 1 to 2000 mm."""
    _check_circle(outside_diameter_mm, lugs)
    return math.pi * outside_diameter_mm / lugs


def lug_chord(outside_diameter_mm: float, lugs: int) -> float:
    """Straight distance from lug to lug in mm, for the dividers: D·sin(180°/N); ranges as for ``lug_arc``."""
    _check_circle(outside_diameter_mm, lugs)
    return outside_diameter_mm * math.sin(math.pi / lugs)


def drilling(
    *,
    role: Role,
    hardware: HardwareInputs,
    outside_diameter_mm: float,
    depth_mm: float,
    seams: Sequence[SeamLine] = (),
    wrap_pieces: int = 0,
    rules: LayoutRules | None = None,
) -> DrillingResult:
    """The whole hole list of a shell of 150 to 1020 mm outside diameter (over the finish) and 40 to 800 mm depth.

    The frame is turned, within half a lug pitch of the outer seam, to the nearest place where its holes keep clear of the
    seams of all plates, else to where they keep furthest. ``wrap_pieces`` is 0 without a wrap (0 to 8); the overlaps of a
    wrap go under rows of lugs, which hold them down: the seams of plates are to be kept clear, those of a wrap covered.
    Each rule that is broken gives a warning that names the two things and their distance. SpecError for a layout that
    can't be (see ``place_all``) and for a hole that runs off the shell.
    """
    require_between(outside_diameter_mm, 150.0, 1020.0, field="nominal_diameter_in", unit="mm")
    require_between(depth_mm, 40.0, 800.0, field="nominal_depth_in", unit="mm")
    require_between(wrap_pieces, 0, 8, field="finish.wrap.sheet_length_mm", unit="pieces")
    keep = rules or LayoutRules()
    circumference = math.pi * outside_diameter_mm
    per_degree = circumference / 360
    placed, warnings = place_all(role, hardware, depth_mm, per_degree, keep)
    pitch = 360 / hardware.lugs.per_head
    turn = _best_turn(_punched(placed, per_degree), seams, pitch, per_degree, depth_mm, keep)
    turned = [replace(piece, angle_deg=(piece.angle_deg + turn) % 360) for piece in placed]
    drilled = _drilled(turned, per_degree, circumference, wrap_pieces > 0)
    holes = [hole for hole, _ in drilled]
    wrap_seams = tuple((pitch / 2 + n * 360 / wrap_pieces + turn) % 360 for n in range(wrap_pieces))
    to_seams = [[_seam_distance(hole, seam, per_degree, depth_mm) for seam in seams] for hole in holes]
    warnings.extend(seam_warnings(drilled, seams, to_seams, keep))
    warnings.extend(edge_warnings(drilled, role, depth_mm, keep))
    warnings.extend(hole_warnings(drilled, circumference, keep))
    warnings.extend(footprint_warnings(turned, circumference, depth_mm, per_degree))
    warnings.extend(wrap_warnings(wrap_seams, turned, per_degree))
    return DrillingResult(
        holes=tuple(holes),
        pieces=tuple(
            PlacedPiece(
                piece.name,
                piece.kind,
                piece.piece,
                piece.angle_deg,
                piece.angle_deg * per_degree,
                piece.height_mm,
                piece.footprint_round_mm,
                piece.footprint_axial_mm,
            )
            for piece in turned
        ),
        turn_deg=turn,
        circumference_mm=circumference,
        height_mm=depth_mm,
        lugs_per_head=hardware.lugs.per_head,
        lug_pitch_deg=pitch,
        lug_pitch_arc_mm=lug_arc(outside_diameter_mm, hardware.lugs.per_head),
        lug_chord_mm=lug_chord(outside_diameter_mm, hardware.lugs.per_head),
        arc_tolerance_mm=keep.arc_tolerance_mm,
        angle_tolerance_deg=keep.arc_tolerance_mm / per_degree,
        height_tolerance_mm=keep.height_tolerance_mm,
        nearest_seam_mm=min((min(row) for row in to_seams if row), default=circumference),
        wrap_seam_deg=wrap_seams[0] if wrap_seams else None,
        wrap_seams_deg=wrap_seams,
        warnings=tuple(warnings),
    )


def _check_circle(diameter: float, lugs: int) -> None:
    require_between(diameter, 1.0, 2000.0, field="outside_diameter_mm", unit="mm")
    require_between(lugs, 1, 100, field="lugs")


def _punched(placed: Sequence[Placed], per_degree: float) -> set[tuple[float, float]]:
    """Angle and height of every hole in the drum's frame."""
    return {
        (round((piece.angle_deg + round_mm / per_degree) % 360, 6), round(piece.height_mm + axial_mm, 6))
        for piece in placed
        for round_mm, axial_mm, _ in piece.holes
    }


def _seam_distance(hole: Hole, seam: SeamLine, per_degree: float, depth: float) -> float:
    """From the middle of a hole square to the seam, in mm on the outside."""
    if seam.slant_deg == 0:
        return angle_apart(hole.angle_deg, seam.angle_deg) * per_degree
    apart = min(angle_apart(hole.angle_deg, crossing) for crossing in leanings(seam, hole.height_mm, depth, per_degree))
    return apart * per_degree * math.cos(math.radians(seam.slant_deg))


def _best_turn(
    punched: set[tuple[float, float]],
    seams: Sequence[SeamLine],
    pitch: float,
    per_degree: float,
    depth: float,
    keep: LayoutRules,
) -> float:
    """The smallest turn of the frame that clears every seam, else the one that clears them best."""
    # For every needed distance, the turns at which some hole would lie on some seam, in order round the circle.
    hits: dict[float, list[float]] = {}
    for seam in seams:
        needed = keep_out(seam, keep) / per_degree / math.cos(math.radians(seam.slant_deg))
        heights = {height for _, height in punched} if seam.slant_deg else {0.0}
        crossings = {height: leanings(seam, height, depth, per_degree) for height in heights}
        hits.setdefault(round(needed, 9), []).extend(
            (crossing - angle) % 360
            for angle, height in punched
            for crossing in crossings[height if seam.slant_deg else 0.0]
        )
    ordered = {needed: sorted({round(turn, 6) % 360 for turn in turns}) for needed, turns in hits.items() if turns}
    best_turn, best_margin = 0.0, -math.inf
    for step in range(int(pitch / 2 / keep.turn_step_deg) + 1):
        for turn in (step * keep.turn_step_deg, -step * keep.turn_step_deg):
            margin = min((_nearest(turns, turn % 360) - needed for needed, turns in ordered.items()), default=math.inf)
            if margin >= -1e-9:
                return turn
            if margin > best_margin + 1e-9:
                best_turn, best_margin = turn, margin
    return best_turn


def _nearest(ordered: Sequence[float], angle: float) -> float:
    place = bisect(ordered, angle)
    return min(angle_apart(angle, ordered[place - 1]), angle_apart(angle, ordered[place % len(ordered)]))


def _drilled(
    placed: Sequence[Placed], per_degree: float, circumference: float, wrapped: bool
) -> list[tuple[Hole, Placed]]:
    """Every hole with the piece it belongs to, numbered round from the datum and down."""
    found = []
    for piece in placed:
        for round_mm, axial_mm, diameter in piece.holes:
            require_between(diameter, 0.5, 120.0, field=piece.field, unit="mm")
            angle = (piece.angle_deg + round_mm / per_degree) % 360
            if angle > 360 - 1e-9:  # a hair before the datum is on it
                angle = 0.0
            found.append((angle, piece.height_mm + axial_mm, diameter, piece))
    found.sort(key=lambda each: (round(each[0], 6), each[1]))
    return [
        (
            Hole(
                number=number,
                feature=piece.name,
                kind=piece.kind,
                piece=piece.piece,
                angle_deg=angle,
                arc_mm=angle * per_degree,
                height_mm=height,
                diameter_mm=diameter,
                tool=_tool(diameter, wrapped),
            ),
            piece,
        )
        for number, (angle, height, diameter, piece) in enumerate(found, start=1)
    ]


def _tool(diameter: float, wrapped: bool) -> str:
    """A step bit does not lift a wrap (published advice on drilling without tear-out)."""
    if diameter > LARGEST_BRAD_POINT_MM:
        return "flat-bottom"
    return "step bit" if wrapped else "brad-point"
