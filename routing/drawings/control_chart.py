"""A control chart: readings in their order, centre and limits with their values, marked points with the rule's number."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from routing.drawings.common import CHAIN, DASH, FIRM, HAIR, HEAVY, SMALL, THIN, Drawing, circle, text_width

WIDTH = 560.0
LEFT, RIGHT = 46.0, 74.0
TALL, TALL_SECOND = 132.0, 74.0
TOP, BETWEEN, BOTTOM = 18.0, 24.0, 22.0
DOT, MARKED = 1.7, 2.9
MARK_OFF = 5.0  # from a point to the numbers of its rules


@dataclass(frozen=True, slots=True)
class DrawnPanel:
    """What one panel shows. All lists but ``marks`` have one entry for each point; ``low`` is None without lower limit."""

    name: str
    values: Sequence[float]
    centre: Sequence[float]
    low: Sequence[float | None]
    high: Sequence[float]
    marks: Mapping[int, str] = field(default_factory=dict)  # place of a point → numbers of its rules
    first: int = 0  # place on the common axis of its first value


def control_chart_svg(
    panels: Sequence[DrawnPanel],
    *,
    labels: Sequence[str],
    title: str,
    unit: str = "",
    allowed: tuple[float | None, float | None] = (None, None),
) -> str:
    """One or two panels over a common axis. ``labels`` name the points of the first panel; ``allowed`` are the limits of
    the spec, drawn in the first panel with a chain line. Raises ValueError without a point.
    """
    if not panels or not panels[0].values:
        raise ValueError("a chart needs at least one point")
    drawing = Drawing()
    places = max(panel.first + len(panel.values) for panel in panels)
    y = TOP
    for number, panel in enumerate(panels):
        tall = TALL if number == 0 else TALL_SECOND
        _panel(drawing, panel, y, tall, places, unit, allowed if number == 0 else (None, None))
        y += tall + BETWEEN
    y += -BETWEEN + 10
    _axis(drawing, labels, y, places)
    return drawing.svg(WIDTH, y + BOTTOM - 10, title=title, name="control-chart")


def _x(place: float, places: int) -> float:
    room = WIDTH - LEFT - RIGHT
    return LEFT + room * (place + 0.5) / places


def _panel(
    drawing: Drawing,
    panel: DrawnPanel,
    top: float,
    tall: float,
    places: int,
    unit: str,
    allowed: tuple[float | None, float | None],
) -> None:
    shown = [*panel.values, *panel.high, *(low for low in panel.low if low is not None), *panel.centre]
    shown += [limit for limit in allowed if limit is not None]
    least, most = min(shown), max(shown)
    if panel.low[0] is None and least >= 0:
        least = 0.0
    air = (most - least) * 0.06 or abs(most) * 0.1 or 1.0
    least, most = least - (air if least != 0 or most < 0 else 0), most + air
    most = max([most, *_room_for_marks(panel, least, tall)])

    def at(value: float) -> float:
        return top + tall * (most - value) / (most - least)

    drawing.line(LEFT, top, LEFT, top + tall, weight=FIRM)
    drawing.line(LEFT, top + tall, WIDTH - RIGHT, top + tall, weight=FIRM)
    drawing.text(LEFT, top - 6, f"{panel.name}{f', {unit}' if unit else ''}", bold=True)
    for tick in _ticks(least, most, 5 if tall > 100 else 3):
        drawing.line(LEFT - 3, at(tick), LEFT, at(tick), weight=THIN)
        drawing.text(LEFT - 5, at(tick) + 2.3, f"{tick:.6g}", size=SMALL, anchor="end")
    _steps(drawing, [at(value) for value in panel.centre], panel.first, places, weight=FIRM, dash="")
    _steps(drawing, [at(value) for value in panel.high], panel.first, places, weight=FIRM, dash=DASH)
    lows = [None if value is None else at(value) for value in panel.low]
    _steps(drawing, lows, panel.first, places, weight=FIRM, dash=DASH)
    named = [(panel.centre[-1], "centre"), (panel.high[-1], "upper")]
    if panel.low[-1] is not None:
        named.append((panel.low[-1], "lower"))
    for limit, word in zip(allowed, ("allowed from", "allowed to"), strict=True):
        if limit is not None:
            drawing.line(LEFT, at(limit), WIDTH - RIGHT, at(limit), weight=THIN, dash=CHAIN)
            named.append((limit, word))
    _names(drawing, [(at(value), f"{word} {_short(value, most - least)}") for value, word in named], top, top + tall)
    points = [(_x(panel.first + n, places), at(value)) for n, value in enumerate(panel.values)]
    drawing.path("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points), weight=HAIR if places > 120 else THIN)
    for n, (x, y) in enumerate(points):
        if n not in panel.marks:
            drawing.solid(circle(x, y, DOT if places <= 120 else 1.0))
            continue
        drawing.path(circle(x, y, MARKED), weight=HEAVY)
    _marks(drawing, panel, points, top + tall)


def _room_for_marks(panel: DrawnPanel, least: float, tall: float) -> Iterator[float]:
    """How high a panel has to reach, so that the numbers over its points stay below its head."""
    for n, mark in panel.marks.items():
        room = MARK_OFF + SMALL * len(mark.split(","))
        yield (panel.values[n] * tall - room * least) / (tall - room)


def _marks(drawing: Drawing, panel: DrawnPanel, points: Sequence[tuple[float, float]], bottom: float) -> None:
    """The numbers of a point's rules, one above the other: beside one another they would touch those of the next point.
    Where points are so close that columns touch, the ring stands alone."""
    taken: dict[bool, float] = {}
    for n in sorted(panel.marks):
        x, y = points[n]
        numbers = panel.marks[n].split(",")
        above = panel.values[n] >= panel.centre[n] or y + MARK_OFF + SMALL * len(numbers) > bottom
        if x - taken.get(above, -math.inf) < SMALL:
            continue
        taken[above] = x
        base = y - MARK_OFF - SMALL * (len(numbers) - 1) if above else y + MARK_OFF + SMALL * 0.75
        for line, number in enumerate(numbers):
            drawing.text(x, base + line * SMALL, number, size=SMALL, anchor="middle", bold=True, clear=True)


def _steps(
    drawing: Drawing, heights: Sequence[float | None], first: int, places: int, *, weight: float, dash: str
) -> None:
    """A level line where the value stays, steps where it changes from point to point, nothing where there is none."""
    d, pen_down, n = "", False, 0
    while n < len(heights):
        height = heights[n]
        if height is None:
            pen_down = False
            n += 1
            continue
        last = n
        while last + 1 < len(heights) and heights[last + 1] is not None and abs(heights[last + 1] - height) < 0.01:  # type: ignore[operator]
            last += 1
        start, end = _x(first + n - 0.5, places), _x(first + last + 0.5, places)
        d += f"{'L' if pen_down else 'M'}{start:.2f} {height:.2f}L{end:.2f} {height:.2f}"
        pen_down = True
        n = last + 1
    drawing.path(d, weight=weight, dash=dash)


def _names(drawing: Drawing, wanted: Sequence[tuple[float, str]], top: float, bottom: float) -> None:
    """The words of the lines at the right edge, moved apart where they would touch."""
    ordered = sorted(wanted)
    heights = [height for height, _ in ordered]
    apart = SMALL + 1.2
    for n in range(1, len(heights)):
        heights[n] = max(heights[n], heights[n - 1] + apart)
    over = max(0.0, heights[-1] - (bottom - 1))
    for height, (_, words) in zip(heights, ordered, strict=True):
        drawing.text(WIDTH - RIGHT + 4, height - over + 2.3, words, size=SMALL)


def _axis(drawing: Drawing, labels: Sequence[str], y: float, places: int) -> None:
    """As many labels as have room, the last one always."""
    if not labels:
        return
    widest = max(text_width(label, SMALL) for label in labels) + 8
    every = max(1, math.ceil(widest * places / (WIDTH - LEFT - RIGHT)))
    for n in range(len(labels) - 1, -1, -every):
        drawing.text(_x(n, places), y, labels[n], size=SMALL, anchor="middle")


def _ticks(least: float, most: float, wanted: int) -> list[float]:
    """Round numbers between two values: steps of 1, 2 or 5 times a power of ten."""
    raw = (most - least) / wanted
    power = 10 ** math.floor(math.log10(raw))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= raw - 1e-12)
    return [n * step for n in range(math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9) + 1)]


def _short(value: float, span: float) -> str:
    """With as many decimals as can be told apart in the picture."""
    decimals = min(6, max(0, 2 - math.floor(math.log10(span))))
    words = f"{value:.{decimals}f}"
    return words.rstrip("0").rstrip(".") if "." in words else words
