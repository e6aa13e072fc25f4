"""Words that explain: what a figure means, and what the parts of a ring say."""

from __future__ import annotations

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopfloor.templatetags.shop import legend_ring
from shopfloor.words import OF_STEPS, meaning_of

register = template.Library()
register.simple_tag(meaning_of, name="meaning")


@register.simple_tag
def ring_legend(title: str = "") -> SafeString:
    """What each part of a ring says, folded away until somebody taps. It needs no script, no link and no sign-in."""
    rows = format_html_join(
        "",
        "<li>{}<span><b>{}</b> {}</span></li>",
        ((legend_ring(state), _(word), _(says)) for state, word, says in OF_STEPS),
    )
    return format_html(
        '<details class="inline ring-legend"><summary>{}</summary><ul class="plain"><li>{}</li>{}</ul></details>',
        title or _("What the rings say"),
        _("Clockwise from the top, one part for each step."),
        rows,
    )
