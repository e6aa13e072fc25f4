"""Statistics of quality, pure: yields, control charts with their signals, capability. Sources stand with each function."""

from quality.statistics.capability import Capability, capability
from quality.statistics.charts import Chart, Panel, count_chart, individuals_chart, means_chart, proportion_chart
from quality.statistics.errors import StatisticsError
from quality.statistics.signals import RULES, Signal, run_signals
from quality.statistics.yields import (
    ParetoBar,
    SpreadOfTimes,
    first_pass_yield,
    pareto,
    rework_ratio,
    rolled_yield,
    scrap_ratio,
    spread_of_times,
)

__all__ = [
    "RULES",
    "Capability",
    "Chart",
    "Panel",
    "ParetoBar",
    "Signal",
    "SpreadOfTimes",
    "StatisticsError",
    "capability",
    "count_chart",
    "first_pass_yield",
    "individuals_chart",
    "means_chart",
    "pareto",
    "proportion_chart",
    "rework_ratio",
    "rolled_yield",
    "run_signals",
    "scrap_ratio",
    "spread_of_times",
]
