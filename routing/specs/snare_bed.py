"""Snare beds: two shallow hollows in the snare-side edge, opposite each other on the strainer axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import SnareBedInputs
from routing.specs.sentences import gettext_noop

_NO_RAMP = gettext_noop("The bed must be wider than its flat, so that it has a ramp at each end.")
_BED_TOO_WIDE = gettext_noop("A bed of {width} mm takes more than a third of the edge; make it narrower.")
_STEEP_RAMP = gettext_noop(
    "The ramps fall {depth} mm in {ramp} mm; that is steep: the head may wrinkle and the wires bow. {gentle} "
    "mm overall would be gentle."
)

STEEPEST_RAMP = 0.08  # depth over ramp length; steeper wrinkles the head and lets the wires rattle (from memory)

DEPTH_TOLERANCE_MM = 0.1  # from memory
CENTRE_TOLERANCE_MM = 1.0  # from memory: off the strainer axis


@dataclass(frozen=True, slots=True)
class SnareBedResult:
    depth_mm: float
    flat_width_mm: float
    overall_width_mm: float
    flat_deg: float  # as arc round the apex circle
    overall_deg: float
    flat_chord_mm: float  # the same widths straight across, for a rule or dividers
    overall_chord_mm: float
    ramp_length_mm: float  # each side
    ramp_slope: float  # depth over length
    strainer_bed_deg: float  # centre of each bed, degrees from the datum
    butt_bed_deg: float
    depth_tolerance_mm: float
    centre_tolerance_mm: float
    warnings: tuple[SpecWarning, ...]


def snare_bed(
    *, bed: SnareBedInputs, apex_diameter_mm: float, strainer_deg: float, field: str = "snare_bed"
) -> SnareBedResult:
    """Both beds of a snare of 150 to 420 mm apex diameter.

    Depth 0.2 to 5 mm; the flat lies inside the overall width, which lies inside a third of the drum. Widths are measured
    along the edge, on the apex circle: arc = width / (π·D) · 360°, straight across D·sin(arc/2). The beds stand on the
    strainer axis, 180° apart. SpecError for a bed that can't be.
    """
    require_between(bed.depth_mm, 0.2, 5.0, field=f"{field}.depth_mm", unit="mm")
    require_between(apex_diameter_mm, 150.0, 420.0, field="nominal_diameter_in", unit="mm")
    require_between(bed.flat_width_mm, 5.0, 250.0, field=f"{field}.flat_width_mm", unit="mm")
    require_between(bed.overall_width_mm, 5.0, 1000.0, field=f"{field}.overall_width_mm", unit="mm")
    if bed.overall_width_mm <= bed.flat_width_mm:
        raise SpecError(
            "no_ramp",
            f"{field}.overall_width_mm",
            _NO_RAMP,
        )
    circumference = math.pi * apex_diameter_mm
    if bed.overall_width_mm > circumference / 3:
        raise SpecError(
            "bed_too_wide",
            f"{field}.overall_width_mm",
            _BED_TOO_WIDE.format(width=f"{bed.overall_width_mm:g}"),
        )
    ramp = (bed.overall_width_mm - bed.flat_width_mm) / 2
    slope = bed.depth_mm / ramp
    warnings: tuple[SpecWarning, ...] = ()
    if slope > STEEPEST_RAMP:
        warnings = (
            SpecWarning(
                "steep_ramp",
                f"{field}.overall_width_mm",
                _STEEP_RAMP.format(
                    depth=f"{bed.depth_mm:g}",
                    ramp=f"{ramp:.0f}",
                    gentle=f"{bed.flat_width_mm + 2 * bed.depth_mm / STEEPEST_RAMP:.0f}",
                ),
            ),
        )
    return SnareBedResult(
        depth_mm=bed.depth_mm,
        flat_width_mm=bed.flat_width_mm,
        overall_width_mm=bed.overall_width_mm,
        flat_deg=bed.flat_width_mm / circumference * 360,
        overall_deg=bed.overall_width_mm / circumference * 360,
        flat_chord_mm=straight_across(bed.flat_width_mm, apex_diameter_mm),
        overall_chord_mm=straight_across(bed.overall_width_mm, apex_diameter_mm),
        ramp_length_mm=ramp,
        ramp_slope=slope,
        strainer_bed_deg=strainer_deg % 360,
        butt_bed_deg=(strainer_deg + 180) % 360,
        depth_tolerance_mm=DEPTH_TOLERANCE_MM,
        centre_tolerance_mm=CENTRE_TOLERANCE_MM,
        warnings=warnings,
    )


def straight_across(arc_mm: float, diameter_mm: float) -> float:
    """The chord in mm of an arc on a circle of 50 to 1100 mm diameter, the arc at most half the circle: D·sin(arc/D)."""
    require_between(diameter_mm, 50.0, 1100.0, field="diameter_mm", unit="mm")
    require_between(arc_mm, 0.0, math.pi * diameter_mm / 2, field="arc_mm", unit="mm")
    return diameter_mm * math.sin(arc_mm / diameter_mm)
