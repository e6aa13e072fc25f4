"""How the drums of a nest stand in each other and in their carton: a section through the axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import (
    CHAIN,
    DASH,
    HEAVY,
    SMALL,
    TEXT,
    THIN,
    Drawing,
    few_lines,
    rectangle,
    spread,
    text_width,
)

WIDTH = 328.0
LEFT, TOP = 24.0, 26.0
SECTION = 168.0  # most that the carton may take, either way
ROW, LINE = 18.0, 8.0


@dataclass(frozen=True, slots=True)
class NestDrum:
    """A drum as it lies in the carton, hardware on."""

    name: str
    outside_diameter_mm: float
    inside_diameter_mm: float
    depth_mm: float
    outside_projection_mm: float = 0.0  # of lugs and mounts beyond the shell
    inside_projection_mm: float = 0.0  # of screw heads into the shell


def nest_section_svg(
    drums: Sequence[NestDrum], *, carton_side_mm: float, carton_height_mm: float, lift_mm: float = 5.0
) -> str:
    """The drums of one nest, outermost first, to scale in the inside of their carton.

    Walls are solid; dashed lines show how far hardware stands out or in. Each inner drum stands ``lift_mm`` above the
    lower edge of the one round it. Raises ValueError for an empty nest or a carton without size.
    """
    if not drums or not (carton_side_mm > 0 and carton_height_mm > 0):
        raise ValueError("a nest needs at least one drum and a carton with a size")
    scale = SECTION / max(carton_side_mm, carton_height_mm)
    side, tall = carton_side_mm * scale, carton_height_mm * scale
    bottom, middle = TOP + tall, LEFT + side / 2
    drawing = Drawing()
    drawing.path(rectangle(LEFT, TOP, side, tall), weight=HEAVY)
    drawing.path(rectangle(LEFT - 2.2, TOP - 2.2, side + 4.4, tall + 4.4), weight=THIN)
    drawing.line(middle, TOP - 8, middle, bottom + 8, weight=THIN, dash=CHAIN)
    floor = bottom - (carton_height_mm - drums[0].depth_mm) / 2 * scale
    tips: list[tuple[float, float]] = []
    for number, drum in enumerate(drums):
        foot = floor - number * lift_mm * scale
        head = foot - drum.depth_mm * scale
        outer, inner = drum.outside_diameter_mm / 2 * scale, drum.inside_diameter_mm / 2 * scale
        for left in (middle - outer, middle + inner):
            drawing.solid(rectangle(left, head, outer - inner, foot - head))
        # heads, or what stands for them: they say where the drum ends
        drawing.path(
            f"M{middle - outer:.2f} {head:.2f}h{2 * outer:.2f}M{middle - outer:.2f} {foot:.2f}h{2 * outer:.2f}",
            weight=THIN,
        )
        _hardware(drawing, drum, middle, head, foot, scale)
        tips.append((middle + outer, head + min(7.0 + 2 * number, (foot - head) / 2)))
    row = _labels(drawing, drums, tips, LEFT + side + 2.2, bottom)
    drawing.dimension(LEFT, TOP, LEFT + side, TOP, f"carton inside {math.ceil(carton_side_mm - 1e-9)}", off=14)
    drawing.dimension(LEFT, bottom, LEFT, TOP, f"{math.ceil(carton_height_mm - 1e-9)}", off=13)
    title = f"Nest of {len(drums)}, outermost first: " + ", ".join(drum.name for drum in drums)
    return drawing.svg(WIDTH, max(bottom, TOP + row * len(drums)) + 12, title=title, name="nest-section")


def _hardware(drawing: Drawing, drum: NestDrum, middle: float, head: float, foot: float, scale: float) -> None:
    for radius in (
        (drum.outside_diameter_mm / 2 + drum.outside_projection_mm) * scale if drum.outside_projection_mm else 0.0,
        (drum.inside_diameter_mm / 2 - drum.inside_projection_mm) * scale if drum.inside_projection_mm else 0.0,
    ):
        if radius:
            for x in (middle - radius, middle + radius):
                drawing.line(x, head + 2, x, foot - 2, weight=THIN, dash=DASH)


def _labels(
    drawing: Drawing, drums: Sequence[NestDrum], tips: Sequence[tuple[float, float]], edge: float, bottom: float
) -> float:
    """Leaders that do not cross: the drum whose tip lies highest is named first. Returns the room of one name."""
    order = sorted(range(len(drums)), key=lambda n: (tips[n][1], n))
    x = edge + 10
    names = [_lines(f"{n}  ", drum.name, WIDTH - x - 6) for n, drum in enumerate(drums, start=1)]
    row = ROW + LINE * (max(len(lines) for lines, _ in names) - 1)
    low = max(bottom - 6, TOP + row * len(drums)) - (row - ROW)
    places = spread([tips[n][1] for n in order], row, TOP + 6, low)
    for n, place in zip(order, places, strict=True):
        tip_x, tip_y = tips[n]
        drum = drums[n]
        drawing.leader([(tip_x, tip_y), (x, place), (x + 3, place)], "")
        lines, last = names[n]
        for level, line in enumerate(lines):
            cut = drum.name if line.endswith("…") else ""
            drawing.text(x + 5, place - 0.6 + level * LINE, line, bold=True, whole=cut)
        size = f"Ø {drum.outside_diameter_mm:.1f} × {drum.depth_mm:.1f}"
        below = f"{last}, {size}" if last else size
        drawing.text(x + 5, place - 0.6 + len(lines) * LINE, below, size=SMALL)
    return row


def _lines(number: str, name: str, room: float) -> tuple[list[str], str]:
    """A name in one line or two, and what stands below before the size: of a name that is too long for one line its last
    word, a serial number, which is needed whole.
    """
    room -= text_width(number, TEXT, bold=True)
    lines, last = few_lines(name, room, TEXT, bold=True), ""
    if len(lines) > 1 and " " in name:
        name, _, last = name.rpartition(" ")
        lines = few_lines(name, room, TEXT, bold=True)
    return [number + lines[0], *lines[1:]], last
