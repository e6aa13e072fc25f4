"""What the person signed in may open."""

from __future__ import annotations

from django import template
from django.http import HttpRequest
from django.urls import reverse

from quality.models import Person
from quality.rights import Right, has_right

register = template.Library()
MENU = [
    ("Board", "board:board", Right.SEE_BOARD),
    ("Orders", "orders:list", Right.SEE_ORDERS),
    ("Recipes", "catalog:index", Right.SEE_RECIPES),
    ("Bench", "bench:bench", Right.SEE_RECIPES),
    ("Trace", "trace:search", Right.SEE_TRACE),
    ("People", "people:list", Right.EDIT_PEOPLE),
    ("Floor", "floor:stations", Right.SIGN_STEPS),
]


@register.filter
def menu(request: HttpRequest) -> list[tuple[str, str]]:
    """(name, address) of the screens this person may open, in the order of the day."""
    person = request.user
    if not isinstance(person, Person):
        return []
    return [(name, reverse(view)) for name, view, right in MENU if has_right(person, right)]


@register.filter
def begins(path: str, address: str) -> bool:
    return path.startswith(address)
