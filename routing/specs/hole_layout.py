"""Where lugs and fittings stand round a drum, before any hole is looked at.

The layout is first made in the drum's own frame: 0° is the middle of the gap that faces back (butt plate of a snare,
bottom of a bass drum, bracket of a tom), so that lugs stand half a pitch beside it: no claw of a bass drum comes to six
o'clock, where the pedal clamps, and strainer and butt plate of a snare stand in opposite gaps when the number of lugs is
even. The whole frame is then turned against the seam datum so that no hole comes near a plate seam.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning
from routing.specs.inputs import FittingInputs, HardwareInputs, LugKind, Role
from routing.specs.sentences import gettext_noop

_LUG_COUNT = gettext_noop("A head has 4 to 16 lugs.")
_HOOP_HOLES = gettext_noop("The hoops have {holes} holes, the drum {lugs} lugs a head; they must be equal.")
_OFF_THE_SHELL = gettext_noop("{fitting} would stand {height} mm from the batter edge of a shell {depth} mm deep.")
_LUGS_MEET = gettext_noop(
    "On a drum {depth} mm deep the lugs of both heads would meet; use double-ended lugs or a shorter first hole."
)
_ANGLES_MISSING = gettext_noop("{fitting} has {pieces} pieces but {angles} angles; give one for each.")
_NOT_AN_ANGLE = gettext_noop("An angle of {fitting} is not a number.")
_LEGS_UNEVEN = gettext_noop(
    "With {lugs} lugs the legs stand {gaps} apart; {each}° each needs a number of lugs that {pieces} divides."
)
_LUG_IN_THE_WAY = gettext_noop("With {lugs} lugs a lug stands where {fitting} belongs; it is placed {off}° beside.")
_SHARE_GAP = gettext_noop("Two pieces of {fitting} fall into one gap; give angles.")
_LEGS_TIP = gettext_noop("The legs stand {gaps} apart; with {free}° free on one side the drum tips.")
_SPURS_UNEVEN = gettext_noop("The spurs stand {first}° and {second}° from the bottom; the drum would stand crooked.")
_ODD_LUGS = gettext_noop(
    "With {lugs} lugs strainer and butt plate can't both stand in gaps opposite each other; use an even number."
)
_NOT_IN_GAP = gettext_noop("{fitting} stands {off} mm beside the middle of the gap between two lugs; keep {keep} mm.")
_NOT_OPPOSITE = gettext_noop(
    "{fitting} {number} and {other} {other_number} are {degrees}° ({off} mm) off standing opposite each other; the wires "
    "would lie askew."
)


@dataclass(frozen=True, slots=True)
class LayoutRules:
    """Distances in mm; common practice or from memory unless said otherwise."""

    seam_keep_out_mm: float = 10.0  # middle of a hole to a plate seam, and half the scarf where that is more
    hole_to_hole_diameters: float = 3.0  # middles, times the mean diameter of the two
    hole_to_hole_mm: float = 15.0
    edge_mm: float = 12.0  # rim of a hole to the bearing edge
    bass_edge_mm: float = 25.0  # lugs of a bass drum: deep hoops and claws
    vent_edge_mm: float = 19.0  # published: 3/4 in
    arc_tolerance_mm: float = 0.5  # published by a drum-building guide as what can be held by hand
    height_tolerance_mm: float = 0.3  # from memory
    opposite_deg: float = 0.3  # strainer axis
    gap_middle_mm: float = 1.0  # strainer and butt plate to the middle of their gaps
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
    field: str  # which input it comes from

    @property
    def label(self) -> str:
        return f"{self.name} {self.piece}"


def gap_nearest(angle_deg: float, lugs: int) -> float:
    """The middle of the gap between two lugs that lies nearest to an angle of the drum's frame; ties go up."""
    pitch = 360 / lugs
    return math.floor(angle_deg / pitch + 0.5) * pitch % 360


def angle_apart(first_deg: float, second_deg: float) -> float:
    """The smaller angle between two directions, 0 to 180°."""
    difference = abs(first_deg - second_deg) % 360
    return difference if difference <= 180 else 360 - difference


