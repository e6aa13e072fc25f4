"""Control charts, capability and yields, held against the worked examples of the NIST/SEMATECH e-Handbook and tables."""

from __future__ import annotations

import math

from quality.statistics import (
    capability,
    count_chart,
    first_pass_yield,
    individuals_chart,
    means_chart,
    pareto,
    proportion_chart,
    rolled_yield,
    run_signals,
    spread_of_times,
)
from quality.statistics.capability import nearest_ratio, width_ratio
from quality.statistics.charts import D2
from tests.published.checks import Check, Mark

_HANDBOOK = "NIST/SEMATECH e-Handbook of Statistical Methods"
_TABLE = "control chart constants, ASTM STP 15D"
_FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
_WAFERS = (16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13)
_CHIPS = (
    *(12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22),
    *(8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6),
)


def _flow_limits() -> tuple[float, ...]:
    panel = individuals_chart(_FLOW).panels[0]
    return panel.centre[0], panel.low[0] or 0.0, panel.high[0]


def _beyond(signals: object) -> tuple[float, ...]:
    return tuple(float(signal.place + 1) for signal in signals if signal.rule == 1)  # type: ignore[attr-defined]


def _a2(size: int) -> float:
    return 3 / (D2[size] * math.sqrt(size))


def _range_factors(size: int) -> tuple[float, float]:
    """D3 and D4: the limits of ranges whose mean is one."""
    group = [0.0] * (size - 1) + [1.0]
    panel = means_chart([group, group]).panels[1]
    return panel.low[0] or 0.0, panel.high[0]


CHECKS = [
    Check("individuals: centre and limits", f"{_HANDBOOK} 6.3.2.2", (50.81, 45.8159, 55.8041), _flow_limits, 0.0005),
    Check(
        "individuals: mean moving range",
        f"{_HANDBOOK} 6.3.2.2",
        1.8778,
        lambda: individuals_chart(_FLOW).panels[1].centre[0],
        0.00005,
    ),
    Check(
        "c chart: centre and limits",
        f"{_HANDBOOK} 6.3.3.1",
        (16.0, 4.0, 28.0),
        lambda: (lambda p: (p.centre[0], p.low[0] or 0.0, p.high[0]))(count_chart(_WAFERS).panels[0]),
        1e-9,
    ),
    Check(
        "c chart: only the 24th wafer is beyond; the 3rd lies on the limit",
        f"{_HANDBOOK} 6.3.3.1",
        (24.0,),
        lambda: _beyond(count_chart(_WAFERS).panels[0].signals),
    ),
    Check(
        "p chart: centre and limits",
        f"{_HANDBOOK} 6.3.3.2",
        (0.2313, 0.0524, 0.4102),
        lambda: (lambda p: (p.centre[0], p.low[0] or 0.0, p.high[0]))(
            proportion_chart(_CHIPS, [50] * len(_CHIPS)).panels[0]
        ),
        0.00008,
    ),
    Check(
        "p chart: wafers beyond a limit",
        f"{_HANDBOOK} 6.3.3.2, from its data",
        (15.0, 23.0),
        lambda: _beyond(proportion_chart(_CHIPS, [50] * len(_CHIPS)).panels[0].signals),
        mark=Mark.COMPUTED,
    ),
    Check("Cp of limits 8 and 20, s 2", f"{_HANDBOOK} 6.1.6", 1.0, lambda: width_ratio(8, 20, 2) or 0.0, 1e-9),
    Check("Cpk with the mean at 16", f"{_HANDBOOK} 6.1.6", 0.6667, lambda: nearest_ratio(8, 20, 16, 2) or 0.0, 0.00005),
    Check(
        "A2 for 2 … 10",
        _TABLE,
        (1.880, 1.023, 0.729, 0.577, 0.483, 0.419, 0.373, 0.337, 0.308),
        lambda: tuple(_a2(size) for size in range(2, 11)),
        0.0007,
    ),
    Check(
        "D3 for 2 … 10",
        _TABLE,
        (0, 0, 0, 0, 0, 0.076, 0.136, 0.184, 0.223),
        lambda: tuple(_range_factors(size)[0] for size in range(2, 11)),
        0.0011,
    ),
    Check(
        "D4 for 2 … 10",
        _TABLE,
        (3.267, 2.574, 2.282, 2.114, 2.004, 1.924, 1.864, 1.816, 1.777),
        lambda: tuple(_range_factors(size)[1] for size in range(2, 11)),
        0.0015,
    ),
    Check(
        "rolled yield of 0.94, 0.98, 0.80, 0.99, 0.96, 0.98",
        "planning figures of the trade, common practice, no source: about 0.69 through without a rework",
        0.686,
        lambda: rolled_yield((0.94, 0.98, 0.80, 0.99, 0.96, 0.98)) or 0.0,
        0.001,
        mark=Mark.COMPUTED,
    ),
    Check(
        "first pass yield, 70 of 100",
        "ISO 22400-2: good parts without rework over parts inspected (from memory)",
        0.7,
        lambda: first_pass_yield(70, 100) or 0.0,
        1e-12,
        mark=Mark.FROM_MEMORY,
    ),
    Check(
        "quartiles of 1 … 10",
        "Hyndman & Fan (1996), type 7; SciPy and R agree",
        (3.25, 5.5, 7.75),
        lambda: (lambda s: (s.quarter, s.median, s.three_quarters))(spread_of_times(list(range(1, 11)))),  # type: ignore[union-attr]
        1e-9,
        mark=Mark.COMPUTED,
    ),
    Check(
        "eight in a row on one side",
        f"{_HANDBOOK} 6.3.2, Western Electric rules",
        (8.0,),
        lambda: tuple(float(s.place + 1) for s in run_signals([0.5] * 8, [0.0] * 8, [1.0] * 8) if s.rule == 4),
    ),
    Check(
        "running share after the two largest of 8, 5, 4, 3",
        "arithmetic",
        0.65,
        lambda: pareto({"a": 3, "b": 8, "c": 5, "d": 4})[1].running,
        1e-12,
        mark=Mark.COMPUTED,
    ),
    Check(
        "Pp of ten readings against 44 and 56",
        "(56 − 44) / 6s with s from the readings, by hand",
        12 / (6 * 2.033852),
        lambda: capability(_FLOW, low=44, high=56, sigma_within=1.6647).pp or 0.0,
        0.001,
        mark=Mark.COMPUTED,
    ),
]
