"""What the person signed in may open."""

from __future__ import annotations

from typing import Any

from django import template
from django.http import HttpRequest
from django.template import Context
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.models import Person
from quality.rights import Right, has_right
from quality.tablets import next_name
from routing.models import Station

register = template.Library()
# Work of the day stands in the menu itself; what a shop sets up and keeps lies under "Shop".
MENU = [
    (gettext_noop("Board"), "board:board", Right.SEE_BOARD),
    (gettext_noop("Plan"), "plan:home", Right.PLAN_WORK),
    (gettext_noop("Orders"), "orders:list", Right.SEE_ORDERS),
    (gettext_noop("Packing"), "packing:list", Right.SEE_TRACE),
    (gettext_noop("Requests"), "requests:list", Right.ANSWER_REQUESTS),
    (gettext_noop("Trace"), "trace:search", Right.SEE_TRACE),
    (gettext_noop("Figures"), "figures:overview", Right.SEE_FIGURES),
    (gettext_noop("Floor"), "floor:stations", Right.SIGN_STEPS),
]
SHOP_MENU = [
    (gettext_noop("First steps"), "start:steps", Right.EDIT_PEOPLE),
    (gettext_noop("Recipes"), "catalog:index", Right.SEE_RECIPES),
    (gettext_noop("Materials"), "materials:list", Right.MANAGE_MATERIALS),
    (gettext_noop("Hours"), "hours:page", Right.PLAN_WORK),
    (gettext_noop("People"), "people:list", Right.EDIT_PEOPLE),
    (gettext_noop("Tablets"), "tablets:list", Right.MANAGE_TABLETS),
    (gettext_noop("Files"), "exports:page", Right.SEE_ORDERS),
    (gettext_noop("Keys"), "api:keys", Right.MANAGE_API_KEYS),
]

# Where an empty page leads, besides the screens of the menu.
_NEXT = {
    "orders:import": Right.EDIT_ORDERS,
    "orders:new": Right.EDIT_ORDERS,
    "catalog:new_check": Right.EDIT_RECIPES,
    "catalog:new_defect": Right.EDIT_RECIPES,
    "made_here:new_route": Right.EDIT_RECIPES,
    "materials:new": Right.MANAGE_MATERIALS,
    "tablets:new": Right.MANAGE_TABLETS,
    "people:new": Right.EDIT_PEOPLE,
    "api:new_key": Right.MANAGE_API_KEYS,
} | {view: right for name, view, right in [*MENU, *SHOP_MENU]}


def _allowed(request: HttpRequest, entries: list[tuple[str, str, Right]]) -> list[tuple[str, str]]:
    person = request.user
    if not isinstance(person, Person):
        return []
    return [(_(name), reverse(view)) for name, view, right in entries if has_right(person, right)]


@register.filter
def menu(request: HttpRequest) -> list[tuple[str, str]]:
    """(name, address) of the screens of the day's work that this person may open."""
    return _allowed(request, MENU)


@register.filter
def shop_menu(request: HttpRequest) -> list[tuple[str, str]]:
    """(name, address) of what is set up and kept, as far as this person may open it."""
    return _allowed(request, SHOP_MENU)


@register.simple_tag(takes_context=True)
def lead(context: Context, view: str, words: str) -> SafeString | str:
    """On a page without anything: what to do next, as a link for whoever may do it."""
    person = getattr(context.get("request"), "user", None)
    if not (isinstance(person, Person) and has_right(person, _NEXT[view])):
        return ""
    return format_html('<p><a href="{}">{}</a></p>', reverse(view), words)


@register.filter
def is_among(path: str, entries: list[tuple[str, str]]) -> bool:
    """Whether a page belongs to one of the menu's entries."""
    return any(path.startswith(address) for name, address in entries)


@register.filter
def manages_tablets(person: object) -> bool:
    """Whether somebody is signed in who may make a browser a tablet."""
    return isinstance(person, Person) and has_right(person, Right.MANAGE_TABLETS)


@register.filter
def plans_work(person: object) -> bool:
    """Whether somebody is signed in who may make plans and set hours."""
    return isinstance(person, Person) and has_right(person, Right.PLAN_WORK)


@register.filter
def enters_late(person: object) -> bool:
    """Whether somebody is signed in who may enter signatures from paper."""
    return isinstance(person, Person) and has_right(person, Right.ENTER_LATE)


@register.simple_tag
def free_tablet() -> dict[str, Any]:
    """What the button "Use this browser as a tablet" sends: a free name and every station in use."""
    return {"name": next_name(), "stations": list(Station.objects.filter(is_active=True).values_list("pk", flat=True))}


@register.filter
def begins(path: str, address: str) -> bool:
    return path.startswith(address)
