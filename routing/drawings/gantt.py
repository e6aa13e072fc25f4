"""A plan over time: one row for each station, person or shell, and a bar for each piece of work.

Read on black-and-white paper as on a screen: what is late is told by its shape, not by a colour. Closed hours are hatched
and drawn at an eighth of their length, so that a quarter of an hour of work can still be seen in a week.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

from routing.drawings.common import DASH, FIRM, HAIR, HEAVY, LEADING, Drawing, few_lines, hatch, rectangle, text_width

BarKind = Literal["work", "begun", "dwell", "down"]

WIDTH = 800.0  # a landscape page; type of 8 comes out at 2.8 mm on A4 and at 12 px on a screen of 1280
MOST_NAME = 160.0  # room of the names at the left, at most; a longer one takes two lines
NAME, SCALE, LABEL = 9.0, 8.5, 8.0
HEAD = 32.0  # days and hours above the rows
LANE, BAR, DWELL = 15.0, 11.0, 5.0
LEAST = 1.2  # width of the shortest bar
PAD = 2.5
WEDGE, STRIP, BEGUN = 5.0, 2.2, 2.4
CLOSED_SHRINK = 8.0
IN_LEGEND = 5  # side by side; a longer sign takes two places
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
_MEANS: dict[BarKind, str] = {
    "work": "work",
    "begun": "work begun",
    "dwell": "glue cures or lacquer dries",
    "down": "down",
}


@dataclass(frozen=True, slots=True)
class GanttBar:
    """A piece of work, a wait after it, or a time when the row is out of use."""

    starts: datetime
    ends: datetime
    label: str
    kind: BarKind = "work"
    late: bool = False


@dataclass(frozen=True, slots=True)
class GanttRow:
    name: str
    bars: Sequence[GanttBar]  # in any order; those that overlap stand below each other


@dataclass(frozen=True, slots=True)
class ToldRow:
    """What a row shows, for those who can't see it. The times are those of the clock on the wall."""

    name: str
    bars: int
    first: datetime | None
    last: datetime | None
    late: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    """A bar as it comes to stand in the picture."""

    bar: GanttBar
    left: float
    right: float
    before: bool  # it began before the picture does
    after: bool


def gantt(
    rows: Sequence[GanttRow],
    *,
    begins: datetime,
    ends: datetime,
    tell: Callable[[ToldRow], str],
    days: Callable[[datetime], Sequence[str]],
    closed: Iterable[tuple[datetime, datetime]] = (),
    now: datetime | None = None,
    title: str = "",
) -> str:
    """The rows between two times, by the clock on the wall: all times are of one time zone, its offset is not looked at.

    ``closed`` are the hours in which nobody works. Bars that reach beyond the picture end in an open edge; bars outside
    are left out. ``tell`` puts a row into words and ``days`` names a day, from the longest name to the shortest. Raises
    ValueError when it ends before it begins.
    """
    begins, ends = _wall(begins), _wall(ends)
    if ends <= begins:
        raise ValueError("the picture ends after it begins")
    names = min(MOST_NAME, max((text_width(row.name, NAME) for row in rows), default=0.0) + 10)
    scale = _Scale(begins, ends, _shut(closed, begins, ends), names, WIDTH - 2)
    lanes = [_lanes(row.bars, scale) for row in rows]
    called = [few_lines(row.name, names - 6, NAME) for row in rows]
    tall = [max(LANE, len(lines) * NAME * LEADING + 3) for lines in called]
    heights = [max(len(found) * LANE, high) for found, high in zip(lanes, tall, strict=True)]
    bottom = HEAD + sum(heights)
    ground, front = Drawing(), Drawing()
    _ground(ground, scale, bottom, days)
    y = HEAD
    for row, found, lines, high, height in zip(rows, lanes, called, tall, heights, strict=True):
        ground.line(0, y, WIDTH - 2, y, weight=HAIR)
        front.name(0, y + high / 2, lines, row.name, size=NAME)
        for n, lane in enumerate(found):
            _lane(ground, front, lane, y + n * LANE, scale)
        y += height
    ground.line(0, bottom, WIDTH - 2, bottom, weight=FIRM)
    if now is not None and begins <= _wall(now) <= ends:
        _now_line(front, scale.at(_wall(now)), bottom)
    shown = [piece.bar for found in lanes for lane in found for piece in lane]
    return ground.svg(
        WIDTH,
        _legend(ground, front, shown, bool(scale.shut), bottom),
        title=title or f"Plan from {begins:%Y-%m-%d %H:%M} to {ends:%Y-%m-%d %H:%M}",
        name="gantt",
        described=" ".join(tell(_told(row, found)) for row, found in zip(rows, lanes, strict=True)),
        over=front,
    )


