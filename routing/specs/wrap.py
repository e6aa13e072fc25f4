"""Wrap: the blank, the pieces it is cut from, the adhesive, and whether a head still goes over it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import WrapInputs
from routing.specs.sentences import gettext_noop

_NOTHING_LEFT = gettext_noop("The free edges leave nothing of the wrap; make them smaller.")
_SHEET_TOO_NARROW = gettext_noop("The blank is {height} mm high, the sheet only {width} mm wide; choose a wider sheet.")
_SHEET_TOO_SHORT = gettext_noop("The sheet is too short even for four pieces; choose a longer one.")
_TIGHT_AT_OVERLAP = gettext_noop(
    "Over the wrap's overlap the shell is only {under} mm under its nominal size; a head may not drop on."
)

LEAST_PLAY_MM = 1.6  # head over diameter; shells only 1/16 in under nominal are published as hard to fit


@dataclass(frozen=True, slots=True)
class WrapResult:
    blank_length_mm: float  # of the whole covering, overlaps included
    blank_height_mm: float
    pieces: int
    piece_length_mm: float
    area_m2: float
    diameter_over_wrap_mm: float
    diameter_at_overlap_mm: float  # locally, one thickness more
    head_play_mm: float  # nominal size less the diameter over the wrap
    head_play_at_overlap_mm: float
    head_fits: bool  # over the overlap, too
    adhesive_dry_g: float  # on both surfaces
    adhesive_wet_g: float
    rest_h: float
    shy_mm: float  # left free at each bearing edge
    warnings: tuple[SpecWarning, ...]


def wrap(
    *,
    wrap: WrapInputs,
    wood_diameter_mm: float,
    depth_mm: float,
    nominal_diameter_mm: float,
    field: str = "finish.wrap",
) -> WrapResult:
    """The covering of one shell.

    Length π·D + overlap on the wood's outside (the half thickness of sheet that the outside gains comes off the
    overlap); where the sheet is shorter, several pieces of equal length, each with its overlap. Height: depth less the
    shy edge at both ends. Adhesive goes on both surfaces, the overlap included. Diameter over the wrap D + 2t, one t
    more at an overlap. Thickness 0.05 to 3 mm, overlap 5 to 80 mm, shy 0 to 30 mm, adhesive 1 to 500 g/m² dry on each
    surface. SpecError when it can't be cut from the sheet.
    """
    require_between(wrap.thickness_mm, 0.05, 3.0, field=f"{field}.thickness_mm", unit="mm")
    require_between(wrap.press_rest_h, 0.0, 1000.0, field=f"{field}.press_rest_h", unit="h")
    require_between(wrap.overlap_mm, 5.0, 80.0, field=f"{field}.overlap_mm", unit="mm")
    require_between(wrap.shy_mm, 0.0, 30.0, field=f"{field}.shy_mm", unit="mm")
    require_between(wrap.adhesive_dry_g_per_m2, 1.0, 500.0, field=f"{field}.adhesive_dry_g_per_m2", unit="g/m²")
    require_between(wrap.adhesive_solids_pct, 1.0, 100.0, field=f"{field}.adhesive_solids_pct", unit="%")
    height = depth_mm - 2 * wrap.shy_mm
    if height <= 0:
        raise SpecError("nothing_left", f"{field}.shy_mm", _NOTHING_LEFT)
    if height > wrap.sheet_width_mm:
        raise SpecError(
            "sheet_too_narrow",
            f"{field}.sheet_width_mm",
            _SHEET_TOO_NARROW.format(height=f"{height:.0f}", width=f"{wrap.sheet_width_mm:.0f}"),
        )
    circumference = math.pi * wood_diameter_mm
    pieces = 1
    while circumference / pieces + wrap.overlap_mm > wrap.sheet_length_mm:
        pieces += 1
        if pieces > 4:
            raise SpecError(
                "sheet_too_short",
                f"{field}.sheet_length_mm",
                _SHEET_TOO_SHORT,
            )
    piece = circumference / pieces + wrap.overlap_mm
    over = wood_diameter_mm + 2 * wrap.thickness_mm
    play = nominal_diameter_mm - over
    play_at_overlap = play - wrap.thickness_mm
    area = pieces * piece * height / 1e6
    both = (area + circumference * height / 1e6) * wrap.adhesive_dry_g_per_m2
    warnings = []
    if play_at_overlap < LEAST_PLAY_MM:
        warnings.append(
            SpecWarning(
                "head_tight_at_overlap",
                "head_undersize_mm",
                _TIGHT_AT_OVERLAP.format(under=f"{play_at_overlap:.1f}"),
            )
        )
    return WrapResult(
        blank_length_mm=pieces * piece,
        blank_height_mm=height,
        pieces=pieces,
        piece_length_mm=piece,
        area_m2=area,
        diameter_over_wrap_mm=over,
        diameter_at_overlap_mm=over + wrap.thickness_mm,
        head_play_mm=play,
        head_play_at_overlap_mm=play_at_overlap,
        head_fits=play_at_overlap >= LEAST_PLAY_MM,
        adhesive_dry_g=both,
        adhesive_wet_g=both * 100 / wrap.adhesive_solids_pct,
        rest_h=wrap.press_rest_h,
        shy_mm=wrap.shy_mm,
        warnings=tuple(warnings),
    )
