"""Every hole of a drum: angle, arc from the datum, height, diameter and tool, and whether the holes keep their distance.

Angles run from the seam datum counter-clockwise seen from the batter side; seen from outside with the batter edge up,
arcs therefore run to the right. Heights count from the batter edge.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.hole_layout import LayoutRules, Placed, angle_apart, place_all
from routing.specs.inputs import HardwareInputs, Role
from routing.specs.layup import LayUpResult

LARGEST_BRAD_POINT_MM = 13.0
Run = tuple[float, float, float, float]  # arc and height of both ends of a line on the unrolled outside, mm


@dataclass(frozen=True, slots=True)
class SeamLine:
    """A plate seam as the holes must keep clear of it: where it crosses mid-height, its scarf and its slant."""

    plate: int  # 1 is the outer plate
    angle_deg: float
    scarf_length_mm: float = 0.0
    slant_deg: float = 0.0  # from the shell axis; it may lean either way


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


def seam_lines(layup: LayUpResult) -> tuple[SeamLine, ...]:
    """The seams of every plate of a lay-up, one for each piece."""
    return tuple(
        SeamLine(plate.position, angle, plate.scarf_length_mm, plate.slant_deg)
        for plate in layup.plates
        for angle in plate.seam_angles_deg
    )


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
    warnings.extend(_seam_warnings(drilled, seams, to_seams, keep))
    warnings.extend(_edge_warnings(drilled, role, depth_mm, keep))
    warnings.extend(_hole_warnings(drilled, circumference, keep))
    warnings.extend(_footprint_warnings(turned, circumference, depth_mm, per_degree))
    warnings.extend(_wrap_warnings(wrap_seams, turned, per_degree))
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


def seam_runs(seams: Sequence[SeamLine], circumference_mm: float, height_mm: float) -> list[Run]:
    """How the seams run over the unrolled outside, as straight lines in mm: arc and height of both ends.

    A diagonal seam may lean either way, so both lines are given, crossing at mid-height. What runs over the datum goes on
    at the other end; an upright seam at the datum is left out, because the ends of the map stand for it.
    """
    found: set[Run] = set()
    for seam in seams:
        middle = seam.angle_deg % 360 / 360 * circumference_mm
        half = height_mm / 2 * math.tan(math.radians(seam.slant_deg))
        for lean in (half, -half) if half else (0.0,):
            for turn in (-circumference_mm, 0.0, circumference_mm):
                run = _inside((middle + turn - lean, 0.0, middle + turn + lean, height_mm), circumference_mm)
                if run is not None:
                    found.add(run)
    return sorted(found)


def _inside(run: Run, width: float) -> Run | None:
    """The part of a line that lies between the two ends of the map, or None."""
    x0, y0, x1, y1 = run
    if x0 == x1:
        return (round(x0, 3), y0, round(x0, 3), y1) if 0.5 < x0 < width - 0.5 else None
    starts, stops = sorted((-x0 / (x1 - x0), (width - x0) / (x1 - x0)))
    first, last = max(0.0, starts), min(1.0, stops)
    if last - first < 1e-9:
        return None
    ends = [(x0 + (x1 - x0) * t, y0 + (y1 - y0) * t) for t in (first, last)]
    (ax, ay), (bx, by) = ((round(x, 3), round(y, 3)) for x, y in ends)
    return ax, ay, bx, by


def _keep_out(seam: SeamLine, keep: LayoutRules) -> float:
    return max(keep.seam_keep_out_mm, seam.scarf_length_mm / 2)


def _leanings(seam: SeamLine, height: float, depth: float, per_degree: float) -> tuple[float, ...]:
    """Where a seam crosses a height, in degrees: two places when it is slanted and may lean either way."""
    if seam.slant_deg == 0:
        return (seam.angle_deg,)
    along = (height - depth / 2) * math.tan(math.radians(seam.slant_deg)) / per_degree
    return seam.angle_deg + along, seam.angle_deg - along


def _seam_distance(hole: Hole, seam: SeamLine, per_degree: float, depth: float) -> float:
    """From the middle of a hole square to the seam, in mm on the outside."""
    if seam.slant_deg == 0:
        return angle_apart(hole.angle_deg, seam.angle_deg) * per_degree
    apart = min(
        angle_apart(hole.angle_deg, crossing) for crossing in _leanings(seam, hole.height_mm, depth, per_degree)
    )
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
        needed = _keep_out(seam, keep) / per_degree / math.cos(math.radians(seam.slant_deg))
        heights = {height for _, height in punched} if seam.slant_deg else {0.0}
        crossings = {height: _leanings(seam, height, depth, per_degree) for height in heights}
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


def _label(hole: Hole) -> str:
    return f"Hole {hole.number} ({hole.feature} {hole.piece})"


def _seam_warnings(
    drilled: Sequence[tuple[Hole, Placed]],
    seams: Sequence[SeamLine],
    to_seams: Sequence[Sequence[float]],
    keep: LayoutRules,
) -> Iterator[SpecWarning]:
    wanted = [_keep_out(seam, keep) for seam in seams]
    for (hole, piece), row in zip(drilled, to_seams, strict=True):
        for seam, apart, least in zip(seams, row, wanted, strict=True):
            if apart < least - 1e-6:
                yield SpecWarning(
                    "hole_near_seam",
                    piece.field,
                    f"{_label(hole)} lies {apart:.1f} mm from the seam of plate {seam.plate} at "
                    f"{seam.angle_deg:g}°; keep {least:g} mm.",
                )


def _edge_warnings(
    drilled: Sequence[tuple[Hole, Placed]], role: Role, depth: float, keep: LayoutRules
) -> Iterator[SpecWarning]:
    for hole, piece in drilled:
        least = keep.bass_edge_mm if role is Role.BASS and hole.kind == "lug" else keep.edge_mm
        if hole.kind == "vent":
            least = keep.vent_edge_mm
        for side, distance in (("batter", hole.height_mm), ("resonant", depth - hole.height_mm)):
            rim = distance - hole.diameter_mm / 2
            if rim <= 0:
                raise SpecError(
                    "hole_off_the_shell",
                    piece.field,
                    f"{_label(hole)} would break through the {side} edge; move it into the shell.",
                )
            if rim < least - 1e-6:
                yield SpecWarning(
                    "hole_near_edge",
                    piece.field,
                    f"{_label(hole)} comes with its rim to {rim:.1f} mm from the {side} edge; keep {least:g} mm.",
                )


def _hole_warnings(
    drilled: Sequence[tuple[Hole, Placed]], circumference: float, keep: LayoutRules
) -> Iterator[SpecWarning]:
    widest = max((hole.diameter_mm for hole, _ in drilled), default=0.0)
    reach = max(keep.hole_to_hole_mm, keep.hole_to_hole_diameters * widest)
    for index, (first, owner) in enumerate(drilled):
        # Holes are in order round the shell: the ones that can be near follow at once, past the datum too.
        for step in range(1, len(drilled)):
            second, other = drilled[(index + step) % len(drilled)]
            round_apart = max(0.0, (second.arc_mm - first.arc_mm + 1e-6) % circumference - 1e-6)
            if round_apart > reach or (index + step >= len(drilled) and round_apart < 1e-5):
                break
            if owner is other:
                continue  # the maker of the part drilled it so
            apart = math.hypot(round_apart, first.height_mm - second.height_mm)
            least = max(
                keep.hole_to_hole_mm, keep.hole_to_hole_diameters * (first.diameter_mm + second.diameter_mm) / 2
            )
            if apart < least - 1e-6:
                yield SpecWarning(
                    "holes_close",
                    (other if owner.kind == "lug" else owner).field,
                    f"{_label(first)} and {_label(second)} are {apart:.1f} mm apart; keep {least:.0f} mm.",
                )


def _wrap_warnings(seams: Sequence[float], placed: Sequence[Placed], per_degree: float) -> Iterator[SpecWarning]:
    """An overlap wants hardware over it: it is what holds it down for years."""
    lugs = [piece for piece in placed if piece.kind == "lug"]
    for number, seam in enumerate(seams, start=1):
        nearest = min(lugs, key=lambda lug: angle_apart(lug.angle_deg, seam))
        off = angle_apart(nearest.angle_deg, seam) * per_degree
        if off > nearest.footprint_round_mm / 2 + 1e-6:
            yield SpecWarning(
                "wrap_seam_free",
                "finish.wrap.sheet_length_mm",
                f"Overlap {number} of the wrap at {seam:.1f}° lies {off:.0f} mm from the nearest row of lugs ({nearest.label});"
                " nothing holds it down.",
            )


def _footprint_warnings(
    placed: Sequence[Placed], circumference: float, depth: float, per_degree: float
) -> Iterator[SpecWarning]:
    fittings = [piece for piece in placed if piece.kind != "lug"]
    lugs = [piece for piece in placed if piece.kind == "lug"]
    # Two lugs of one head meet only when all do; two of one row when the drum is too shallow: look at both once.
    row = [piece for piece in lugs if piece.angle_deg == lugs[0].angle_deg]
    pairs = [(fitting, lug) for fitting in fittings for lug in lugs]
    pairs += [(fittings[a], fittings[b]) for b in range(len(fittings)) for a in range(b)]
    pairs += [*pairwise(row), (lugs[0], lugs[1])]
    for first, second in pairs:
        apart = abs(first.angle_deg - second.angle_deg) * per_degree
        round_gap = min(apart, circumference - apart) - (first.footprint_round_mm + second.footprint_round_mm) / 2
        axial_gap = abs(first.height_mm - second.height_mm) - (first.footprint_axial_mm + second.footprint_axial_mm) / 2
        if round_gap < -1e-6 and axial_gap < -1e-6 and {first.kind, second.kind} != {"vent", "badge"}:
            yield SpecWarning(
                "hardware_collides",
                first.field,
                f"{first.label} and {second.label} overlap by {min(-round_gap, -axial_gap):.1f} mm.",
            )
    for piece in (*fittings, *row):
        over = max(
            piece.footprint_axial_mm / 2 - piece.height_mm, piece.height_mm + piece.footprint_axial_mm / 2 - depth
        )
        if over > 1e-6:
            yield SpecWarning(
                "hardware_over_edge", piece.field, f"{piece.label} stands {over:.1f} mm over the bearing edge."
            )
