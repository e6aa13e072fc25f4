"""Where lugs and fittings stand round a drum, before any hole is looked at.

The layout is first made in the drum's own frame: 0° is the middle of the gap that faces the player's feet or the back
(butt plate of a snare, bottom of a bass drum, bracket of a tom), so that lugs stand half a pitch beside it. The whole
frame is then turned against the seam datum so that no hole comes near a plate seam.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import FittingInputs, HardwareInputs, LugKind, Role


@dataclass(frozen=True, slots=True)
class LayoutRules:
    """Distances in mm; common practice or from memory, to be set by each shop."""

    seam_keep_out_mm: float = 10.0  # hole centre line to a plate seam
    hole_to_hole_diameters: float = 3.0  # centres, times the larger hole
    hole_to_hole_mm: float = 15.0
    edge_mm: float = 12.0  # rim of a hole to the bearing edge
    bass_edge_mm: float = 25.0
    vent_edge_mm: float = 19.0  # published: 3/4 in
    turn_step_deg: float = 0.5


@dataclass(frozen=True, slots=True)
class Placed:
    """One piece of hardware: where its middle is, and the rectangle it covers."""

    name: str
    kind: str  # lug, vent, badge, strainer, butt, bracket, spur, leg, mount
    piece: int
    angle_deg: float
    height_mm: float  # from the batter edge
    holes: tuple[tuple[float, float, float], ...]  # round, axial, diameter from its middle, mm
    footprint_round_mm: float
    footprint_axial_mm: float


def gap_nearest(angle_deg: float, lugs: int) -> float:
    """The middle of the gap between two lugs that lies nearest to an angle of the drum's frame; ties go up."""
    pitch = 360 / lugs
    return math.floor(angle_deg / pitch + 0.5) * pitch % 360


def place_all(
    role: Role, hardware: HardwareInputs, depth_mm: float, mm_per_degree: float
) -> tuple[list[Placed], list[SpecWarning]]:
    """Every lug and fitting in the drum's frame, and which layout rules can't be kept.

    4 to 16 lugs a head. SpecError when hoops and lugs do not match or a piece would stand off the shell.
    """
    lugs = hardware.lugs
    if not 4 <= lugs.per_head <= 16:
        raise SpecError("lug_count", "hardware.lugs.per_head", "A head has 4 to 16 lugs.")
    if hardware.hoop_holes != lugs.per_head:
        raise SpecError(
            "hoop_holes",
            "hardware.hoop_holes",
            f"The hoops have {hardware.hoop_holes} holes, the drum {lugs.per_head} lugs a head; they must be equal.",
        )
    placed = _lugs(hardware, depth_mm)
    warnings: list[SpecWarning] = []
    for number, fitting in enumerate(hardware.fittings):
        angles, found = _angles(role, fitting, lugs.per_head, number)
        warnings.extend(found)
        for piece, angle in enumerate(angles, start=1):
            placed.append(
                Placed(
                    fitting.name,
                    fitting.kind,
                    piece,
                    angle % 360,
                    _height(fitting, depth_mm, number),
                    fitting.holes,
                    fitting.footprint_round_mm,
                    fitting.footprint_axial_mm,
                )
            )
    require_between(mm_per_degree, 0.5, 12.0, field="nominal_diameter_in", unit="mm per degree")
    return placed, warnings


def _lugs(hardware: HardwareInputs, depth: float) -> list[Placed]:
    """Lugs stand half a pitch beside the frame's zero, so that a gap faces it."""
    lugs = hardware.lugs
    pitch = 360 / lugs.per_head
    half = lugs.hole_spacing_mm / 2
    hole = lugs.hole_diameter_mm
    pair = ((0.0, -half, hole), (0.0, half, hole)) if half > 0 else ((0.0, 0.0, hole),)
    if lugs.kind is LugKind.DOUBLE_ENDED:
        heights = [depth / 2]
    else:
        first = lugs.first_hole_from_edge_mm + half
        heights = [first, depth - first]
        if first >= depth / 2:
            raise SpecError(
                "lugs_meet",
                "hardware.lugs.first_hole_from_edge_mm",
                f"On a drum {depth:.0f} mm deep the lugs of both heads would meet; use double-ended lugs or a shorter first hole.",
            )
    return [
        Placed(
            lugs.name,
            "lug",
            number,
            (pitch / 2 + k * pitch) % 360,
            height,
            pair,
            lugs.footprint_round_mm,
            lugs.footprint_axial_mm,
        )
        for number, (height, k) in enumerate(((h, k) for h in heights for k in range(lugs.per_head)), start=1)
    ]


