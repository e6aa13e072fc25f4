"""The shelf and what is short on it: counted and received by whoever keeps the materials."""

from __future__ import annotations

import secrets
from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from quality.errors import QualityError
from quality.models import StockMove
from quality.rights import Right, has_right
from quality.shortages import parts_on_shelf, shortages
from quality.stock import count_part, receive_parts
from routing.errors import LostRace, RoutingError
from routing.models import Part, Plate
from shopfloor.access import needs, signed_in
from shopfloor.bags import whole_number
from shopfloor.stamps import office_stamp

READS = needs(Right.SEE_TRACE)
KEEPS = needs(Right.MANAGE_MATERIALS)
MOVES_SHOWN = 50


@require_safe
@READS
def shortages_page(request: HttpRequest) -> HttpResponse:
    """What released drums need and the shelf does not have, those due first."""
    return render(request, "packing/shortages.html", {"found": shortages()})


@require_safe
@READS
def shelf(request: HttpRequest) -> HttpResponse:
    return _shelf_page(request)


@require_POST
@KEEPS
def count(request: HttpRequest) -> HttpResponse:
    who, form = signed_in(request), request.POST
    reorder = form.get("reorder_at", "").strip()
    return _moved(
        request,
        lambda: count_part(
            name=form.get("name", ""),
            counted=_number(form.get("pieces", "")),
            reason=form.get("reason", ""),
            expected=_expected(form.get("expected", "")),
            reorder_at=_number(reorder) if reorder else None,
            place=form["place"] if form.get("place", "").strip() else None,
            person=who,
            stamp=office_stamp(request, who),
        ),
    )


@require_POST
@KEEPS
def receive(request: HttpRequest) -> HttpResponse:
    who, form = signed_in(request), request.POST
    return _moved(
        request,
        lambda: receive_parts(
            name=form.get("name", ""),
            quantity=_number(form.get("pieces", "")),
            note=form.get("reason", ""),
            person=who,
            stamp=office_stamp(request, who),
        ),
    )


def _moved(request: HttpRequest, act: Callable[[], StockMove]) -> HttpResponse:
    try:
        move = act()
    except (RoutingError, QualityError) as refused:
        return _shelf_page(request, error=refused.message, status=409 if isinstance(refused, LostRace) else 422)
    messages.success(request, f"{move.part.name}: {move.on_hand_after} on the shelf ({move.change:+d}).")
    return redirect("packing:shelf")


def _shelf_page(request: HttpRequest, *, error: str = "", status: int = 200) -> HttpResponse:
    context = {
        "parts": parts_on_shelf(
            [*Part.objects.values_list("name", flat=True), *Plate.objects.values_list("name", flat=True)]
        ),
        "moves": StockMove.objects.select_related("part").order_by("-pk")[:MOVES_SHOWN],
        "may_keep": has_right(signed_in(request), Right.MANAGE_MATERIALS),
        "tap_key": secrets.token_urlsafe(16),
        "asked": request.POST.get("name", request.GET.get("part", "")),
        "typed": request.POST,
        "error": error,
    }
    return render(request, "packing/shelf.html", context, status=status)


def _number(words: str) -> int:
    """What was typed; nothing sensible is −1, which every rule refuses with a sentence."""
    number = whole_number(words)
    return -1 if number is None else number


def _expected(words: str) -> int | None:
    """What the page showed, which may be below zero; a form without it expects nothing."""
    below = words.startswith("-")
    number = whole_number(words.removeprefix("-"))
    return None if number is None else -number if below else number
