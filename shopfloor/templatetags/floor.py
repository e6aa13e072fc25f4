"""What the floor's forms need to show again what was typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.translation import gettext as _

from routing.languages import numeral

register = template.Library()
PX_PER_INCH, LEAST_PX, MOST_PX = 4.4, 48.0, 100.0


@register.filter
def answer(typed: Mapping[str, str] | str, key: str) -> str:
    """What was entered for a check, after a refusal; nothing on a page that was not refused."""
    return typed.get(f"check-{key}", "") if isinstance(typed, Mapping) else ""


@register.simple_tag
def answer_at(typed: Any, key: str, place: int) -> str:
    """What was entered for one place of a check that is measured at several."""
    every = typed.getlist(f"check-{key}") if hasattr(typed, "getlist") else []
    return str(every[place - 1]) if len(every) >= place else ""


@register.simple_tag
def answer_of(typed: Any, key: str, serial: str, place: int) -> str:
    """What was entered for one shell of a rack."""
    return answer_at(typed, f"{key}-{serial}", place)


@register.filter
def kilograms(grams: float) -> str:
    return numeral(grams / 1000, ".1f")


@register.filter
def minutes_of_work(seconds: int) -> str:
    """“1 h 05 min”, “25 min”, “under a minute”."""
    minutes = seconds // 60
    if not minutes:
        return _("under a minute")
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


@register.filter
def ring_px(diameter_in: float) -> float:
    """The size of a ring in a row: it follows the drum's diameter as far as its steps can still be read."""
    return min(MOST_PX, max(LEAST_PX, diameter_in * PX_PER_INCH))
