"""The wall cut through: each plate with its veneers and grain, and the seams seen from the batter side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import FIRM, HEAVY, THIN, dimension, drawing, line, path, text

WIDTH, HEIGHT = 320.0, 120.0
WALL_TOP, WALL_BOTTOM = 34.0, 96.0
STRIP_LEFT, STRIP_RIGHT = 12.0, 196.0


@dataclass(frozen=True, slots=True)
class StackPlate:
    """One plate, outermost first. ``grain`` of its face veneers: around or axial."""

    name: str
    thickness_mm: float
    veneers: int
    grain: str
    seam_angles_deg: tuple[float, ...]


def plate_stack_svg(plates: Sequence[StackPlate]) -> str:
    """The section through the wall to scale across its thickness, with each seam at its angle beside it."""
    wall = sum(plate.thickness_mm for plate in plates)
    scale = (STRIP_RIGHT - STRIP_LEFT) / wall
    parts = []
    x = STRIP_LEFT
    for number, plate in enumerate(plates, start=1):
        width = plate.thickness_mm * scale
        parts.append(_plate(x, width, plate))
        parts.append(dimension(x, WALL_BOTTOM, x + width, WALL_BOTTOM, f"{plate.thickness_mm:.2f}", off=-9, size=6.5))
        parts.append(text(x + width / 2, WALL_TOP - 4, str(number), anchor="middle", bold=True))
        x += width
    outline = f"M{STRIP_LEFT} {WALL_TOP}V{WALL_BOTTOM}M{STRIP_RIGHT} {WALL_TOP}V{WALL_BOTTOM}"
    parts.append(path(outline, weight=HEAVY))
    parts.append(dimension(STRIP_LEFT, WALL_TOP, STRIP_RIGHT, WALL_TOP, f"wall {wall:.2f} mm", off=14))
    parts.append(text(STRIP_LEFT, HEIGHT - 2, "outside"))
    parts.append(text(STRIP_RIGHT, HEIGHT - 2, "inside", anchor="end"))
    parts.append(_seams(plates))
    veneers = sum(plate.veneers for plate in plates)
    title = f"Lay-up of {len(plates)} plates, {veneers} veneers, wall {wall:.2f} mm, seen through the wall"
    return drawing(WIDTH, HEIGHT, "".join(parts), title=title, name="plate-stack")


def _plate(x: float, width: float, plate: StackPlate) -> str:
    """Veneers as thin lines; those whose grain runs round the shell are lined, those along the axis dotted as end grain."""
    each = width / plate.veneers
    lines = dots = ""
    for veneer in range(plate.veneers):
        left = x + veneer * each
        if veneer:
            lines += f"M{left:.2f} {WALL_TOP}V{WALL_BOTTOM}"
        as_face = plate.grain if veneer % 2 == 0 else ("axial" if plate.grain == "around" else "around")
        if as_face == "around":
            count = max(1, int(each // 4))
            for n in range(count):
                at = left + each * (n + 0.5) / count
                lines += f"M{at:.2f} {WALL_TOP + 2}V{WALL_BOTTOM - 2}"
        else:
            y = WALL_TOP + 4
            while y < WALL_BOTTOM - 2:
                dots += f"M{left + each * 0.3:.2f} {y:.1f}h.01M{left + each * 0.7:.2f} {y + 4:.1f}h.01"
                y += 8
    dotted = f'<path d="{dots}" stroke-width="1.1" stroke-linecap="round"/>' if dots else ""
    edge = f"M{x:.2f} {WALL_TOP}V{WALL_BOTTOM}"
    return path(edge, weight=FIRM) + path(lines, weight=0.25) + dotted


def _seams(plates: Sequence[StackPlate]) -> str:
    """Seen from the batter side, angles counter-clockwise from the datum at the bottom."""
    cx, cy, outer, inner = 262.0, 62.0, 44.0, 26.0
    parts = [f'<circle cx="{cx}" cy="{cy}" r="{r}" stroke-width="{w}"/>' for r, w in ((outer, HEAVY), (inner, FIRM))]
    step = (outer - inner) / len(plates)
    for number, plate in enumerate(plates, start=1):
        far, near = outer - (number - 1) * step, outer - number * step
        if number < len(plates):
            parts.append(f'<circle cx="{cx}" cy="{cy}" r="{near:.2f}" stroke-width="{THIN}"/>')
        for angle in plate.seam_angles_deg:
            dx, dy = math.sin(math.radians(angle)), math.cos(math.radians(angle))
            parts.append(line(cx + dx * near, cy + dy * near, cx + dx * far, cy + dy * far, weight=2.2))
            parts.append(
                text(cx + dx * (outer + 7), cy + dy * (outer + 7) + 2.4, f"{number}", anchor="middle", bold=True)
            )
    parts.append(text(cx, cy - 3, "seams", anchor="middle", size=6.5))
    parts.append(text(cx, cy + 5, "batter side", anchor="middle", size=6.5))
    parts.append(text(cx, cy + 13, "0° below", anchor="middle", size=6.5))
    return "".join(parts)
