"""Cartons: which orders are to be packed, how one is nested, and closing and opening its cartons."""

from __future__ import annotations

import math
import secrets

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.carton_contents import Packing, packing_of
from quality.cartons import CartonRefused, close_carton, open_carton, why_no_screw
from quality.errors import QualityError
from quality.models import Carton
from quality.rights import Right, has_right
from routing.errors import LostRace, RoutingError
from routing.kits import NOT_IN_KIT
from routing.models import KitOrder, OrderState, ShellState
from routing.specs.packing import PackingRules
from shopfloor.access import the_order
from shopfloor.asker import Asker, asked_with
from shopfloor.refusals import status_with_rights
from shopfloor.rings import rings_of


@require_safe
@asked_with(Right.SEE_TRACE)
def orders(request: HttpRequest, asker: Asker) -> HttpResponse:
    """Orders with drums that are packed or can be, those due first; two queries however many there are."""
    to_pack = (
        KitOrder.objects.filter(state__in=[OrderState.IN_PRODUCTION, OrderState.COMPLETE])
        .annotate(
            drums=Count("shells", filter=~Q(shells__state__in=NOT_IN_KIT), distinct=True),
            ready=Count("shells", filter=Q(shells__state__in=[ShellState.FINISHED, ShellState.PACKED]), distinct=True),
            packed=Count("shells", filter=Q(shells__state=ShellState.PACKED), distinct=True),
            in_cartons=Count("cartons__drums", filter=Q(cartons__opened_at__isnull=True), distinct=True),
        )
        .filter(ready__gt=0)
        .order_by("due", "number")
    )
    page = Paginator(to_pack, 50).get_page(request.GET.get("page"))
    context = _for(asker) | {"page": page, "today": timezone.localdate()}
    return render(request, "cartons/list.html", context)


@require_safe
@asked_with(Right.SEE_TRACE)
def order(request: HttpRequest, asker: Asker, number: str) -> HttpResponse:
    """How an order is packed: its nests drawn, what goes in first, and what each carton still waits for."""
    return order_page(request, asker, the_order(number))


@require_POST
@asked_with(Right.FILL_BAGS)
def close(request: HttpRequest, asker: Asker, number: str, carton: int) -> HttpResponse:
    the = the_order(number)
    try:
        _require_own_page(request, asker)
        closed = close_carton(
            order=the,
            number=carton,
            person=asker.person,
            weighed_g=_grams(request.POST.get("weighed_kg", "")),
            seen=request.POST.get("seen"),
            stamp=asker.stamp,
        )
    except (RoutingError, QualityError) as refused:
        return _refused(request, asker, the, carton, refused)
    messages.success(
        request,
        _("Carton {number} of {all} is closed by {name}.").format(
            number=carton, all=closed.carton.of, name=closed.carton.closed_by.name
        ),
    )
    if closed.warning:
        messages.warning(request, closed.warning)
    return redirect("cartons:order", number)


@require_POST
@asked_with(Right.FILL_BAGS)
def open_(request: HttpRequest, asker: Asker, number: str, carton: int) -> HttpResponse:
    the = the_order(number)
    try:
        _require_own_page(request, asker)
        opened = open_carton(
            order=the, number=carton, person=asker.person, reason=request.POST.get("reason", ""), stamp=asker.stamp
        )
    except (RoutingError, QualityError) as refused:
        return _refused(request, asker, the, carton, refused)
    messages.success(
        request,
        _("Carton {number} of {all} is open again. Take its label off; close it when it is whole.").format(
            number=carton, all=opened.of
        ),
    )
    return redirect("cartons:order", number)


def order_page(
    request: HttpRequest,
    asker: Asker,
    the: KitOrder,
    *,
    error: str = "",
    missing: tuple[str, ...] = (),
    refused_at: int = 0,
    status: int = 200,
) -> HttpResponse:
    packing = packing_of(the, timezone.now())
    opened = Carton.objects.filter(order=the, opened_at__isnull=False).select_related("closed_by", "opened_by")
    context = _for(asker) | {
        "order": the,
        "packing": packing,
        "cartons": _rows(packing, list(opened.order_by("attempt"))),
        "rules": PackingRules(),
        "error": error,
        "missing": missing,
        "refused_at": refused_at,
        "typed": request.POST,
        "may_pack": has_right(asker.person, Right.FILL_BAGS) and the.state != OrderState.SHIPPED,
        "may_print_cards": has_right(asker.person, Right.PRINT_CARDS),
        "sees_orders": has_right(asker.person, Right.SEE_ORDERS) and asker.worker is None,
    }
    return render(request, "cartons/order.html", context, status=status)


def _rows(packing: Packing | None, opened: list[Carton]) -> list[dict[str, object]]:
    cartons = packing.cartons if packing else ()
    rings = rings_of((drum.shell for carton in cartons for drum in carton.drums), timezone.now())
    return [
        {
            "carton": carton,
            "drums": [(drum, rings[drum.shell.pk]) for drum in carton.drums],
            "opened": [before for before in opened if before.number == carton.number],
            "why": why_no_screw(carton),
            "tap_key": secrets.token_urlsafe(16),
        }
        for carton in cartons
    ]


def _for(asker: Asker) -> dict[str, object]:
    return {"layout": asker.layout, "worker": asker.worker, "station": asker.station, "asker": asker.person}


def _require_own_page(request: HttpRequest, asker: Asker) -> None:
    """A page stays open while the worker at a tablet changes; nobody closes a carton in the name of another."""
    if request.POST.get("as", str(asker.person.pk)) != str(asker.person.pk):
        raise LostRace(
            "other_worker",
            _("This page was opened by somebody else; {name} is signed in now. Tap again.").format(
                name=asker.person.name
            ),
        )


def _grams(typed: str) -> float | None:
    """What the scale showed in kg; None when nothing was typed."""
    clean = typed.strip().replace(",", ".")
    if not clean:
        return None
    try:
        return float(clean) * 1000
    except ValueError:
        return math.nan  # refused with a sentence, like a weight that can't be


def _refused(
    request: HttpRequest, asker: Asker, the: KitOrder, carton: int, refused: RoutingError | QualityError
) -> HttpResponse:
    status = status_with_rights(refused)
    missing = refused.missing if isinstance(refused, CartonRefused) else ()
    return order_page(request, asker, the, error=refused.message, missing=missing, refused_at=carton, status=status)
