"""The shelf and what is short on it: counted and received by whoever keeps the materials."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Mapping

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.errors import QualityError
from quality.models import StockMove, StockPart
from quality.rights import Right, has_right
from quality.shortages import PartOnShelf, parts_on_shelf, shortages
from quality.stock import NOT_COUNTED, NotCounted, count_part, receive_parts
from routing.errors import RoutingError
from routing.models import Part, Plate
from shopfloor.access import needs, signed_in
from shopfloor.bags import whole_number
from shopfloor.refusals import status_of
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
        "counted",
        lambda: count_part(
            name=form.get("name", ""),
            counted=_number(form.get("pieces", "")),
            reason=form.get("reason", ""),
            expected=_expected(form.get("name", ""), form.get("shown", "")),
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
        "received",
        lambda: receive_parts(
            name=form.get("name", ""),
            quantity=_number(form.get("pieces", "")),
            note=form.get("reason", ""),
            lot_code=form.get("lot", ""),
            person=who,
            stamp=office_stamp(request, who),
        ),
    )


def _moved(request: HttpRequest, form: str, act: Callable[[], StockMove]) -> HttpResponse:
    try:
        move = act()
    except (RoutingError, QualityError) as refused:
        return _shelf_page(request, error=refused.message, typed={form: request.POST}, status=status_of(refused))
    said = _("{part}: {pieces} on the shelf ({change}).")
    messages.success(request, said.format(part=move.part.name, pieces=move.on_hand_after, change=f"{move.change:+d}"))
    return redirect("packing:shelf")


def _shelf_page(
    request: HttpRequest, *, error: str = "", typed: Mapping[str, QueryDict] | None = None, status: int = 200
) -> HttpResponse:
    parts = parts_on_shelf(
        [*Part.objects.values_list("name", flat=True), *Plate.objects.values_list("name", flat=True)]
    )
    context = {
        "parts": parts,
        "shown": _shown(parts),
        "moves": StockMove.objects.select_related("part", "lot").order_by("-pk")[:MOVES_SHOWN],
        "may_keep": has_right(signed_in(request), Right.MANAGE_MATERIALS),
        "tap_key": secrets.token_urlsafe(16),
        "asked": request.POST.get("name", request.GET.get("part", "")),
        "typed": typed or {},
        "error": error,
    }
    return render(request, "packing/shelf.html", context, status=status)


def _number(words: str) -> int:
    """What was typed; nothing sensible is −1, which every rule refuses with a sentence."""
    number = whole_number(words)
    return -1 if number is None else number


def _expected(name: str, shown: str) -> int | NotCounted | None:
    """What the page showed of the part that was typed. A form without what it showed expects nothing."""
    numbers = dict(pair.split(":", 1) for pair in shown.split() if ":" in pair)
    if not numbers:
        return None
    part = StockPart.objects.filter(name=name.strip()).first()
    number = numbers.get(str(part.pk)) if part is not None else None
    if number is None:
        return NOT_COUNTED
    return int(number) if number.removeprefix("-").isdecimal() else None


def _shown(parts: Iterable[PartOnShelf]) -> str:
    """The numbers that a page shows, for its form to send back: any part may be typed into it."""
    counted = [f"{part.stock.pk}:{part.stock.on_hand}" for part in parts if part.stock is not None]
    return " ".join(["shown:all", *counted])
