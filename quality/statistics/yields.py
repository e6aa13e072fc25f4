"""Yields and ratios of the floor, in the terms of ISO 22400-2 (key performance indicators for manufacturing), and times.

A ratio of nothing is None, not 0: where nothing was made, nothing is known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from quality.statistics.errors import StatisticsError


def first_pass_yield(passed_first: int, inspected: int) -> float | None:
    """First pass yield: parts that passed without rework over parts inspected. 0 … 1, or None when none was."""
    return _ratio(passed_first, inspected)


def rolled_yield(yields: Iterable[float | None]) -> float | None:
    """Rolled throughput yield: the product of the first pass yields along a route. None when one of them is not known."""
    product = 1.0
    for each in yields:
        if each is None:
            return None
        product *= each
    return product


def rework_ratio(reworked: int, processed: int) -> float | None:
    """Rework ratio: parts that were sent back over all that were processed."""
    return _ratio(reworked, processed)


def scrap_ratio(scrapped: int, produced: int) -> float | None:
    """Scrap ratio: parts scrapped over all produced."""
    return _ratio(scrapped, produced)


@dataclass(frozen=True, slots=True)
class ParetoBar:
    name: str
    count: int
    share: float  # of all, 0 … 1
    running: float  # this and all before it


def pareto(counts: Mapping[str, int]) -> tuple[ParetoBar, ...]:
    """Named counts, the largest first (equals by name), each with its share and the running share. Zeros are left out."""
    if any(count < 0 for count in counts.values()):
        raise StatisticsError("A count is 0 or more.")
    total = sum(counts.values())
    bars, running = [], 0
    for name, count in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        if count:
            running += count
            bars.append(ParetoBar(name, count, count / total, running / total))
    return tuple(bars)


@dataclass(frozen=True, slots=True)
class SpreadOfTimes:
    """Five figures of some times; quartiles by linear interpolation between the ordered values (Hyndman & Fan, type 7)."""

    count: int
    shortest: float
    quarter: float
    median: float
    three_quarters: float
    longest: float


def spread_of_times(times: Sequence[float]) -> SpreadOfTimes | None:
    """Of times in one unit; None when there is none."""
    if not times:
        return None
    ordered = sorted(times)
    quarter, median, three_quarters = (_quantile(ordered, part) for part in (0.25, 0.5, 0.75))
    return SpreadOfTimes(len(ordered), ordered[0], quarter, median, three_quarters, ordered[-1])


def _quantile(ordered: Sequence[float], part: float) -> float:
    place = (len(ordered) - 1) * part
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)


def _ratio(some: int, all_: int) -> float | None:
    if all_ < 0 or not 0 <= some <= max(all_, 0):
        raise StatisticsError("A part can't be larger than the whole, and neither is negative.")
    return some / all_ if all_ else None
