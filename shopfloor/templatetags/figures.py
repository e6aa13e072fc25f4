"""Numbers of the figures pages, as they are read."""

from __future__ import annotations

from collections.abc import Iterable

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from quality.figures import StationYield
from routing.languages import numeral

register = template.Library()
FEW = 20  # shells, below which a yield says little (common practice, no source)


@register.filter
def percent(part: float | None) -> str:
    """“96.4 %”; a dash where nothing is known."""
    return "–" if part is None else f"{numeral(part * 100, '.1f')} %"


@register.filter
def ratio(value: float | None) -> str:
    return "–" if value is None else numeral(value, ".2f")


@register.filter
def bar(part: float | None) -> SafeString | str:
    """A bar as long as the part, drawn without a style of its own."""
    if part is None:
        return ""
    return format_html(
        '<svg class="yield-bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="yield-all" width="100" height="10"/><rect class="yield-part" width="{}" height="10"/></svg>',
        f"{part * 100:.1f}",
    )


@register.filter
def few_shells(stations: Iterable[StationYield]) -> bool:
    return any(each.shells < FEW for each in stations)
