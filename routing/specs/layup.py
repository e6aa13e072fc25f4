"""How long each plate is cut so that it closes in its place in the mould, and where its seam goes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.grain import balance_warnings, bend_warnings
from routing.specs.inputs import Grain, PlateInputs, SeamInputs, SeamKind
from routing.specs.sentences import gettext_noop
from routing.specs.shell import require_wall_fits

_SHEET_TOO_SHORT = gettext_noop(
    "Plate {place} ({plate}) must reach {length} mm round the shell, and the sheet gives {room} mm: it would "
    "take more than {most} pieces. Use a larger sheet or turn the grain."
)
_PLATE_COUNT = gettext_noop("A lay-up has 1 to 24 plates; this one has {plates}.")
_NO_SUCH_PLATE = gettext_noop("This lay-up has plates 1 to {plates}; there is no plate {place}.")
_ONE_ANGLE_EACH = gettext_noop("Give one seam angle for each plate: there are {plates} plates and {count} angles.")
_FIT_OPEN = gettext_noop("A fit of {fit} mm leaves a gap at the seam.")
_FIT_TIGHT = gettext_noop(
    "A fit of {fit} mm may buckle the plate; 0.2 to 0.5 mm is usual for thin plates, 0 for stiff ones."
)
_CUT_LONG = gettext_noop(
    "Plate {place} ({plate}) was cut {off} mm too long: {before} mm instead of {length} mm. Settle that before gluing."
)
_CUT_SHORT = gettext_noop(
    "Plate {place} ({plate}) was cut {off} mm too short: {before} mm instead of {length} mm. Settle that before gluing."
)
_PIECES = gettext_noop(
    "Plate {place} ({plate}) is longer than its sheet: join {pieces} pieces of {length} mm; their seams are "
    "at {angles}."
)
_SEAMS_CLOSE = gettext_noop("The seams of plates {outer} and {inner} are {apart}° apart; keep at least {least}°.")

# Outer plate first: the second seam opposite the first, the third a quarter turn off (published visit to a shell
# works). Nothing closer than 60° to its neighbours nor 30° to any other seam (from memory).
_EIGHT = (0.0, 180.0, 90.0, 270.0, 45.0, 225.0, 135.0, 315.0)
_TWELVE = (0.0, 180.0, 90.0, 270.0, 30.0, 210.0, 120.0, 300.0, 60.0, 240.0, 150.0, 330.0)
# A plate of two pieces has a second seam opposite its first, so all others must keep clear of both.
_SIX_OF_TWO_PIECES = (0.0, 90.0, 30.0, 120.0, 60.0, 150.0)
MIN_NEIGHBOUR_SEAM_DEG = 60.0
MIN_OTHER_SEAM_DEG = 30.0
MAX_PIECES = 4
# How far a plate may be off its length: thin ones give way, stiff ones gap or buckle (from memory).
THIN_MM, THIN_TOLERANCE_MM, STIFF_TOLERANCE_MM = 1.0, 0.5, 0.3
_DEGREE_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class PlateInPlace:
    """One plate where it lies in the shell."""

    position: int  # 1 is the outer plate
    name: str
    species: str
    grain: Grain  # of its face veneers
    veneers: int
    thickness_mm: float
    measured: bool  # whether the cut station's measurement was used
    outer_diameter_mm: float
    inner_diameter_mm: float
    mid_plane_length_mm: float
    pieces: int  # more than one when the sheet is shorter than the circumference
    scarf_length_mm: float  # tip to root of each joint; 0 for the other seams
    blank_length_mm: float  # of each piece, round the shell, tip to tip
    length_tolerance_mm: float
    seam_angle_deg: float
    seam_angles_deg: tuple[float, ...]  # one for each piece
    slant_deg: float  # of the seam from the shell axis; 0 unless diagonal
    slant_mm: float | None  # how far the seam runs round the shell over the pressed height; None: height not given


@dataclass(frozen=True, slots=True)
class LayUpResult:
    outside_diameter_mm: float
    seam_kind: SeamKind
    plates: tuple[PlateInPlace, ...]
    wall_mm: float
    veneers: int
    warnings: tuple[SpecWarning, ...]


@dataclass(frozen=True, slots=True)
class LengthChange:
    position: int
    name: str
    before_mm: float  # as cut when it is cut already, else as listed from the nominal thicknesses
    blank_length_mm: float  # as it should be with the thicknesses known now
    already_cut: bool

    @property
    def change_mm(self) -> float:
        return self.blank_length_mm - self.before_mm


@dataclass(frozen=True, slots=True)
class RemainingCutList:
    """What is still to be cut after a plate was measured."""

    to_cut: tuple[PlateInPlace, ...]
    changes: tuple[LengthChange, ...]
    warnings: tuple[SpecWarning, ...]


def mid_plane_length(outside_diameter_mm: float, thickness_outside_mm: float, thickness_mm: float) -> float:
    """Length in mm of the middle of a plate that lies inside ``thickness_outside_mm`` of other plates.

    L = π·(D − 2·T − t). A bent plate keeps the length of its mid-plane; successive plates differ by π·(t₁ + t₂).
    """
    return math.pi * (outside_diameter_mm - 2 * thickness_outside_mm - thickness_mm)


def seam_angles(count: int, pieces: int = 1) -> tuple[float, ...]:
    """Angle in degrees of the (first) seam of each plate, outer first, by the stagger rule.

    ``pieces`` is the largest number of pieces of any plate. Up to 12 plates of one piece and 6 of two keep the clear
    angles; beyond that no arrangement can, and :func:`seam_warnings` names what comes too close.
    """
    table: tuple[float, ...]
    if pieces == 1:
        table = _EIGHT if count <= len(_EIGHT) else _TWELVE
    elif pieces == 2:
        table = _SIX_OF_TWO_PIECES
    else:
        step = 360 / pieces
        table = (0.0, step / 2, step / 4, 3 * step / 4)
    # A further round of the table is shifted by half the finest step, so that no seam falls on another.
    shift = 15.0 / pieces
    return tuple((table[i % len(table)] + shift * (i // len(table))) % 360 for i in range(count))


def angle_between(first_deg: float, second_deg: float) -> float:
    """The smaller angle between two directions, 0 to 180°."""
    difference = abs(first_deg - second_deg) % 360
    return min(difference, 360 - difference)


def seam_warnings(angles: Sequence[tuple[float, ...]]) -> list[SpecWarning]:
    """Each pair of plates whose seams come closer than 60° (neighbours) or 30° (others)."""
    found = []
    for outer in range(len(angles)):
        for inner in range(outer + 1, len(angles)):
            least = MIN_NEIGHBOUR_SEAM_DEG if inner == outer + 1 else MIN_OTHER_SEAM_DEG
            apart = min(angle_between(a, b) for a in angles[outer] for b in angles[inner])
            if apart < least - _DEGREE_ROUNDING:
                found.append(
                    SpecWarning(
                        "seams_close",
                        "seam.plate_angles_deg",
                        _SEAMS_CLOSE.format(
                            outer=outer + 1, inner=inner + 1, apart=f"{apart:.0f}", least=f"{least:.0f}"
                        ),
                    )
                )
    return found


def lay_up(
    outside_diameter_mm: float, plates: Sequence[PlateInputs], seam: SeamInputs, *, height_mm: float | None = None
) -> LayUpResult:
    """Lengths (mm), diameters (mm) and seam angles (degrees from the datum) of all plates, outer plate first.

    ``outside_diameter_mm`` is that of the wood, the bore of a female mould, 90 to 1020 mm; 1 to 24 plates of 0.3 to
    12 mm; scarf 1:4 to 1:20; diagonal 1° to 60°; fit −1 to +1 mm. Blank length of each piece: mid-plane length and fit,
    shared among the pieces, plus slope × thickness for a scarf (the mid-plane length does not change by it).
    ``height_mm`` (pressed) is needed only to say how far a diagonal seam runs. SpecError outside the ranges.
    """
    _check(outside_diameter_mm, plates, seam, height_mm)
    slope = seam.scarf_slope if seam.kind is SeamKind.SCARF else 0.0
    slant_deg = seam.diagonal_angle_deg if seam.kind is SeamKind.DIAGONAL else 0.0
    slant_mm = None if height_mm is None else height_mm * math.tan(math.radians(slant_deg))
    lengths: list[float] = []
    outside: list[float] = []
    stacked = 0.0
    for plate in plates:
        t = plate.working_thickness_mm
        outside.append(stacked)
        lengths.append(mid_plane_length(outside_diameter_mm, stacked, t))
        stacked += t
    pieces = [
        _pieces(index, plate, length + seam.fit_allowance_mm, slope * plate.working_thickness_mm)
        for index, (plate, length) in enumerate(zip(plates, lengths, strict=True))
    ]
    angles = seam.plate_angles_deg or seam_angles(len(plates), max(pieces))
    placed = []
    for index, plate in enumerate(plates):
        t = plate.working_thickness_mm
        outer = outside_diameter_mm - 2 * outside[index]
        placed.append(
            PlateInPlace(
                position=index + 1,
                name=plate.name,
                species=plate.species.name,
                grain=plate.face_grain,
                veneers=plate.veneers,
                thickness_mm=t,
                measured=plate.measured_thickness_mm is not None,
                outer_diameter_mm=outer,
                inner_diameter_mm=outer - 2 * t,
                mid_plane_length_mm=lengths[index],
                pieces=pieces[index],
                scarf_length_mm=slope * t,
                blank_length_mm=(lengths[index] + seam.fit_allowance_mm) / pieces[index] + slope * t,
                length_tolerance_mm=THIN_TOLERANCE_MM if t < THIN_MM else STIFF_TOLERANCE_MM,
                seam_angle_deg=angles[index] % 360,
                seam_angles_deg=tuple(
                    (angles[index] + part * 360 / pieces[index]) % 360 for part in range(pieces[index])
                ),
                slant_deg=slant_deg,
                slant_mm=slant_mm,
            )
        )
    return LayUpResult(
        outside_diameter_mm=outside_diameter_mm,
        seam_kind=seam.kind,
        plates=tuple(placed),
        wall_mm=stacked,
        veneers=sum(plate.veneers for plate in plates),
        warnings=(
            *seam_warnings([plate.seam_angles_deg for plate in placed]),
            *balance_warnings(plates),
            *bend_warnings(plates, [plate.inner_diameter_mm / 2 for plate in placed]),
            *_piece_warnings(placed),
            *_fit_warnings(seam),
        ),
    )


def remaining_cut_list(
    outside_diameter_mm: float,
    plates: Sequence[PlateInputs],
    seam: SeamInputs,
    already_cut: Mapping[int, float],
    *,
    height_mm: float | None = None,
) -> RemainingCutList:
    """The cut list of the plates not yet cut, from the thicknesses measured so far.

    ``plates`` carry the measured thicknesses; ``already_cut`` gives the blank length in mm to which a position (1 is
    the outer plate) was cut. One that would now have another length than its tolerance allows is named in a warning.
    0.1 mm more on a plate shortens it by 0.31 mm and each plate inside it by 0.63 mm. SpecError for a position that
    does not exist or a length that is none.
    """
    for position, length in already_cut.items():
        if not 1 <= position <= len(plates):
            raise SpecError("no_such_plate", "plates", _NO_SUCH_PLATE.format(plates=len(plates), place=position))
        require_between(length, 10, 10_000, field=f"plates.{position - 1}", unit="mm")
    now = lay_up(outside_diameter_mm, plates, seam, height_mm=height_mm)
    nominal = lay_up(
        outside_diameter_mm,
        [replace(plate, measured_thickness_mm=None) for plate in plates],
        seam,
        height_mm=height_mm,
    )
    changes = tuple(
        LengthChange(
            after.position,
            after.name,
            already_cut.get(after.position, before.blank_length_mm),
            after.blank_length_mm,
            after.position in already_cut,
        )
        for before, after in zip(nominal.plates, now.plates, strict=True)
    )
    return RemainingCutList(
        to_cut=tuple(plate for plate in now.plates if plate.position not in already_cut),
        changes=changes,
        warnings=tuple(
            SpecWarning(
                "cut_wrong_length",
                f"plates.{change.position - 1}.measured_thickness_mm",
                (_CUT_LONG if change.change_mm < 0 else _CUT_SHORT).format(
                    place=change.position,
                    plate=change.name,
                    off=f"{abs(change.change_mm):.1f}",
                    before=f"{change.before_mm:.1f}",
                    length=f"{change.blank_length_mm:.1f}",
                ),
            )
            for change, plate in zip(changes, now.plates, strict=True)
            if change.already_cut and abs(change.change_mm) > plate.length_tolerance_mm
        ),
    )


def _pieces(index: int, plate: PlateInputs, length_mm: float, joint_mm: float) -> int:
    """The fewest pieces of equal length that the stock sheet gives for one turn of the shell."""
    room = plate.stock_length_mm if plate.face_grain is Grain.AROUND else plate.stock_width_mm
    for count in range(1, MAX_PIECES + 1):
        if length_mm / count + joint_mm <= room:
            return count
    raise SpecError(
        "stock_too_short",
        f"plates.{index}.{'stock_length_mm' if plate.face_grain is Grain.AROUND else 'stock_width_mm'}",
        _SHEET_TOO_SHORT.format(
            place=index + 1, plate=plate.name, length=f"{length_mm:.0f}", room=f"{room:g}", most=MAX_PIECES
        ),
    )


def _check(
    outside_diameter_mm: float, plates: Sequence[PlateInputs], seam: SeamInputs, height_mm: float | None
) -> None:
    require_between(outside_diameter_mm, 90, 1020, field="nominal_diameter_in", unit="mm")
    if not 1 <= len(plates) <= 24:
        raise SpecError("plate_count", "plates", _PLATE_COUNT.format(plates=len(plates)))
    for index, plate in enumerate(plates):
        at = f"plates.{index}"
        require_between(plate.thickness_mm, 0.3, 12, field=f"{at}.thickness_mm", unit="mm")
        if plate.measured_thickness_mm is not None:
            # A plate half or one and a half times as thick as ordered is a slip of the pen or the wrong plate.
            require_between(
                plate.measured_thickness_mm,
                0.5 * plate.thickness_mm,
                1.5 * plate.thickness_mm,
                field=f"{at}.measured_thickness_mm",
                unit="mm",
            )
        require_between(plate.veneers, 1, 15, field=f"{at}.veneers")
        require_between(plate.stock_length_mm, 100, 10_000, field=f"{at}.stock_length_mm", unit="mm")
        require_between(plate.stock_width_mm, 100, 10_000, field=f"{at}.stock_width_mm", unit="mm")
    require_wall_fits(sum(plate.working_thickness_mm for plate in plates), outside_diameter_mm)
    require_between(seam.fit_allowance_mm, -1, 1, field="seam.fit_allowance_mm", unit="mm")
    if seam.kind is SeamKind.SCARF:
        require_between(seam.scarf_slope, 4, 20, field="seam.scarf_slope")
    if seam.kind is SeamKind.DIAGONAL:
        require_between(seam.diagonal_angle_deg, 1, 60, field="seam.diagonal_angle_deg", unit="°")
    if height_mm is not None:
        require_between(height_mm, 10, 1500, field="nominal_depth_in", unit="mm")
    if seam.plate_angles_deg is not None:
        if len(seam.plate_angles_deg) != len(plates):
            raise SpecError(
                "seam_count",
                "seam.plate_angles_deg",
                _ONE_ANGLE_EACH.format(plates=len(plates), count=len(seam.plate_angles_deg)),
            )
        for angle in seam.plate_angles_deg:
            require_between(angle, -360, 360, field="seam.plate_angles_deg", unit="°")


def _piece_warnings(plates: Sequence[PlateInPlace]) -> list[SpecWarning]:
    found = []
    for plate in plates:
        if plate.pieces > 1:
            side = "stock_length_mm" if plate.grain is Grain.AROUND else "stock_width_mm"
            angles = ", ".join(f"{angle:.0f}°" for angle in plate.seam_angles_deg)
            found.append(
                SpecWarning(
                    "plate_in_pieces",
                    f"plates.{plate.position - 1}.{side}",
                    _PIECES.format(
                        place=plate.position,
                        plate=plate.name,
                        pieces=plate.pieces,
                        length=f"{plate.blank_length_mm:.1f}",
                        angles=angles,
                    ),
                )
            )
    return found


def _fit_warnings(seam: SeamInputs) -> list[SpecWarning]:
    if seam.fit_allowance_mm < 0:
        text = _FIT_OPEN
    elif seam.fit_allowance_mm > 0.5:
        text = _FIT_TIGHT
    else:
        return []
    return [SpecWarning("fit_unusual", "seam.fit_allowance_mm", text.format(fit=f"{seam.fit_allowance_mm:g}"))]
