"""What the record says about the shop as a whole: yields, times, findings, and how steady each measured check is."""

from quality.figures.checks import CheckFigures, figures_of_check, findings_chart, measured_checks
from quality.figures.findings import Finding, findings_between
from quality.figures.span import Span
from quality.figures.yields import ShopYields, StationYield, yields_between

__all__ = [
    "CheckFigures",
    "Finding",
    "ShopYields",
    "Span",
    "StationYield",
    "figures_of_check",
    "findings_between",
    "findings_chart",
    "measured_checks",
    "yields_between",
]
