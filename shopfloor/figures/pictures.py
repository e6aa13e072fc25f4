"""From what was computed to what is drawn."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from quality.statistics import Chart, Panel, ParetoBar
from routing.drawing_words import in_words, picture_in_words
from routing.drawings.control_chart import DrawnPanel, control_chart_svg
from routing.drawings.pareto import DrawnBar, pareto_svg


def chart_picture(
    chart: Chart,
    *,
    labels: Sequence[str],
    title: str,
    unit: str = "",
    allowed: tuple[float | None, float | None] = (None, None),
) -> str:
    panels = [
        DrawnPanel(_name(panel), panel.values, panel.centre, panel.low, panel.high, _marks(panel), panel.first)
        for panel in chart.panels
    ]
    return in_words(control_chart_svg(panels, labels=labels, title=title, unit=unit, allowed=allowed))


def pareto_picture(bars: Sequence[ParetoBar], *, title: str) -> str:
    drawn = [DrawnBar(bar.name, bar.count, bar.running) for bar in bars]
    return picture_in_words(pareto_svg(drawn, title=title)) if bars else ""


def _name(panel: Panel) -> str:
    """At a tablet “count” is what somebody is to do; over a panel it is a number."""
    return pgettext("picture", "count") if panel.name == "count" else _(panel.name)


def _marks(panel: Panel) -> dict[int, str]:
    marks: dict[int, str] = {}
    for signal in panel.signals:
        before = marks.get(signal.place)
        marks[signal.place] = f"{before},{signal.rule}" if before else str(signal.rule)
    return marks
