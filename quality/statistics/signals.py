"""Run signals: patterns on a control chart that chance alone makes rarely.

The first four are the rules of the Western Electric Statistical Quality Control Handbook (1956) as the NIST/SEMATECH
e-Handbook of Statistical Methods, 6.3.2, gives them; the fifth (a trend of six) stands beside them there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

# Rule → what it says. The number stands beside the point in the drawing.
RULES = {
    1: "beyond a limit",
    2: "two of three beyond two sigma on one side",
    3: "four of five beyond one sigma on one side",
    4: "eight in a row on one side of the centre",
    5: "six in a row rising, or six falling",
}


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule that is met with the point at ``place``, counted from 0: the last one of its pattern."""

    place: int
    rule: int

    @property
    def words(self) -> str:
        return RULES[self.rule]


def run_signals(
    values: Sequence[float], centre: Sequence[float], sigma: Sequence[float], *, zones: bool = True
) -> tuple[Signal, ...]:
    """Every signal of a chart, by place and rule. ``centre`` and ``sigma`` have one value for each point.

    A point that lies on a limit is not beyond it. Without ``zones`` (ranges, counts and proportions, which lie skew about
    their centre) only rules 1, 4 and 5 are looked for. A sigma of 0 gives no signal by rules 1 to 3 unless the point is
    off the centre. Lists of different lengths raise ValueError.
    """
    distances = [_distance(value, middle, spread) for value, middle, spread in zip(values, centre, sigma, strict=True)]
    found: list[Signal] = []
    for place in range(len(values)):
        if abs(distances[place]) > 3:
            found.append(Signal(place, 1))
        if zones and _many_beyond(distances, place, of=3, many=2, limit=2):
            found.append(Signal(place, 2))
        if zones and _many_beyond(distances, place, of=5, many=4, limit=1):
            found.append(Signal(place, 3))
        if _run(place, 8, lambda n: distances[n] > 0) or _run(place, 8, lambda n: distances[n] < 0):
            found.append(Signal(place, 4))
        if place >= 1 and (
            _run(place, 5, lambda n: n >= 1 and values[n] > values[n - 1])
            or _run(place, 5, lambda n: n >= 1 and values[n] < values[n - 1])
        ):
            found.append(Signal(place, 5))
    return tuple(found)


def _distance(value: float, centre: float, sigma: float) -> float:
    """From the centre, in sigmas; a hair of floating point moves no point across a limit."""
    off = value - centre
    if sigma > 0:
        return round(off / sigma, 9)
    return 0.0 if abs(off) < 1e-12 else (1e9 if off > 0 else -1e9)


def _many_beyond(distances: Sequence[float], place: int, *, of: int, many: int, limit: float) -> bool:
    """Whether the point at ``place`` and enough of those before it lie beyond ``limit`` on the same side."""
    here = distances[place]
    if abs(here) <= limit or place < of - 1:
        return False
    side = 1 if here > 0 else -1
    return sum(each * side > limit for each in distances[place - of + 1 : place + 1]) >= many


def _run(place: int, length: int, holds: Callable[[int], bool]) -> bool:
    return place >= length - 1 and all(holds(n) for n in range(place - length + 1, place + 1))
