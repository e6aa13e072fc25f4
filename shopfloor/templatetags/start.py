"""The way to the guided round, on every page of the demo shop."""

from __future__ import annotations

from typing import Any

from django import template
from django.http import HttpRequest
from django.template import Context
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from quality.models import Person
from quality.rights import Right, has_right
from routing.models import Shop
from shopfloor.start.round import present_round

register = template.Library()


@register.simple_tag(takes_context=True)
def round_line(context: Context) -> SafeString | str:
    """The present stop of the guided round as a link, for whoever may take it; nothing for others."""
    request: Any = context.get("request")
    if not (isinstance(request, HttpRequest) and _may_take_it(request)):
        return ""
    found = present_round(Shop.current())
    if found is None:
        words = "Take the guided round"
    elif (stop := found.present) is None:
        words = "The guided round is done"
    else:
        words = f"Guided round, stop {stop.number} of {len(found.stops)}: {stop.title}"
    return format_html(' <a href="{}">{}</a>', reverse("start:round"), words)


def _may_take_it(request: HttpRequest) -> bool:
    person = getattr(request, "user", None)
    return isinstance(person, Person) and has_right(person, Right.EDIT_PEOPLE)
