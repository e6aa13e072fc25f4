"""How the screens write numbers and times, and draw rings."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django import template
from django.forms import BoundField, CheckboxInput
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from routing.drawings.ring import WORDS, KitDrum, RingSegment, kit_svg, present_step, ring_svg
from routing.languages import moment, numeral, present_language
from routing.spec_words import spoken
from routing.specs.units import inch_fraction
from shopfloor.work_in_process import ShellInWork

register = template.Library()
register.simple_tag(present_language)
register.filter(moment)
register.filter(spoken)
PX_PER_INCH = 3.4
LONGEST_FIGURE = 7  # in the big type of a tile


@register.simple_tag
def ring(states: Iterable[tuple[str, str]], size: float) -> SafeString:
    """A shell's ring, ``size`` px wide; ``states`` are (state, title) in route order."""
    segments = [RingSegment(state, title) for state, title in states]
    return mark_safe(ring_svg(segments, size_px=float(size), title=_ring_words(segments)))


def _ring_words(segments: Sequence[RingSegment]) -> str | None:
    """What a ring says, for who can't see it. The drawing itself knows English; None leaves it to that."""
    if present_language() == "en":
        return None
    steps = len(segments)
    if present := present_step(segments):
        place, step = present
        if not step.label:
            return _("Step {place} of {steps}: {state}").format(place=place, steps=steps, state=_(WORDS[step.state]))
        words = _("Step {place} of {steps}: {title}, {state}")
        return words.format(place=place, steps=steps, title=step.label, state=_(WORDS[step.state]))
    if not segments:
        return _("No steps yet")
    done = sum(step.state == "done" for step in segments)
    if skipped := sum(step.state == "skipped" for step in segments):
        return _("{done} of {steps} steps done, {skipped} skipped").format(done=done, steps=steps, skipped=skipped)
    return _("{done} of {steps} steps done").format(done=done, steps=steps)


@register.simple_tag
def drum_ring(states: Iterable[tuple[str, str]], diameter_in: float, px_per_inch: float = PX_PER_INCH) -> SafeString:
    """A ring whose size follows the drum's diameter, so that the drums of a kit stand at their true relative size."""
    return ring(states, diameter_in * px_per_inch)


@register.simple_tag
def kit_rings(shells: Iterable[ShellInWork]) -> SafeString:
    """The drums of a kit side by side at their true relative size, with what and which they are."""
    drums = [
        KitDrum(
            shell.diameter_in,
            [RingSegment(state, title) for state, title in shell.operations],
            shell.drum,
            shell.serial,
        )
        for shell in shells
    ]
    return drawings(kit_svg(drums))


@register.simple_tag
def legend_ring(state: str) -> SafeString:
    """A short ring that shows how one state is drawn: the step before is done, those after wait."""
    return ring([("done", ""), (state, ""), ("waiting", ""), ("waiting", ""), ("waiting", ""), ("waiting", "")], 64)


_DRAWING = re.compile(r"<svg .*?</svg>", re.DOTALL)


@register.filter
def drawings(svg: str) -> SafeString:
    """The shop's own drawings on a screen: a tap shows one at full size, the next brings the page back. It needs no script
    and no link."""
    larger, back = _("See it larger"), _("Back to the page")
    return mark_safe(
        "".join(
            f'<details class="large"><summary>{one}<span class="large-open">{larger}</span>'
            f'<span class="large-back">{back}</span></summary></details>'
            for one in _DRAWING.findall(svg)
        )
    )


