"""Counts by name, the largest first, with the running share of the whole beside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import FIRM, HAIR, SMALL, TEXT, THIN, Drawing, few_lines, hatch, rectangle, text_width

WIDTH = 560.0
NAMES = 190.0  # room of the names
SHARE = 92.0  # room of the running share
ROW, BAR, TOP = 16.0, 10.0, 20.0
MOST = 15


@dataclass(frozen=True, slots=True)
class DrawnBar:
    name: str
    count: int
    running: float  # share of all up to and with this one, 0 … 1


def pareto_svg(bars: Sequence[DrawnBar], *, title: str) -> str:
    """Level bars, so that long names can be read; the line at the right climbs to 100 %. Only the first 15 are drawn,
    the rest is counted in one row. Raises ValueError without a bar.
    """
    if not bars:
        raise ValueError("there is nothing to count")
    rows = list(bars[:MOST])
    if len(bars) > MOST:
        rest = sum(bar.count for bar in bars[MOST:])
        rows.append(DrawnBar(f"{len(bars) - MOST} more", rest, 1.0))
    drawing = Drawing()
    room = WIDTH - NAMES - SHARE - 40
    most = max(row.count for row in rows)
    points = []
    drawing.text(NAMES, TOP - 8, "count", size=SMALL)
    drawing.text(WIDTH - SHARE, TOP - 8, "running share", size=SMALL)
    for n, row in enumerate(rows):
        y = TOP + n * ROW
        size = TEXT if text_width(row.name, TEXT) <= NAMES - 12 else SMALL
        lines = few_lines(row.name, NAMES - 12, size)
        drawing.name(NAMES - 6, y + BAR / 2, lines, row.name, size=size, anchor="end")
        width = max(room * row.count / most, 1.0)
        drawing.path(rectangle(NAMES, y, width, BAR), weight=FIRM)
        drawing.path(
            hatch([(NAMES, y), (NAMES + width, y), (NAMES + width, y + BAR), (NAMES, y + BAR)], apart=3.2), weight=HAIR
        )
        drawing.text(NAMES + width + 4, y + BAR / 2 + 2.6, str(row.count), bold=True)
        x = WIDTH - SHARE + (SHARE - 34) * row.running
        points.append((x, y + BAR / 2))
        drawing.text(x + 4, y + BAR / 2 + 2.4, f"{row.running * 100:.0f} %", size=SMALL)
    bottom = TOP + len(rows) * ROW
    drawing.line(NAMES, TOP - 4, NAMES, bottom, weight=FIRM)
    drawing.path("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points), weight=THIN)
    return drawing.svg(WIDTH, bottom + 6, title=title, name="pareto")