def place_all(
    role: Role,
    hardware: HardwareInputs,
    depth_mm: float,
    mm_per_degree: float,
    rules: LayoutRules | None = None,
) -> tuple[list[Placed], list[SpecWarning]]:
    """Every lug and fitting in the drum's frame, and which layout rules can't be kept.

    4 to 16 lugs a head. SpecError when hoops and lugs do not match or a piece would stand off the shell.
    """
    lugs = hardware.lugs
    if not 4 <= lugs.per_head <= 16:
        raise SpecError("lug_count", "hardware.lugs.per_head", _LUG_COUNT)
    if hardware.hoop_holes != lugs.per_head:
        raise SpecError(
            "hoop_holes",
            "hardware.hoop_holes",
            _HOOP_HOLES.format(holes=hardware.hoop_holes, lugs=lugs.per_head),
        )
    placed = _lugs(hardware, depth_mm)
    warnings: list[SpecWarning] = []
    for number, fitting in enumerate(hardware.fittings):
        field = f"hardware.fittings.{number}"
        angles, found = _angles(role, fitting, lugs.per_head, field)
        warnings.extend(found)
        height = _height(fitting, depth_mm, field)
        placed.extend(
            Placed(
                fitting.name,
                fitting.kind,
                piece,
                angle % 360,
                height,
                fitting.holes,
                fitting.footprint_round_mm,
                fitting.footprint_axial_mm,
                field,
            )
            for piece, angle in enumerate(angles, start=1)
        )
    warnings.extend(_strainer_axis(placed, lugs.per_head, mm_per_degree, rules or LayoutRules()))
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
                _LUGS_MEET.format(depth=f"{depth:.0f}"),
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
            "hardware.lugs",
        )
        for number, (height, k) in enumerate(((h, k) for h in heights for k in range(lugs.per_head)), start=1)
    ]


def _angles(role: Role, fitting: FittingInputs, lugs: int, field: str) -> tuple[Sequence[float], list[SpecWarning]]:
    field = f"{field}.angles_deg"
    if fitting.angles_deg is not None:
        if len(fitting.angles_deg) != fitting.pieces:
            raise SpecError(
                "angles_count",
                field,
                _ANGLES_MISSING.format(fitting=fitting.name, pieces=fitting.pieces, angles=len(fitting.angles_deg)),
            )
        if not all(math.isfinite(angle) for angle in fitting.angles_deg):
            raise SpecError("not_an_angle", field, _NOT_AN_ANGLE.format(fitting=fitting.name))
        return fitting.angles_deg, _spread(fitting, fitting.angles_deg, field)
    wanted = _wanted(role, fitting)
    # Strainer and butt plate stay on their axis, so that beds and wires do; with odd lugs one of them meets a lug.
    angles = wanted if fitting.kind in ("strainer", "butt") else [gap_nearest(angle, lugs) for angle in wanted]
    found = _spread(fitting, angles, field)
    off = max((angle_apart(a, w) for a, w in zip(angles, wanted, strict=True)), default=0.0)
    if fitting.kind == "leg" and off > 1:
        found.append(
            SpecWarning(
                "legs_uneven",
                field,
                _LEGS_UNEVEN.format(
                    lugs=lugs, gaps=_apart_words(angles), each=f"{360 / fitting.pieces:g}", pieces=fitting.pieces
                ),
            )
        )
    if fitting.kind in ("mount", "bracket") and off > 1:
        found.append(
            SpecWarning(
                "off_the_middle",
                field,
                _LUG_IN_THE_WAY.format(lugs=lugs, fitting=fitting.name, off=f"{off:g}"),
            )
        )
    if len(set(angles)) < len(angles):
        found.append(SpecWarning("pieces_share_gap", field, _SHARE_GAP.format(fitting=fitting.name)))
    return angles, found


