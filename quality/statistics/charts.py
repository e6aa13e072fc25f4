"""Control charts after Shewhart: individuals and moving range, means and ranges, proportions, counts.

Limits stand three sigmas from the centre; sigma comes from the points' own short-term spread. Formulas and worked
examples: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from quality.statistics.errors import StatisticsError
from quality.statistics.signals import Signal, run_signals

# For subgroups of 2 to 10 readings of a normal distribution: the mean and the standard deviation of the range, in sigmas
# (ASTM STP 15D / ISO 7870-2, printed in every table of control chart constants).
D2 = {2: 1.128, 3: 1.693, 4: 2.059, 5: 2.326, 6: 2.534, 7: 2.704, 8: 2.847, 9: 2.970, 10: 3.078}
D3 = {2: 0.8525, 3: 0.8884, 4: 0.8798, 5: 0.8641, 6: 0.8480, 7: 0.8332, 8: 0.8198, 9: 0.8078, 10: 0.7971}
LARGEST_SUBGROUP = 10


@dataclass(frozen=True, slots=True)
class Panel:
    """One picture: points with their centre and limits; ``low`` is None where nothing can be too small."""

    name: str
    values: tuple[float, ...]
    centre: tuple[float, ...]
    low: tuple[float | None, ...]
    high: tuple[float, ...]
    signals: tuple[Signal, ...]
    first: int = 0  # the place of its first value among those of the chart; a moving range begins with the second

    @property
    def is_steady(self) -> bool:
        return not self.signals


@dataclass(frozen=True, slots=True)
class Chart:
    """One or two panels of the same readings, and the sigma that their limits are made of."""

    kind: str  # individuals, means, proportions, counts
    panels: tuple[Panel, ...]
    sigma: float  # of a single reading; of proportions and counts that of the centre

    @property
    def in_control(self) -> bool:
        return all(panel.is_steady for panel in self.panels)


def individuals_chart(values: Sequence[float]) -> Chart:
    """Single readings in the order they were taken, and the range from each to the next.

    sigma = mean moving range / 1.128; limits x̄ ± 3·sigma, and 3.267 times the mean moving range (e-Handbook 6.3.2.2).
    At least 2 readings; StatisticsError otherwise.
    """
    _require(values, 2)
    ranges = [abs(after - before) for before, after in pairwise(values)]
    mean_range = _mean(ranges)
    sigma = mean_range / D2[2]
    return Chart(
        "individuals",
        (
            _level("readings", values, _mean(values), sigma),
            _range_panel("moving range", ranges, mean_range, 2, first=1),
        ),
        sigma,
    )


def means_chart(subgroups: Sequence[Sequence[float]]) -> Chart:
    """Means and ranges of subgroups, all of the same size from 2 to 10, in the order they were taken.

    sigma of a reading = mean range / d2; limits x̿ ± A2·R̄ with A2 = 3 / (d2·√n), and D3·R̄, D4·R̄ (e-Handbook 6.3.2.1).
    At least 2 subgroups; StatisticsError otherwise.
    """
    _require(subgroups, 2)
    sizes = {len(group) for group in subgroups}
    if len(sizes) != 1 or not 2 <= (size := sizes.pop()) <= LARGEST_SUBGROUP:
        raise StatisticsError(f"Means need subgroups of one size, from 2 to {LARGEST_SUBGROUP} readings.")
    means = [_mean(group) for group in subgroups]
    ranges = [max(group) - min(group) for group in subgroups]
    sigma = _mean(ranges) / D2[size]
    return Chart(
        "means",
        (
            _level("mean", means, _mean(means), sigma / math.sqrt(size)),
            _range_panel("range", ranges, _mean(ranges), size),
        ),
        sigma,
    )


def proportion_chart(found: Sequence[int], looked_at: Sequence[int]) -> Chart:
    """How large a part of each group was found wanting; groups may differ in size, and so do their limits.

    p̄ ± 3·√(p̄(1−p̄)/n), never below 0 nor above 1 (e-Handbook 6.3.3.2). ``found`` is 0 to ``looked_at``, which is at
    least 1; at least 2 groups. StatisticsError otherwise.
    """
    _require(found, 2)
    for some, all_ in zip(found, looked_at, strict=True):
        if all_ < 1 or not 0 <= some <= all_:
            raise StatisticsError("A proportion needs at least one that was looked at, and no more found than that.")
    p = sum(found) / sum(looked_at)
    sigmas = [math.sqrt(p * (1 - p) / size) for size in looked_at]
    values = [some / all_ for some, all_ in zip(found, looked_at, strict=True)]
    panel = _panel("proportion", values, [p] * len(values), sigmas, floor=0.0, ceiling=1.0, zones=False)
    return Chart("proportions", (panel,), math.sqrt(p * (1 - p)))


def count_chart(counts: Sequence[int]) -> Chart:
    """How many were found each time, when as much was looked at each time: c̄ ± 3·√c̄, never below 0 (e-Handbook 6.3.3.1).

    Counts of 0 and more, at least 2 of them; StatisticsError otherwise.
    """
    _require(counts, 2)
    if min(counts) < 0:
        raise StatisticsError("A count is 0 or more.")
    c = _mean(counts)
    sigma = math.sqrt(c)
    size = len(counts)
    panel = _panel("count", [float(n) for n in counts], [c] * size, [sigma] * size, floor=0.0, zones=False)
    return Chart("counts", (panel,), sigma)


def _level(name: str, values: Sequence[float], centre: float, sigma: float) -> Panel:
    return _panel(name, values, [centre] * len(values), [sigma] * len(values))


def _range_panel(name: str, ranges: Sequence[float], mean_range: float, size: int, *, first: int = 0) -> Panel:
    sigma = mean_range * D3[size] / D2[size]
    count = len(ranges)
    return _panel(name, ranges, [mean_range] * count, [sigma] * count, floor=0.0, zones=False, first=first)


def _panel(
    name: str,
    values: Sequence[float],
    centre: Sequence[float],
    sigma: Sequence[float],
    *,
    floor: float | None = None,
    ceiling: float | None = None,
    zones: bool = True,
    first: int = 0,
) -> Panel:
    low = [middle - 3 * spread for middle, spread in zip(centre, sigma, strict=True)]
    high = [middle + 3 * spread for middle, spread in zip(centre, sigma, strict=True)]
    return Panel(
        name,
        tuple(float(value) for value in values),
        tuple(centre),
        tuple(None if floor is not None and limit <= floor else limit for limit in low),
        tuple(limit if ceiling is None else min(limit, ceiling) for limit in high),
        run_signals(values, centre, sigma, zones=zones),
        first,
    )


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _require(values: Sequence[object], least: int) -> None:
    if len(values) < least:
        raise StatisticsError(f"A chart needs at least {least} points; there {_are(len(values))}.")


def _are(count: int) -> str:
    return "is one" if count == 1 else f"are {count or 'none'}"