def _angles(role: Role, fitting: FittingInputs, lugs: int, number: int) -> tuple[Sequence[float], list[SpecWarning]]:
    if fitting.angles_deg is not None:
        if len(fitting.angles_deg) != fitting.pieces:
            raise SpecError(
                "angles_count",
                f"hardware.fittings.{number}.angles_deg",
                f"{fitting.name} has {fitting.pieces} pieces but {len(fitting.angles_deg)} angles; give one for each.",
            )
        return fitting.angles_deg, []
    field = f"hardware.fittings.{number}.angles_deg"
    if fitting.kind in ("strainer", "butt"):
        angle = 180.0 if fitting.kind == "strainer" else 0.0
        if lugs % 2:
            return [angle], [
                SpecWarning(
                    "odd_lugs",
                    "hardware.lugs.per_head",
                    f"With {lugs} lugs strainer and butt can't both stand in gaps opposite each other; use an even number.",
                )
            ]
        return [angle], []
    wanted = _wanted(role, fitting)
    angles = [gap_nearest(angle, lugs) for angle in wanted]
    found: list[SpecWarning] = []
    off = max((min(abs(a - w), 360 - abs(a - w)) for a, w in zip(angles, wanted, strict=True)), default=0.0)
    if fitting.kind == "leg" and off > 1:
        spread = sorted(angles)
        apart = [round((b - a) % 360) for a, b in zip(spread, [*spread[1:], spread[0] + 360], strict=True)]
        found.append(
            SpecWarning(
                "legs_uneven",
                field,
                f"With {lugs} lugs the legs stand {', '.join(map(str, apart))}° apart; 120° needs a number of lugs that "
                "three divides.",
            )
        )
    if len(set(angles)) < len(angles):
        found.append(
            SpecWarning("pieces_share_gap", field, f"Two pieces of {fitting.name} fall into one gap; give angles.")
        )
    return angles, found


def _wanted(role: Role, fitting: FittingInputs) -> list[float]:
    """Where pieces would best stand if there were no lugs."""
    if fitting.kind == "leg":
        return [k * 360 / fitting.pieces for k in range(fitting.pieces)]
    if fitting.kind == "spur":
        # 110 to 125° from the top of a bass drum (from memory): 60° from the bottom, left and right.
        return [60.0, 300.0][: fitting.pieces]
    if fitting.kind == "mount":
        return [180.0] if role is Role.BASS else [0.0]
    if fitting.kind == "bracket":
        return [0.0 + k * 360 / fitting.pieces for k in range(fitting.pieces)]
    # Vent and badge: a quarter turn from the strainer on a snare and on a bass, in front on a tom.
    start = 90.0 if role in (Role.SNARE, Role.BASS) else 180.0
    return [start + k * 360 / fitting.pieces for k in range(fitting.pieces)]


def _height(fitting: FittingInputs, depth: float, number: int) -> float:
    if fitting.height_mm is None:
        height = fitting.height_fraction * depth
    else:
        height = fitting.height_mm if fitting.height_mm >= 0 else depth + fitting.height_mm
    if not 0 < height < depth:
        raise SpecError(
            "off_the_shell",
            f"hardware.fittings.{number}.height_mm",
            f"{fitting.name} would stand {height:.0f} mm from the batter edge of a shell {depth:.0f} mm deep.",
        )
    return height