class _Scale:
    """From time to place: open hours at full length, closed ones shrunk."""

    def __init__(
        self, begins: datetime, ends: datetime, shut: list[tuple[datetime, datetime]], left: float, right: float
    ) -> None:
        self.begins, self.ends, self.shut, self.left, self.right = begins, ends, shut, left, right
        self._turns = sorted({begins, ends, *(when for span in shut for when in span)})
        shut_from = {start for start, _ in shut}
        lengths = [
            (second - first) / HOUR / (CLOSED_SHRINK if first in shut_from else 1.0)
            for first, second in pairwise(self._turns)
        ]
        self.per_hour = (right - left) / sum(lengths)  # of an open hour
        self._places = [left]
        for length in lengths:
            self._places.append(self._places[-1] + length * self.per_hour)

    def at(self, when: datetime) -> float:
        when = min(max(when, self.begins), self.ends)
        n = min(bisect_right(self._turns, when) - 1, len(self._turns) - 2)
        first, second = self._turns[n], self._turns[n + 1]
        return self._places[n] + (self._places[n + 1] - self._places[n]) * ((when - first) / (second - first))

    def is_open(self, when: datetime) -> bool:
        return not any(start < when < end for start, end in self.shut)

    def midnights(self) -> list[datetime]:
        day = self.begins.replace(hour=0, minute=0, second=0, microsecond=0) + DAY
        found = []
        while day < self.ends:
            found.append(day)
            day += DAY
        return found


def _wall(when: datetime) -> datetime:
    return when.replace(tzinfo=None)


def _shut(
    closed: Iterable[tuple[datetime, datetime]], begins: datetime, ends: datetime
) -> list[tuple[datetime, datetime]]:
    """Closed hours inside the picture, in order, those that touch made one."""
    found: list[tuple[datetime, datetime]] = []
    spans = sorted((max(_wall(first), begins), min(_wall(last), ends)) for first, last in closed)
    for first, last in spans:
        if found and first <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        elif last > first:
            found.append((first, last))
    return found


def _lanes(bars: Sequence[GanttBar], scale: _Scale) -> list[list[_Piece]]:
    """Bars that overlap in time stand in lanes below each other, as few as can be."""
    lanes: list[list[_Piece]] = []
    for bar in sorted(bars, key=lambda bar: (_wall(bar.starts), _wall(bar.ends))):
        first, last = _wall(bar.starts), _wall(bar.ends)
        if last <= scale.begins or first >= scale.ends:
            continue
        left = scale.at(first)
        piece = _Piece(bar, left, max(scale.at(last), left + LEAST), first < scale.begins, last > scale.ends)
        lane = next((lane for lane in lanes if _wall(lane[-1].bar.ends) <= first), None)
        if lane is None:
            lanes.append([piece])
        else:
            lane.append(piece)
    return lanes


def _ground(ground: Drawing, scale: _Scale, bottom: float, days: Callable[[datetime], Sequence[str]]) -> None:
    """Days, hours and the hatch of closed time."""
    for first, last in scale.shut:
        left, right = scale.at(first), scale.at(last)
        ground.path(hatch([(left, HEAD), (right, HEAD), (right, bottom), (left, bottom)], apart=4.0), weight=HAIR)
    midnights = scale.midnights()
    for midnight in midnights:
        ground.line(scale.at(midnight), 2, scale.at(midnight), bottom, weight=FIRM)
    for day, following in pairwise([scale.begins, *midnights, scale.ends]):
        _day_name(ground, days(day), scale.at(day), scale.at(following))
    free = scale.left
    gap = text_width("22", LABEL) + 4
    every = next((step for step in (1, 2, 3, 4, 6) if step * scale.per_hour >= gap), 12)
    hour = scale.begins.replace(minute=0, second=0, microsecond=0)
    while hour <= scale.ends:
        if hour >= scale.begins and hour.hour % every == 0 and hour.hour and scale.is_open(hour):
            x, words = scale.at(hour), str(hour.hour)
            half = text_width(words, LABEL) / 2
            if x - half >= free and x + half <= scale.right:
                ground.line(x, HEAD - 4, x, bottom, weight=HAIR)
                ground.text(x, HEAD - 6, words, size=LABEL, anchor="middle")
                free = x + half + 4
        hour += HOUR
    ground.line(scale.left, HEAD, scale.left, bottom, weight=FIRM)


def _day_name(ground: Drawing, names: Sequence[str], left: float, right: float) -> None:
    """As much of it as has room."""
    for words in names:
        if text_width(words, SCALE, bold=True) <= right - left - 2 * PAD:
            ground.text(left + PAD + 0.5, 11, words, size=SCALE, bold=True)
            return


def _lane(ground: Drawing, front: Drawing, lane: Sequence[_Piece], top: float, scale: _Scale) -> None:
    for n, piece in enumerate(lane):
        _bar(ground, front, piece, top)
        room = (lane[n + 1].left if n + 1 < len(lane) else scale.right) - piece.right
        _label(front, piece, top + LANE / 2 + LABEL * 0.36, room)


