"""The reading interface for the shop's own scripts: orders, shells, signatures, figures."""

from __future__ import annotations

import re
from typing import Any

from django.http import Http404, HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.figures import yields_between
from quality.trace import story_of
from routing.models import OrderState, ShellState
from shopfloor.access import the_shell
from shopfloor.api.answers import Refused, day, days, one_of, one_page, reads
from shopfloor.api.document import document
from shopfloor.api.shapes import figures_out, order_out, shell_out, sign_off_out, story_out
from shopfloor.lists import orders, shells, signatures, standings

_ORDER_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,29}")


@reads("state", "due_from", "due_to", "limit", "cursor")
def order_list(request: HttpRequest) -> dict[str, Any]:
    rows = orders()
    if state := one_of(request, "state", OrderState.values):
        rows = rows.filter(state=state)
    if first := day(request, "due_from"):
        rows = rows.filter(due__gte=first)
    if last := day(request, "due_to"):
        rows = rows.filter(due__lte=last)
    found, cursor = one_page(request, "orders", rows)
    return {"orders": [order_out(order) for order in found], "next_cursor": cursor}


@reads()
def order(request: HttpRequest, number: str) -> dict[str, Any]:
    found = orders().filter(number=number).first() if _ORDER_NUMBER.fullmatch(number) else None
    if found is None:
        raise Http404(_("There is no order with this number here. Capitals count."))
    made = list(shells().filter(order=found))
    where = standings(made, timezone.now())
    return order_out(found) | {"shells": [shell_out(shell, where[shell.pk]) for shell in made]}


@reads("order", "state", "limit", "cursor")
def shell_list(request: HttpRequest) -> dict[str, Any]:
    rows = shells()
    if state := one_of(request, "state", ShellState.values):
        rows = rows.filter(state=state)
    if number := request.GET.get("order", ""):
        if not _ORDER_NUMBER.fullmatch(number):
            raise Refused(422, "bad_parameter", _("“order” is the number of an order, as it stands on the order."))
        rows = rows.filter(order__number=number)
    found, cursor = one_page(request, "shells", rows)
    where = standings(found, timezone.now())
    return {"shells": [shell_out(shell, where[shell.pk]) for shell in found], "next_cursor": cursor}


@reads()
def shell(request: HttpRequest, serial: str) -> dict[str, Any]:
    found = the_shell(serial)
    return shell_out(found, standings([found], timezone.now())[found.pk])


@reads()
def story(request: HttpRequest, serial: str) -> dict[str, Any]:
    return story_out(story_of(the_shell(serial)))


@reads("from", "to", "limit", "cursor")
def sign_offs(request: HttpRequest) -> dict[str, Any]:
    span = days(request)
    found, cursor = one_page(request, "sign_offs", signatures(span.begins, span.ends))
    return {"sign_offs": [sign_off_out(signed) for signed in found], "next_cursor": cursor}


@reads("from", "to")
def figures(request: HttpRequest) -> dict[str, Any]:
    span = days(request)
    return figures_out(span, yields_between(span))


@reads()
def nothing(request: HttpRequest, rest: str) -> dict[str, Any]:
    """Every other address of this interface, so that a mistyped one is told so in JSON."""
    raise Http404(_("There is nothing at this address. What there is stands in /api/v1/openapi.json."))


@reads(key=False)
def openapi(request: HttpRequest) -> dict[str, Any]:
    """How to ask, for programs. It says nothing of the shop, so that tools can fetch it without a key."""
    return document()