_SIGNS = {
    "ready": '<rect x="2.5" y="2.5" width="11" height="11" fill="none" stroke="currentColor" stroke-width="3"/>',
    "in_work": '<rect x="2" y="2" width="12" height="12" fill="none" stroke="currentColor" stroke-width="2.5"/><rect x="6" y="6" width="4" height="4" fill="currentColor"/>',
    "drying": '<path d="M2 2h12v12H2zM2 14 14 2M2 8l6-6M8 14l6-6" fill="none" stroke="currentColor" stroke-width="1.5"/>',
    "on_hold": '<path d="M1 2h14L8 15z" fill="currentColor"/>',
    "done": '<rect x="2" y="2" width="12" height="12" fill="currentColor"/>',
    "waiting": '<rect x="3" y="3" width="10" height="10" fill="none" stroke="currentColor"/>',
    "skipped": '<rect x="3" y="3" width="10" height="10" fill="none" stroke="currentColor" stroke-dasharray="2 2"/>',
}
# States of shells and orders borrow the sign of the step state they resemble.
_SIGN_OF = {
    "in_production": "in_work",
    "released": "ready",
    "finished": "done",
    "packed": "done",
    "complete": "done",
    "shipped": "done",
    "scrapped": "on_hold",
    "remade": "skipped",
}


@register.simple_tag
def state_chip(state: str, word: str = "") -> SafeString:
    """A state as shape and word."""
    sign = _SIGNS.get(_SIGN_OF.get(state, state), _SIGNS["waiting"])
    return format_html(
        '<span class="chip chip-{}"><svg viewBox="0 0 16 16" aria-hidden="true">{}</svg>{}</span>',
        state,
        mark_safe(sign),
        word or _(state.replace("_", " ")),
    )


@register.simple_tag
def caution(text: str) -> SafeString:
    return format_html('<div class="caution"><strong>{}</strong> {}</div>', _("Caution"), text)


@register.simple_tag
def number_block(label: str, value: Any, unit: str = "", tolerance: str = "", other: str = "") -> SafeString:
    """One big number of a station, inside ``<dl class="numbers">``."""
    return format_html(
        '<div class="number-block{}"><dt>{}</dt><dd><span class="value">{}{}</span></dd>{}{}</div>',
        " is-long" if len(str(value)) + (len(unit) + 1) // 2 > LONGEST_FIGURE else "",
        label,
        value,
        format_html(' <span class="unit">{}</span>', unit) if unit and value else "",
        format_html('<dd class="limits">{}{}</dd>', tolerance, f" {unit}" if unit and not value else "")
        if tolerance
        else "",
        format_html('<dd class="other">{}</dd>', other) if other else "",
    )


@register.filter
def mm(value: float, decimals: int = 1) -> str:
    return f"{numeral(float(value), f'.{int(decimals)}f')} mm"


@register.filter
def inch(value: float) -> str:
    return inch_fraction(float(value), denominator=16)


@register.filter
def number(value: float | None) -> str:
    return "" if value is None else numeral(float(value), ".6g")


@register.filter
def up(value: float) -> int:
    """Whole millimetres, never smaller than what is meant."""
    return math.ceil(value - 1e-9)


@register.filter
def short_time(when: datetime) -> str:
    """The time of day, with the date when it is another day."""
    local = timezone.localtime(when)
    return local.strftime("%H:%M") if local.date() == timezone.localdate() else moment(when)


@register.filter
def day_month(day: date) -> str:
    """“4 Mar”, as Django's date filter writes it."""
    return date_format(day, _("j M"))


@register.filter
def whole_day(day: date) -> str:
    return date_format(day, _("j M Y"))


@register.filter
def age(since: datetime, now: datetime | None = None) -> str:
    """How long ago, in the largest unit that says enough: “3 d”, “5 h”, “12 min”."""
    minutes = max(0, int(((now or timezone.now()) - since).total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // (24 * 60)} d"


@register.filter
def hours_minutes(minutes: float) -> str:
    """A duration in minutes as people say it: “1 h 20 min”, “45 min”, “2 h”."""
    hours, rest = divmod(round(float(minutes)), 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )


@register.filter
def is_tick(field: BoundField) -> bool:
    """A single box to tick stands before its label."""
    return isinstance(field.field.widget, CheckboxInput)
