"""The seams of the plates as the holes see them: where they run, and what must keep clear of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.hole_layout import LayoutRules
from routing.specs.layup import LayUpResult

Run = tuple[float, float, float, float]  # arc and height of both ends of a line on the unrolled outside, mm


@dataclass(frozen=True, slots=True)
class SeamLine:
    """A plate seam as the holes must keep clear of it: where it crosses mid-height, its scarf and its slant."""

    plate: int  # 1 is the outer plate
    angle_deg: float
    scarf_length_mm: float = 0.0
    slant_deg: float = 0.0  # from the shell axis; it may lean either way


def seam_lines(layup: LayUpResult) -> tuple[SeamLine, ...]:
    """The seams of every plate of a lay-up, one for each piece."""
    return tuple(
        SeamLine(plate.position, angle, plate.scarf_length_mm, plate.slant_deg)
        for plate in layup.plates
        for angle in plate.seam_angles_deg
    )


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


def keep_out(seam: SeamLine, keep: LayoutRules) -> float:
    return max(keep.seam_keep_out_mm, seam.scarf_length_mm / 2)


def leanings(seam: SeamLine, height: float, depth: float, per_degree: float) -> tuple[float, ...]:
    """Where a seam crosses a height, in degrees: two places when it is slanted and may lean either way."""
    if seam.slant_deg == 0:
        return (seam.angle_deg,)
    along = (height - depth / 2) * math.tan(math.radians(seam.slant_deg)) / per_degree
    return seam.angle_deg + along, seam.angle_deg - along
