"""The lay-up: the wall cut across the axis, outer plate on top, and the seams round the drum seen from the batter side.

In the section a veneer whose grain runs round the shell shows its fibres as long broken lines, one whose grain runs
along the axis shows end grain, as dots.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from routing.drawings.common import ARROW, FIRM, HAIR, HEAVY, SEAM, SMALL, TEXT, THIN, Drawing, circle, in_lines, spread

WIDTH = 320.0
LEFT, RIGHT = 32.0, 86.0  # the strip of wall
TOP, TALL = 20.0, 92.0
ROW, NAME_LINE = 22.0, 8.2  # of the words beside a plate: two lines; more where its name needs them
NAME_WIDE = 104.0
CENTRE_X, OUTER, INNER = (
    253.0,
    34.0,
    16.0,
)  # the ring; its wall is drawn thicker than it is, so that the seams can be read


@dataclass(frozen=True, slots=True)
class StackPlate:
    """One plate, outermost first. ``grain`` of its face veneers: around or axial. ``blank_length_mm`` of each piece."""

    name: str
    thickness_mm: float
    veneers: int
    grain: str
    seam_angles_deg: tuple[float, ...]
    blank_length_mm: float | None = None


def plate_stack_svg(plates: Sequence[StackPlate]) -> str:
    """The section, to scale across the thickness, and the seam ring. Raises ValueError without a plate of some thickness."""
    wall = sum(plate.thickness_mm for plate in plates)
    if not wall > 0:
        raise ValueError("a lay-up needs at least one plate with a thickness")
    # Many plates need more room for their words.
    names = [
        in_lines(f"{number} {plate.name}", NAME_WIDE, TEXT, bold=True) for number, plate in enumerate(plates, start=1)
    ]
    row = ROW + NAME_LINE * (max(map(len, names)) - 1)
    tall = max(TALL, row * len(plates))
    scale = tall / wall
    bottom = TOP + tall
    drawing = Drawing()
    edges = [TOP]
    for plate in plates:
        _plate(drawing, edges[-1], plate.thickness_mm * scale, plate)
        edges.append(edges[-1] + plate.thickness_mm * scale)
    middles = [(above + below) / 2 for above, below in pairwise(edges)]
    _thicknesses(drawing, plates, edges)
    for y in (TOP, bottom):
        drawing.line(LEFT, y, RIGHT, y, weight=HEAVY)
    for x in (LEFT, RIGHT):
        _break(drawing, x, TOP, bottom)
    drawing.text(LEFT, TOP - 4, "outside", size=SMALL)
    drawing.text(LEFT, bottom + 9, "inside", size=SMALL)
    _words(drawing, plates, names, spread(middles, row, TOP + row / 2 - 3, bottom - row / 2 + 3), middles)
    _seams(drawing, plates, TOP + tall / 2)
    veneers = sum(plate.veneers for plate in plates)
    drawing.text(RIGHT + 12, bottom + 9, f"wall {wall:.2f} mm, {veneers} veneers", bold=True)
    drawing.text(WIDTH - 2, bottom + 9, "seams seen from batter side", size=SMALL, anchor="end")
    title = f"Lay-up of {len(plates)} plates, {veneers} veneers, wall {wall:.2f} mm, outside on top"
    return drawing.svg(WIDTH, bottom + 14, title=title, name="plate-stack")


def _plate(drawing: Drawing, top: float, height: float, plate: StackPlate) -> None:
    each = height / plate.veneers
    other = "axial" if plate.grain == "around" else "around"
    for veneer in range(plate.veneers):
        y = top + veneer * each
        if veneer:
            drawing.line(LEFT, y, RIGHT, y, weight=THIN)
        if (plate.grain if veneer % 2 == 0 else other) == "around":
            drawing.path(_long_grain(y, each), weight=HAIR)
        else:
            drawing.solid(_end_grain(y, each))
    drawing.line(LEFT, top, RIGHT, top, weight=FIRM)


def _thicknesses(drawing: Drawing, plates: Sequence[StackPlate], edges: Sequence[float]) -> None:
    """A chain of dimensions down the left; dots stand for arrowheads where there is no room for them."""
    x = LEFT - 9
    drawing.line(x, edges[0], x, edges[-1], weight=THIN)
    for y in edges:
        drawing.line(LEFT - 1.2, y, x - 1.8, y, weight=THIN)
    for plate, above, below in zip(plates, edges, edges[1:], strict=False):
        if below - above >= 2.4 * ARROW:
            drawing.arrow(x, above, 90)
            drawing.arrow(x, below, -90)
        else:
            drawing.solid(circle(x, above, 0.9) + circle(x, below, 0.9))
        drawing.text(x - 3, (above + below) / 2 + 2.4, f"{plate.thickness_mm:.2f}", size=SMALL, anchor="end")


def _rows(height: float) -> list[float]:
    count = max(1, int(height / 4.2))
    return [height * (n + 0.5) / count for n in range(count)]


def _long_grain(top: float, height: float) -> str:
    """Fibres in the plane of the cut: long strokes, broken at different places in each row."""
    d = ""
    for number, row in enumerate(_rows(height)):
        x = LEFT + 2 + (number * 11 + top * 3) % 17
        if x > LEFT + 6:
            d += f"M{LEFT + 1:.2f} {top + row:.2f}H{x - 3:.2f}"
        while x < RIGHT - 3:
            end = min(x + 21, RIGHT - 1)
            d += f"M{x:.2f} {top + row:.2f}H{end:.2f}"
            x = end + 3
    return d


def _end_grain(top: float, height: float) -> str:
    """Fibres that point at the reader: dots, every second row between those of the first."""
    d = ""
    for number, row in enumerate(_rows(height)):
        x = LEFT + 3 + (number % 2) * 2.5
        while x < RIGHT - 2:
            d += f"M{x - 0.55:.2f} {top + row:.2f}h1.1v.9h-1.1Z"
            x += 5
    return d


def _break(drawing: Drawing, x: float, top: float, bottom: float) -> None:
    """The wall goes on: a break line, straight with one zigzag."""
    middle = (top + bottom) / 2
    drawing.path(f"M{x:.2f} {top - 3:.2f}V{middle - 4:.2f}l-3 2.5l6 3l-3 2.5V{bottom + 3:.2f}", weight=THIN)


def _words(
    drawing: Drawing,
    plates: Sequence[StackPlate],
    names: Sequence[Sequence[str]],
    places: Sequence[float],
    middles: Sequence[float],
) -> None:
    x = RIGHT + 12
    for plate, name, middle, place in zip(plates, names, middles, places, strict=True):
        drawing.path(f"M{RIGHT - 4:.2f} {middle:.2f}L{RIGHT + 7:.2f} {place:.2f}h3", weight=THIN)
        drawing.solid(circle(RIGHT - 4, middle, 1.1))
        base = place - 1.2 - NAME_LINE * (len(name) - 1) / 2
        for line in name:
            drawing.text(x, base, line, bold=True)
            base += NAME_LINE
        veneers = "1 veneer" if plate.veneers == 1 else f"{plate.veneers} veneers"
        length = "" if plate.blank_length_mm is None else f", L {plate.blank_length_mm:.1f}"
        drawing.text(x, base, f"{veneers}, {plate.grain}{length}", size=SMALL)


def _seams(drawing: Drawing, plates: Sequence[StackPlate], y: float) -> None:
    """Angles count counter-clockwise from the datum, which is at the bottom."""
    drawing.path(circle(CENTRE_X, y, OUTER) + circle(CENTRE_X, y, INNER), weight=HEAVY)
    step = (OUTER - INNER) / len(plates)
    drawing.path("".join(circle(CENTRE_X, y, OUTER - n * step) for n in range(1, len(plates))), weight=THIN)
    drawing.path(f"M{CENTRE_X - 3:.2f} {y:.2f}h6M{CENTRE_X:.2f} {y - 3:.2f}v6", weight=THIN)
    seams = ""
    by_angle: dict[float, list[str]] = {}
    for number, plate in enumerate(plates, start=1):
        far, near = OUTER - (number - 1) * step, OUTER - number * step
        for angle in plate.seam_angles_deg:
            dx, dy = math.sin(math.radians(angle)), math.cos(math.radians(angle))
            seams += f"M{CENTRE_X + dx * near:.2f} {y + dy * near:.2f}L{CENTRE_X + dx * far:.2f} {y + dy * far:.2f}"
            by_angle.setdefault(round(angle % 360, 1), []).append(str(number))
    drawing.path(seams, weight=SEAM)
    for angle, numbers in by_angle.items():
        dx, dy = math.sin(math.radians(angle)), math.cos(math.radians(angle))
        drawing.text(
            CENTRE_X + dx * (OUTER + 4),
            y + dy * (OUTER + 6) + 2.6,
            f"{'+'.join(numbers)}: {angle:g}°",
            size=SMALL,
            anchor="start" if dx > 0.35 else "end" if dx < -0.35 else "middle",
            bold=True,
        )