def _wanted(role: Role, fitting: FittingInputs) -> list[float]:
    """Where pieces would best stand if there were no lugs."""
    all_round = [k * 360 / fitting.pieces for k in range(fitting.pieces)]
    if fitting.kind == "strainer":
        return [(180.0 + angle) % 360 for angle in all_round]
    if fitting.kind == "spur" and fitting.pieces == 2:
        return [60.0, 300.0]  # about 110 to 125° from the top of a bass drum (from memory)
    if fitting.kind == "mount" and role is Role.BASS:
        return [(180.0 + angle) % 360 for angle in all_round]
    if fitting.kind in ("vent", "badge"):
        # A quarter turn from the strainer on a snare and on a bass, in front on a tom.
        start = 90.0 if role in (Role.SNARE, Role.BASS) else 180.0
        return [(start + angle) % 360 for angle in all_round]
    return all_round


def _gaps(angles: Sequence[float]) -> list[float]:
    around = sorted(angle % 360 for angle in angles)
    return [(b - a) % 360 or 360.0 for a, b in zip(around, [*around[1:], around[0]], strict=True)]


def _apart_words(angles: Sequence[float]) -> str:
    return ", ".join(f"{gap:.0f}°" for gap in _gaps(angles))


def _spread(fitting: FittingInputs, angles: Sequence[float], field: str) -> list[SpecWarning]:
    """What makes a drum stand badly: legs on one side, spurs of different height."""
    if fitting.kind == "leg" and len(angles) > 1 and max(_gaps(angles)) >= 175:
        return [
            SpecWarning(
                "legs_tip",
                field,
                _LEGS_TIP.format(gaps=_apart_words(angles), free=f"{max(_gaps(angles)):.0f}"),
            )
        ]
    if fitting.kind == "spur" and len(angles) == 2 and angle_apart(angles[0], -angles[1]) > 1:
        return [
            SpecWarning(
                "spurs_uneven",
                field,
                _SPURS_UNEVEN.format(
                    first=f"{angle_apart(angles[0], 0):.0f}", second=f"{angle_apart(angles[1], 0):.0f}"
                ),
            )
        ]
    return []


def _strainer_axis(placed: Sequence[Placed], lugs: int, mm_per_degree: float, rules: LayoutRules) -> list[SpecWarning]:
    """Strainer and butt plate: opposite each other, each in the middle of a gap."""
    found = []
    strainers = [piece for piece in placed if piece.kind == "strainer"]
    butts = [piece for piece in placed if piece.kind == "butt"]
    for strainer in strainers[:1]:
        for butt in butts[:1]:
            off = 180 - angle_apart(strainer.angle_deg, butt.angle_deg)
            if off > rules.opposite_deg + 1e-9:
                found.append(
                    SpecWarning(
                        "not_opposite",
                        f"{butt.field}.angles_deg",
                        _NOT_OPPOSITE.format(
                            fitting=strainer.name,
                            number=strainer.piece,
                            other=butt.name,
                            other_number=butt.piece,
                            degrees=f"{off:.1f}",
                            off=f"{off * mm_per_degree:.1f}",
                        ),
                    )
                )
    if lugs % 2 and strainers and butts:
        found.append(
            SpecWarning(
                "odd_lugs",
                "hardware.lugs.per_head",
                _ODD_LUGS.format(lugs=lugs),
            )
        )
        return found
    for piece in (*strainers, *butts):
        off_mm = angle_apart(piece.angle_deg, gap_nearest(piece.angle_deg, lugs)) * mm_per_degree
        if off_mm > rules.gap_middle_mm + 1e-9:
            found.append(
                SpecWarning(
                    "not_in_gap",
                    f"{piece.field}.angles_deg",
                    _NOT_IN_GAP.format(fitting=piece.label, off=f"{off_mm:.1f}", keep=f"{rules.gap_middle_mm:g}"),
                )
            )
    return found


def _height(fitting: FittingInputs, depth: float, field: str) -> float:
    if fitting.height_mm is None:
        height, name = fitting.height_fraction * depth, "height_fraction"
    else:
        height, name = fitting.height_mm if fitting.height_mm >= 0 else depth + fitting.height_mm, "height_mm"
    if not 0 < height < depth:
        raise SpecError(
            "off_the_shell",
            f"{field}.{name}",
            _OFF_THE_SHELL.format(fitting=fitting.name, height=f"{height:.0f}", depth=f"{depth:.0f}"),
        )
    return height
