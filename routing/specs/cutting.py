"""What the cut station cuts: precise sizes for the mould and rough sizes to let the wood settle in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import Grain, PlateInputs
from routing.specs.layup import LayUpResult
from routing.specs.sentences import gettext_noop

_TOO_NARROW = gettext_noop(
    "Plate {place} ({plate}) must be {height} mm high, and the sheet gives {room} mm in that direction. Use a"
    " larger sheet or turn the grain."
)
_TOO_SHORT = gettext_noop(
    "Plate {place} ({plate}) takes {length} mm with its slanted seam, and the sheet gives {room} mm. Use a "
    "larger sheet or a steeper seam."
)
_CLIPPED = gettext_noop(
    "Plate {place} ({plate}): the sheet leaves {clipped} mm instead of {wanted} mm for the rough size; cut it"
    " to size with care."
)


@dataclass(frozen=True, slots=True)
class Blank:
    """One plate's blank. Length runs round the shell, height along its axis."""

    position: int
    name: str
    grain: Grain
    pieces: int  # blanks of this size that one shell takes
    length_mm: float
    height_mm: float
    slant_mm: float  # how far the seam is cut out of square over the height; 0 unless diagonal
    rough_length_mm: float
    rough_height_mm: float
    rough_along_grain_mm: float
    rough_across_grain_mm: float
    length_tolerance_mm: float


@dataclass(frozen=True, slots=True)
class CuttingResult:
    pressed_height_mm: float
    trimmed_height_mm: float
    trim_each_end_mm: float
    blanks: tuple[Blank, ...]
    warnings: tuple[SpecWarning, ...]


def pressed_height(depth_mm: float, trim_each_end_mm: float) -> float:
    """Height in mm as pressed: the finished depth and the trim at each end (0 to 60 mm; usual 5 to 10, from memory)."""
    require_between(trim_each_end_mm, 0, 60, field="trim_each_end_mm", unit="mm")
    return depth_mm + 2 * trim_each_end_mm


def cut_sizes(
    *,
    layup: LayUpResult,
    plates: Sequence[PlateInputs],
    depth_mm: float,
    trim_each_end_mm: float,
    rough_length_allowance_mm: float,
    rough_width_allowance_mm: float,
) -> CuttingResult:
    """Precise and rough sizes in mm of the blanks of one shell.

    The rough blank is longer and higher by the allowances (0 to 100 mm; usual 20 to 50 and 15 to 30, common practice)
    and by the slant of a diagonal seam, as far as the sheet allows. A blank is never turned across its grain: grain
    around lies along the sheet, grain axial across it. SpecError when the sheet is too small for the precise height.
    """
    require_between(rough_length_allowance_mm, 0, 100, field="rough_length_allowance_mm", unit="mm")
    require_between(rough_width_allowance_mm, 0, 100, field="rough_width_allowance_mm", unit="mm")
    height = pressed_height(depth_mm, trim_each_end_mm)
    blanks: list[Blank] = []
    warnings: list[SpecWarning] = []
    for index, (placed, plate) in enumerate(zip(layup.plates, plates, strict=True)):
        around = plate.face_grain is Grain.AROUND
        length_room, length_field = (
            (plate.stock_length_mm, "stock_length_mm") if around else (plate.stock_width_mm, "stock_width_mm")
        )
        height_room, height_field = (
            (plate.stock_width_mm, "stock_width_mm") if around else (plate.stock_length_mm, "stock_length_mm")
        )
        slant = placed.slant_mm or 0.0
        needed_length = placed.blank_length_mm + slant
        if height > height_room:
            raise SpecError(
                "stock_too_narrow",
                f"plates.{index}.{height_field}",
                _TOO_NARROW.format(place=index + 1, plate=plate.name, height=f"{height:.0f}", room=f"{height_room:g}"),
            )
        if needed_length > length_room:
            raise SpecError(
                "stock_too_short",
                f"plates.{index}.{length_field}",
                _TOO_SHORT.format(
                    place=index + 1, plate=plate.name, length=f"{needed_length:.0f}", room=f"{length_room:g}"
                ),
            )
        rough_length = min(needed_length + rough_length_allowance_mm, length_room)
        rough_height = min(height + rough_width_allowance_mm, height_room)
        for clipped, wanted, which in (
            (rough_length, needed_length + rough_length_allowance_mm, length_field),
            (rough_height, height + rough_width_allowance_mm, height_field),
        ):
            if clipped < wanted:
                warnings.append(
                    SpecWarning(
                        "rough_size_clipped",
                        f"plates.{index}.{which}",
                        _CLIPPED.format(
                            place=index + 1, plate=plate.name, clipped=f"{clipped:.0f}", wanted=f"{wanted:.0f}"
                        ),
                    )
                )
        blanks.append(
            Blank(
                position=placed.position,
                name=placed.name,
                grain=plate.face_grain,
                pieces=placed.pieces,
                length_mm=placed.blank_length_mm,
                height_mm=height,
                slant_mm=slant,
                rough_length_mm=rough_length,
                rough_height_mm=rough_height,
                rough_along_grain_mm=rough_length if around else rough_height,
                rough_across_grain_mm=rough_height if around else rough_length,
                length_tolerance_mm=placed.length_tolerance_mm,
            )
        )
    return CuttingResult(height, depth_mm, trim_each_end_mm, tuple(blanks), tuple(warnings))
