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
    rectangle,
    spread,
    text_width,
)

WIDTH = 328.0
LEFT, TOP = 24.0, 26.0
SECTION = 168.0  # most that the carton may take, either way
ROW = 18.0


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
    _labels(drawing, drums, tips, LEFT + side + 2.2, bottom)
    drawing.dimension(LEFT, TOP, LEFT + side, TOP, f"carton inside {math.ceil(carton_side_mm - 1e-9)}", off=14)
    drawing.dimension(LEFT, bottom, LEFT, TOP, f"{math.ceil(carton_height_mm - 1e-9)}", off=13)
    title = f"Nest of {len(drums)}, outermost first: " + ", ".join(drum.name for drum in drums)
    return drawing.svg(WIDTH, max(bottom, TOP + ROW * len(drums)) + 12, title=title, name="nest-section")


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
) -> None:
    """Leaders that do not cross: the drum whose tip lies highest is named first."""
    order = sorted(range(len(drums)), key=lambda n: (tips[n][1], n))
    places = spread([tips[n][1] for n in order], ROW, TOP + 6, max(bottom - 6, TOP + ROW * len(drums)))
    x = edge + 10
    for n, place in zip(order, places, strict=True):
        tip_x, tip_y = tips[n]
        drum = drums[n]
        drawing.leader([(tip_x, tip_y), (x, place), (x + 3, place)], "")
        words = f"{n + 1}  {drum.name}".split(" ")
        rest: list[str] = []
        while len(words) > 3 and text_width(" ".join(words), TEXT, bold=True) > WIDTH - x - 6:
            rest.insert(0, words.pop())  # a serial number comes last and is needed whole
        name = " ".join(words)
        while text_width(name, TEXT, bold=True) > WIDTH - x - 6:
            name = name[:-2].rstrip() + "…"
        below = [" ".join(rest)] * bool(rest) + [f"Ø {drum.outside_diameter_mm:.1f} × {drum.depth_mm:.1f}"]
        drawing.text(x + 5, place - 0.6, name, bold=True)
        drawing.text(x + 5, place + 7.4, ", ".join(below), size=SMALL)
