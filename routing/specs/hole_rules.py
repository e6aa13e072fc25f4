"""A hole of a drum, and the distances that holes and hardware must keep: from seams, edges, each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from routing.specs.errors import SpecError, SpecWarning
from routing.specs.hole_layout import LayoutRules, Placed, angle_apart
from routing.specs.inputs import Role
from routing.specs.seam_lines import SeamLine, keep_out
from routing.specs.sentences import gettext_noop

_NEAR_SEAM = gettext_noop(
    "Hole {hole} ({feature} {piece}) lies {apart} mm from the seam of plate {plate} at {angle}°; keep {keep} mm."
)
_OFF_THE_EDGE = {
    "batter": gettext_noop(
        "Hole {hole} ({feature} {piece}) would break through the batter edge; move it into the shell."
    ),
    "resonant": gettext_noop(
        "Hole {hole} ({feature} {piece}) would break through the resonant edge; move it into the shell."
    ),
}
_NEAR_EDGE = {
    "batter": gettext_noop(
        "Hole {hole} ({feature} {piece}) comes with its rim to {rim} mm from the batter edge; keep {keep} mm."
    ),
    "resonant": gettext_noop(
        "Hole {hole} ({feature} {piece}) comes with its rim to {rim} mm from the resonant edge; keep {keep} mm."
    ),
}
_CLOSE = gettext_noop(
    "Hole {hole} ({feature} {piece}) and Hole {second} ({other} {other_piece}) are {apart} mm apart; keep {keep} mm."
)
_OVERLAP_FREE = gettext_noop(
    "Overlap {number} of the wrap at {angle}° lies {off} mm from the nearest row of lugs ({feature} {piece}); nothing "
    "holds it down."
)
_COLLIDE = gettext_noop("{feature} {piece} and {other} {other_piece} overlap by {overlap} mm.")
_OVER_EDGE = gettext_noop("{feature} {piece} stands {over} mm over the bearing edge.")


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


def seam_warnings(
    drilled: Sequence[tuple[Hole, Placed]],
    seams: Sequence[SeamLine],
    to_seams: Sequence[Sequence[float]],
    keep: LayoutRules,
) -> Iterator[SpecWarning]:
    wanted = [keep_out(seam, keep) for seam in seams]
    for (hole, piece), row in zip(drilled, to_seams, strict=True):
        for seam, apart, least in zip(seams, row, wanted, strict=True):
            if apart < least - 1e-6:
                yield SpecWarning(
                    "hole_near_seam",
                    piece.field,
                    _NEAR_SEAM.format(
                        hole=hole.number,
                        feature=hole.feature,
                        piece=hole.piece,
                        apart=f"{apart:.1f}",
                        plate=seam.plate,
                        angle=f"{seam.angle_deg:g}",
                        keep=f"{least:g}",
                    ),
                )


def edge_warnings(
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
                    _OFF_THE_EDGE[side].format(hole=hole.number, feature=hole.feature, piece=hole.piece),
                )
            if rim < least - 1e-6:
                yield SpecWarning(
                    "hole_near_edge",
                    piece.field,
                    _NEAR_EDGE[side].format(
                        hole=hole.number, feature=hole.feature, piece=hole.piece, rim=f"{rim:.1f}", keep=f"{least:g}"
                    ),
                )


def hole_warnings(
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
                    _CLOSE.format(
                        hole=first.number,
                        feature=first.feature,
                        piece=first.piece,
                        second=second.number,
                        other=second.feature,
                        other_piece=second.piece,
                        apart=f"{apart:.1f}",
                        keep=f"{least:.0f}",
                    ),
                )


def wrap_warnings(seams: Sequence[float], placed: Sequence[Placed], per_degree: float) -> Iterator[SpecWarning]:
    """An overlap wants hardware over it: it is what holds it down for years."""
    lugs = [piece for piece in placed if piece.kind == "lug"]
    for number, seam in enumerate(seams, start=1):
        nearest = min(lugs, key=lambda lug: angle_apart(lug.angle_deg, seam))
        off = angle_apart(nearest.angle_deg, seam) * per_degree
        if off > nearest.footprint_round_mm / 2 + 1e-6:
            yield SpecWarning(
                "wrap_seam_free",
                "finish.wrap.sheet_length_mm",
                _OVERLAP_FREE.format(
                    number=number, angle=f"{seam:.1f}", off=f"{off:.0f}", feature=nearest.name, piece=nearest.piece
                ),
            )


def footprint_warnings(
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
                _COLLIDE.format(
                    feature=first.name,
                    piece=first.piece,
                    other=second.name,
                    other_piece=second.piece,
                    overlap=f"{min(-round_gap, -axial_gap):.1f}",
                ),
            )
    for piece in (*fittings, *row):
        over = max(
            piece.footprint_axial_mm / 2 - piece.height_mm, piece.height_mm + piece.footprint_axial_mm / 2 - depth
        )
        if over > 1e-6:
            yield SpecWarning(
                "hardware_over_edge",
                piece.field,
                _OVER_EDGE.format(feature=piece.name, piece=piece.piece, over=f"{over:.1f}"),
            )
