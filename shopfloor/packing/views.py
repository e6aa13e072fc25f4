"""Bags in the office: what is to be picked for an order and for a drum, and the same buttons as at a tablet."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.bags import BagOfDrum, BagStand, bags_of_shells
from quality.errors import QualityError
from quality.rights import Right, has_right
from routing.errors import RoutingError
from routing.kits import NOT_IN_KIT, in_kit_order
from routing.languages import day
from routing.models import KitOrder, Shell
from routing.plan_problem import OPEN_ORDERS
from shopfloor.access import needs, signed_in, the_order, the_shell
from shopfloor.bag_labels import label_response, list_response
from shopfloor.bags import act_on_bag, bags_on_page
from shopfloor.refusals import status_with_rights
from shopfloor.rings import ring_of, rings_of
from shopfloor.stamps import office_stamp

READS = needs(Right.SEE_TRACE)
FILLS = needs(Right.FILL_BAGS)
ON_A_PAGE = 50


@require_safe
@READS
def orders(request: HttpRequest) -> HttpResponse:
    """Released orders, those due first, with how many of their bags are checked."""
    found = KitOrder.objects.filter(state__in=OPEN_ORDERS).order_by("due", "number")
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    shells = list(Shell.objects.filter(order__in=list(page.object_list)).exclude(state__in=NOT_IN_KIT))
    bags = bags_of_shells(shells)
    counts = {order.pk: [0, 0] for order in page.object_list}
    for shell in shells:
        for each in bags[shell.pk]:
            if not each.is_loose:
                counts[shell.order_id][0] += each.state == BagStand.CHECKED
                counts[shell.order_id][1] += 1
    rows = [(order, *counts[order.pk]) for order in page.object_list]
    return render(request, "packing/list.html", {"page": page, "rows": rows, "today": timezone.localdate()})


@require_safe
@READS
def order(request: HttpRequest, number: str) -> HttpResponse:
    the = the_order(number)
    shells = _shells_of(the)
    bags, rings = bags_of_shells(shells), rings_of(shells, timezone.now())
    rows = [(shell, rings[shell.pk], bags[shell.pk], _to_do(bags[shell.pk])) for shell in shells]
    return render(request, "packing/order.html", {"order": the, "rows": rows})


@require_safe
@READS
def order_list(request: HttpRequest, number: str) -> HttpResponse:
    the = the_order(number)
    said = _("Pick list of order {order}, {customer}, due {day}")
    title = said.format(order=the.number, customer=the.customer, day=day(the.due))
    return list_response(request, _shells_of(the), order=the, title=title, name=f"pick-list-{the.number}")


@require_safe
@READS
def drum(request: HttpRequest, serial: str) -> HttpResponse:
    return _drum_page(request, the_shell(serial))


@require_POST
@FILLS
def bag(request: HttpRequest, serial: str) -> HttpResponse:
    """Every button of a drum's page: filled, counted, weighed, opened again."""
    shell, who = the_shell(serial), signed_in(request)
    try:
        done = act_on_bag(request.POST, shell=shell, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        shell.refresh_from_db()
        status = status_with_rights(refused)
        return _drum_page(request, shell, error=refused.message, status=status)
    messages.success(request, done)
    return redirect("packing:drum", shell.serial)


@require_safe
@READS
def drum_list(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    said = _("Pick list of {serial}, order {order}, due {day}")
    title = said.format(serial=shell.serial, order=shell.order.number, day=day(shell.order.due))
    return list_response(request, [shell], order=shell.order, title=title, name=f"pick-list-{shell.serial}")


@require_safe
@READS
def label(request: HttpRequest, serial: str, place: int) -> HttpResponse:
    return label_response(request, the_shell(serial), place)


def _to_do(bags: Sequence[BagOfDrum]) -> int:
    """How many bags are still to be filled or checked."""
    return sum(not each.is_loose and each.state != BagStand.CHECKED for each in bags)


def _shells_of(order: KitOrder) -> list[Shell]:
    shells = Shell.objects.filter(order=order).select_related("order", "model__line", "finish")
    return in_kit_order(shells)


def _drum_page(request: HttpRequest, shell: Shell, *, error: str = "", status: int = 200) -> HttpResponse:
    who = signed_in(request)
    pages = bags_on_page(shell, request.POST if error else None)
    context = {
        "shell": shell,
        "ring": ring_of(shell, timezone.now()),
        "pages": pages,
        "action": reverse("packing:bag", args=[shell.serial]),
        "tap_key": secrets.token_urlsafe(16),
        "person_name": who.name,
        "may_fill": has_right(who, Right.FILL_BAGS),
        "error": error,
        "refused_here": any(page.refused for page in pages),
        "typed": request.POST,
    }
    return render(request, "packing/drum.html", context, status=status)
