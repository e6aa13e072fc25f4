"""The way back to the guided round or to the first steps, at the top of every page."""

from __future__ import annotations

from typing import Any

from django import template
from django.http import HttpRequest
from django.template import Context
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from quality.models import Person
from quality.rights import Right, has_right
from shopfloor.first_steps import KINDS, ON_THE_WAY, next_open
from shopfloor.start.round import STOPS, present_stop

register = template.Library()


@register.simple_tag(takes_context=True)
def round_line(context: Context) -> SafeString | str:
    """The present stop of the guided round as a link, for whoever may take it; nothing for others."""
    request: Any = context.get("request")
    if not (isinstance(request, HttpRequest) and _may_take_it(request)):
        return ""
    is_on, stop = present_stop(context["shop"])
    if stop is not None:
        said = _("Guided round, stop {number} of {stops}: {title}")
        words = said.format(number=stop.number, stops=STOPS, title=stop.title)
    else:
        words = _("The guided round is done") if is_on else _("Take the guided round")
    return format_html(' <a href="{}">{}</a>', reverse("start:round"), words)


@register.simple_tag(takes_context=True)
def steps_line(context: Context) -> SafeString | str:
    """The next of the first steps as a link, for whoever opened that page since they signed in; nothing for others."""
    request: Any = context.get("request")
    session = getattr(request, "session", None)
    if not (session and session.get(ON_THE_WAY) and _may_take_it(request)):
        return ""
    following = next_open(context["shop"])
    words = _("The first steps are done")
    if following is not None:
        said = _("First steps, {number} of {steps}: {title}")
        number = KINDS.index(following) + 1
        words = said.format(number=number, steps=len(KINDS), title=_(following.title))
    return format_html('<a href="{}">{}</a>', reverse("start:steps"), words)


def _may_take_it(request: HttpRequest) -> bool:
    person = getattr(request, "user", None)
    return isinstance(person, Person) and has_right(person, Right.EDIT_PEOPLE)
