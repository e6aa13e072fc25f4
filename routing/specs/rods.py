"""Whether a tension rod has enough thread in the lug, and does not bottom in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import HardwareInputs, LugKind
from routing.specs.sentences import gettext_noop
from routing.specs.threads import thread

_NUT_SHORT = gettext_noop("The lug nut has {depth} mm of thread; a rod of {diameter} mm wants {least} mm.")
_ROD_LONG = gettext_noop("The rod of {length} mm bottoms in the nut; take at most {most} mm.")
_OTHER_PITCH = gettext_noop("{thread} has a pitch of {pitch} mm, not {wanted} mm.")
_OTHER_DIAMETER = gettext_noop("{thread} has a diameter of {diameter} mm, not {wanted} mm.")
_ROD_SHORT = gettext_noop("The rod of {length} mm has only {engaged} mm in the nut; take at least {least} mm.")

LEAST_ENGAGEMENT_DIAMETERS = 1.5  # thread in thread at playing tension (from memory)
LEAST_TURNS = 4.0


@dataclass(frozen=True, slots=True)
class RodResult:
    name: str
    length_mm: float
    engagement_mm: float  # thread in the lug nut when the hoop stands at the edge plane
    engagement_diameters: float
    turns: float
    shortest_mm: float  # rod that just engages enough
    longest_mm: float  # rod that just bottoms in the nut
    fits: bool


def lug_mouth(hardware: HardwareInputs, depth_mm: float | None) -> float:
    """From the edge plane to the first thread of the lug, mm.

    That of a double-ended lug follows from the drum: it stands at mid-depth with a mouth at either end, so the mouth is
    half of what the drum is deeper than the lug is long. Without a depth, and for single-ended lugs, the recipe's own.
    """
    if hardware.rod is None:
        return 0.0
    if depth_mm is None or hardware.lugs.kind is not LugKind.DOUBLE_ENDED:
        return hardware.rod.lug_mouth_from_edge_mm
    return (depth_mm - hardware.lugs.footprint_axial_mm) / 2


def rod_in_lug(hardware: HardwareInputs, mouth_mm: float, warnings: list[SpecWarning]) -> RodResult | None:
    rod = hardware.rod
    if rod is None:
        return None
    require_between(rod.pitch_mm, 0.3, 3.0, field="hardware.rod.pitch_mm", unit="mm")
    require_between(rod.diameter_mm, 2.0, 12.0, field="hardware.rod.diameter_mm", unit="mm")
    require_between(rod.length_mm, 5.0, 400.0, field="hardware.rod.length_mm", unit="mm")
    require_between(rod.thread_depth_mm, 0.0, 200.0, field="hardware.rod.thread_depth_mm", unit="mm")
    require_between(
        rod.stack_above_shell_edge_mm, -50.0, 200.0, field="hardware.rod.stack_above_shell_edge_mm", unit="mm"
    )
    require_between(rod.lug_mouth_from_edge_mm, -50.0, 300.0, field="hardware.rod.lug_mouth_from_edge_mm", unit="mm")
    warnings.extend(_thread_warnings(rod.thread, rod.pitch_mm, rod.diameter_mm))
    reach = rod.stack_above_shell_edge_mm + mouth_mm
    engagement = max(0.0, min(rod.length_mm - reach, rod.thread_depth_mm))
    least = max(LEAST_ENGAGEMENT_DIAMETERS * rod.diameter_mm, LEAST_TURNS * rod.pitch_mm)
    bottoms = rod.length_mm - reach > rod.thread_depth_mm + 1e-9
    if least > rod.thread_depth_mm + 1e-9:
        warnings.append(
            SpecWarning(
                "nut_short",
                "hardware.rod.thread_depth_mm",
                _NUT_SHORT.format(
                    depth=f"{rod.thread_depth_mm:g}", diameter=f"{rod.diameter_mm:g}", least=f"{least:.1f}"
                ),
            )
        )
    elif engagement < least - 1e-9:
        warnings.append(
            SpecWarning(
                "rod_short",
                "hardware.rod.length_mm",
                _ROD_SHORT.format(
                    length=f"{rod.length_mm:g}", engaged=f"{engagement:.1f}", least=math.ceil(reach + least - 1e-9)
                ),
            )
        )
    if bottoms:
        warnings.append(
            SpecWarning(
                "rod_long",
                "hardware.rod.length_mm",
                _ROD_LONG.format(length=f"{rod.length_mm:g}", most=math.floor(reach + rod.thread_depth_mm + 1e-9)),
            )
        )
    return RodResult(
        name=rod.name,
        length_mm=rod.length_mm,
        engagement_mm=engagement,
        engagement_diameters=engagement / rod.diameter_mm,
        turns=engagement / rod.pitch_mm,
        shortest_mm=reach + least,
        longest_mm=reach + rod.thread_depth_mm,
        fits=engagement >= least - 1e-9 and not bottoms,
    )


def _thread_warnings(name: str, pitch_mm: float, diameter_mm: float) -> list[SpecWarning]:
    """Whether the sizes that were entered are those of the thread that was named."""
    try:
        named = thread(name)
    except SpecError:
        return []
    found = []
    if abs(named.pitch_mm - pitch_mm) > 0.01:
        found.append(
            SpecWarning(
                "thread_differs",
                "hardware.rod.pitch_mm",
                _OTHER_PITCH.format(thread=name, pitch=f"{named.pitch_mm:.3f}", wanted=f"{pitch_mm:g}"),
            )
        )
    if abs(named.major_mm - diameter_mm) > 0.15:
        found.append(
            SpecWarning(
                "thread_differs",
                "hardware.rod.diameter_mm",
                _OTHER_DIAMETER.format(thread=name, diameter=f"{named.major_mm:.2f}", wanted=f"{diameter_mm:g}"),
            )
        )
    return found