def _bar(ground: Drawing, front: Drawing, piece: _Piece, top: float) -> None:
    bar, left, right = piece.bar, piece.left, piece.right
    tall = DWELL if bar.kind == "dwell" else BAR
    y = top + (LANE - tall) / 2
    ground.clear(rectangle(left, y, right - left, tall))
    edges = f"M{left:.2f} {y:.2f}H{right:.2f}M{left:.2f} {y + tall:.2f}H{right:.2f}"
    edges += "" if piece.before else f"M{left:.2f} {y:.2f}V{y + tall:.2f}"
    edges += "" if piece.after else f"M{right:.2f} {y:.2f}V{y + tall:.2f}"
    front.path(edges, weight=HEAVY if bar.late else FIRM)
    if bar.kind == "dwell":
        outline = [(left, y), (right, y), (right, y + tall), (left, y + tall)]
        front.path(hatch(outline, apart=2.6, angle_deg=90.0), weight=HAIR)
    elif bar.kind == "begun":
        front.solid(rectangle(left, y, min(BEGUN, right - left), tall))
    elif bar.kind == "down":
        front.path(f"M{left:.2f} {y:.2f}L{right:.2f} {y + tall:.2f}M{left:.2f} {y + tall:.2f}L{right:.2f} {y:.2f}")
    if bar.late:
        _late(front, left, right, y, tall)


def _late(front: Drawing, left: float, right: float, y: float, tall: float) -> None:
    """A strip of ink along the foot and a wedge at the end; a bar too short for them is all ink."""
    if right - left < WEDGE + 2 or tall < BAR:
        front.solid(rectangle(left, y, right - left, tall))
        return
    front.solid(rectangle(left, y + tall - STRIP, right - left, STRIP))
    front.solid(f"M{right - WEDGE:.2f} {y:.2f}H{right:.2f}V{y + tall:.2f}Z")


def _label(front: Drawing, piece: _Piece, base: float, room: float) -> None:
    """In the bar, else behind it where the lane is free, else not at all: the list beside the picture has every word."""
    bar, left, right = piece.bar, piece.left, piece.right
    wide = text_width(bar.label, LABEL)
    left += BEGUN if bar.kind == "begun" else 0.0
    inner = right - (WEDGE if bar.late else 0.0)
    if wide + 2 * PAD <= inner - left:
        front.text(left + PAD, base, bar.label, size=LABEL, clear=bar.kind in ("dwell", "down"))
    elif wide + 2 * PAD <= room:
        front.text(right + PAD, base, bar.label, size=LABEL, clear=True)


def _now_line(front: Drawing, x: float, bottom: float) -> None:
    front.line(x, HEAD - 4, x, bottom + 3, weight=FIRM, dash=DASH)
    front.solid(f"M{x - 3.5:.2f} {HEAD - 5:.2f}H{x + 3.5:.2f}L{x:.2f} {HEAD:.2f}Z")
    half = text_width("now", LABEL, bold=True) / 2
    front.text(min(x, WIDTH - half), bottom + LABEL + 3, "now", size=LABEL, anchor="middle", bold=True)


def _legend(ground: Drawing, front: Drawing, bars: Sequence[GanttBar], shut: bool, bottom: float) -> float:
    """What the shapes mean, only those that are there. Returns where the picture ends."""
    of_kind = {bar.kind: replace(bar, label="", late=False) for bar in bars}
    samples = [(of_kind[kind], means) for kind, means in _MEANS.items() if kind in of_kind]
    late = next((replace(bar, label="", kind="work") for bar in bars if bar.late), None)
    if late is not None:
        samples.append((late, "late"))
    top, wide = bottom + 14, WIDTH / IN_LEGEND
    for n, (bar, words) in enumerate(samples):
        x, y = n % IN_LEGEND * wide, top + n // IN_LEGEND * LANE
        _bar(ground, front, _Piece(bar, x + 1, x + 25, False, False), y)
        front.text(x + 30, y + LANE / 2 + LABEL * 0.36, words, size=LABEL)
    rows = -(-len(samples) // IN_LEGEND)
    if shut:
        free = len(samples) % IN_LEGEND  # the last row's next place
        is_next = 0 < free <= IN_LEGEND - 2
        rows += not is_next
        x, y = free * wide if is_next else 0.0, top + (rows - 1) * LANE + (LANE - BAR) / 2
        ground.path(hatch([(x + 1, y), (x + 25, y), (x + 25, y + BAR), (x + 1, y + BAR)], apart=4.0), weight=HAIR)
        front.text(x + 30, y + BAR / 2 + LABEL * 0.36, "closed, drawn at an eighth of its length", size=LABEL)
    return top + rows * LANE + 2


def _told(row: GanttRow, lanes: Sequence[Sequence[_Piece]]) -> ToldRow:
    bars = sorted((piece.bar for lane in lanes for piece in lane), key=lambda bar: _wall(bar.starts))
    return ToldRow(
        row.name,
        len(bars),
        _wall(bars[0].starts) if bars else None,
        max((_wall(bar.ends) for bar in bars), default=None),
        tuple(bar.label for bar in bars if bar.late),
    )
