"""Every hole of a drum: angle, arc from the datum, height, diameter and tool, and whether the holes keep their distance."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from routing.specs.errors import SpecWarning, require_between
from routing.specs.hole_layout import LayoutRules, Placed, place_all
from routing.specs.inputs import HardwareInputs, Role

LARGEST_BRAD_POINT_MM = 13.0


@dataclass(frozen=True, slots=True)
class Hole:
    number: int
    feature: str
    kind: str
    piece: int
    angle_deg: float  # from the datum, counter-clockwise seen from the batter side
    arc_mm: float  # along the outside from the datum
    height_mm: float  # from the batter edge
    diameter_mm: float
    tool: str


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
    holes: tuple[Hole, ...]
    pieces: tuple[PlacedPiece, ...]
    turn_deg: float  # of the drum's frame against the seam datum
    circumference_mm: float
    height_mm: float
    lugs_per_head: int
    lug_pitch_deg: float
    lug_pitch_arc_mm: float
    lug_chord_mm: float  # divider setting
    arc_tolerance_mm: float
    height_tolerance_mm: float
    nearest_seam_mm: float  # closest any hole comes to a plate seam
    wrap_seam_deg: float | None  # where a wrap's overlap goes: under a row of lugs
    warnings: tuple[SpecWarning, ...]


def lug_arc(outside_diameter_mm: float, lugs: int) -> float:
    """Arc from lug to lug in mm: π·D/N."""
    return math.pi * outside_diameter_mm / lugs


def lug_chord(outside_diameter_mm: float, lugs: int) -> float:
    """Straight distance from lug to lug in mm, for the dividers: D·sin(180°/N)."""
    return outside_diameter_mm * math.sin(math.pi / lugs)


def drilling(
    *,
    role: Role,
    hardware: HardwareInputs,
    outside_diameter_mm: float,
    depth_mm: float,
    seam_angles_deg: Sequence[float],
    wrapped: bool = False,
    rules: LayoutRules | None = None,
) -> DrillingResult:
    """The whole hole list of a shell of 150 to 1020 mm outside diameter (over the finish) and 40 to 800 mm depth.

    The frame is turned, within half a lug pitch of the outer seam, to where its holes keep furthest from the seams of all
    plates. Each rule that is broken gives a warning that names the two things and their distance. SpecError for a layout
    that can't be (see ``place_all``).
    """
    require_between(outside_diameter_mm, 150.0, 1020.0, field="nominal_diameter_in", unit="mm")
    require_between(depth_mm, 40.0, 800.0, field="nominal_depth_in", unit="mm")
    keep = rules or LayoutRules()
    circumference = math.pi * outside_diameter_mm
    per_degree = circumference / 360
    placed, warnings = place_all(role, hardware, depth_mm, per_degree)
    turn = _best_turn(placed, seam_angles_deg, 360 / hardware.lugs.per_head, per_degree, keep)
    turned = [replace(piece, angle_deg=(piece.angle_deg + turn) % 360) for piece in placed]
    holes = _holes(turned, per_degree, circumference)
    nearest = min(
        (_arc_between(hole.angle_deg, seam) * per_degree for hole in holes for seam in seam_angles_deg),
        default=math.inf,
    )
    warnings.extend(_seam_warnings(holes, seam_angles_deg, per_degree, keep))
    warnings.extend(_edge_warnings(holes, role, depth_mm, keep))
    warnings.extend(_hole_warnings(holes, circumference, keep))
    warnings.extend(_footprint_warnings(turned, circumference, depth_mm, per_degree))
    pitch = 360 / hardware.lugs.per_head
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
        arc_tolerance_mm=0.5,
        height_tolerance_mm=0.3,
        nearest_seam_mm=nearest if math.isfinite(nearest) else circumference,
        wrap_seam_deg=(pitch / 2 + turn) % 360 if wrapped else None,
        warnings=tuple(warnings),
    )


def _best_turn(
    placed: Sequence[Placed], seams: Sequence[float], pitch: float, per_degree: float, keep: LayoutRules
) -> float:
    """The smallest turn of the frame that clears every seam, else the one that clears them best."""
    angles = sorted(
        {(piece.angle_deg + round_mm / per_degree) % 360 for piece in placed for round_mm, _, _ in piece.holes}
    )
    best_turn, best_clearance = 0.0, -1.0
    steps = int(pitch / 2 / keep.turn_step_deg)
    for step in range(steps + 1):
        for turn in (step * keep.turn_step_deg, -step * keep.turn_step_deg):
            clearance = min((_arc_between(angle + turn, seam) for angle in angles for seam in seams), default=math.inf)
            if clearance * per_degree >= keep.seam_keep_out_mm:
                return turn
            if clearance > best_clearance + 1e-9:
                best_turn, best_clearance = turn, clearance
    return best_turn


def _holes(placed: Sequence[Placed], per_degree: float, circumference: float) -> list[Hole]:
    found = []
    for piece in placed:
        for round_mm, axial_mm, diameter in piece.holes:
            angle = (piece.angle_deg + round_mm / per_degree) % 360
            found.append(
                Hole(
                    0,
                    piece.name,
                    piece.kind,
                    piece.piece,
                    angle,
                    angle * per_degree % circumference,
                    piece.height_mm + axial_mm,
                    diameter,
                    "brad-point" if diameter <= LARGEST_BRAD_POINT_MM else "flat-bottom",
                )
            )
    found.sort(key=lambda hole: (round(hole.angle_deg, 6), hole.height_mm))
    return [replace(hole, number=number) for number, hole in enumerate(found, start=1)]


def _arc_between(first: float, second: float) -> float:
    difference = abs(first - second) % 360
    return min(difference, 360 - difference)


def _seam_warnings(
    holes: Sequence[Hole], seams: Sequence[float], per_degree: float, keep: LayoutRules
) -> Iterator[SpecWarning]:
    for hole in holes:
        for seam in seams:
            apart = _arc_between(hole.angle_deg, seam) * per_degree
            if apart < keep.seam_keep_out_mm - 1e-6:
                yield SpecWarning(
                    "hole_near_seam",
                    "hardware",
                    f"Hole {hole.number} ({hole.feature} {hole.piece}) lies {apart:.1f} mm from the plate seam at {seam:g}°; "
                    f"keep {keep.seam_keep_out_mm:g} mm.",
                )


def _edge_warnings(holes: Sequence[Hole], role: Role, depth: float, keep: LayoutRules) -> Iterator[SpecWarning]:
    for hole in holes:
        least = keep.bass_edge_mm if role is Role.BASS and hole.kind == "lug" else keep.edge_mm
        if hole.kind == "vent":
            least = keep.vent_edge_mm
        for side, distance in (("batter", hole.height_mm), ("resonant", depth - hole.height_mm)):
            rim = distance - hole.diameter_mm / 2
            if rim < least - 1e-6:
                yield SpecWarning(
                    "hole_near_edge",
                    "hardware",
                    f"Hole {hole.number} ({hole.feature} {hole.piece}) comes to {rim:.1f} mm from the {side} edge; keep {least:g} mm.",
                )


def _hole_warnings(holes: Sequence[Hole], circumference: float, keep: LayoutRules) -> Iterator[SpecWarning]:
    for first, second in combinations(holes, 2):
        if (first.feature, first.piece) == (second.feature, second.piece):
            continue  # the maker of the part drilled it so
        round_apart = abs(first.arc_mm - second.arc_mm)
        round_apart = min(round_apart, circumference - round_apart)
        if round_apart > 60:
            continue
        apart = math.hypot(round_apart, first.height_mm - second.height_mm)
        least = max(keep.hole_to_hole_mm, keep.hole_to_hole_diameters * (first.diameter_mm + second.diameter_mm) / 2)
        if apart < least - 1e-6:
            yield SpecWarning(
                "holes_close",
                "hardware",
                f"Holes {first.number} ({first.feature} {first.piece}) and {second.number} ({second.feature} {second.piece}) "
                f"are {apart:.1f} mm apart; keep {least:.0f} mm.",
            )


def _footprint_warnings(
    placed: Sequence[Placed], circumference: float, depth: float, per_degree: float
) -> Iterator[SpecWarning]:
    for first, second in combinations(placed, 2):
        apart = abs(first.angle_deg - second.angle_deg) * per_degree
        round_gap = min(apart, circumference - apart) - (first.footprint_round_mm + second.footprint_round_mm) / 2
        axial_gap = abs(first.height_mm - second.height_mm) - (first.footprint_axial_mm + second.footprint_axial_mm) / 2
        if round_gap < -1e-6 and axial_gap < -1e-6 and {first.kind, second.kind} != {"vent", "badge"}:
            yield SpecWarning(
                "hardware_collides",
                "hardware",
                f"{first.name} {first.piece} and {second.name} {second.piece} overlap by "
                f"{min(-round_gap, -axial_gap):.1f} mm.",
            )
    for piece in placed:
        over = max(
            piece.footprint_axial_mm / 2 - piece.height_mm, piece.height_mm + piece.footprint_axial_mm / 2 - depth
        )
        if over > 1e-6:
            yield SpecWarning(
                "hardware_over_edge",
                "hardware",
                f"{piece.name} {piece.piece} stands {over:.1f} mm over the bearing edge.",
            )
