"""Printing travelers: for a shell, a kit or a selection. A print is a POST, because it goes on the record."""

from __future__ import annotations

from collections.abc import Iterable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from quality.rights import Right
from routing.errors import RoutingError
from shopfloor.access import needs, signed_in, the_order, the_shell
from shopfloor.paper import PaperError
from shopfloor.qr import base_url
from shopfloor.stamps import office_stamp
from shopfloor.travelers.printing import paper_size, preview_traveler, print_travelers

PRINTS = needs(Right.PRINT_TRAVELERS)


@require_POST
@PRINTS
def print_shell(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    return _printed(request, [shell.serial], f"traveler-{shell.serial}.pdf")


@require_POST
@PRINTS
def print_order(request: HttpRequest, number: str) -> HttpResponse:
    order = the_order(number)
    return _printed(request, order.shells.values_list("serial", flat=True), f"travelers-{order.number}.pdf")


@require_POST
@PRINTS
def print_selection(request: HttpRequest) -> HttpResponse:
    return _printed(request, request.POST.getlist("serials"), f"travelers-{timezone.localdate()}.pdf")


@require_safe
@PRINTS
def preview(request: HttpRequest, serial: str) -> HttpResponse:
    """What a print would look like, marked as a preview and not on the record."""
    shell = the_shell(serial)
    try:
        pdf = preview_traveler(
            shell.serial,
            paper=paper_size(request.GET.get("paper", "")),
            base_url=base_url(request),
            stamp=office_stamp(request, signed_in(request)),
        )
    except (RoutingError, PaperError) as error:
        return _refused(request, error)
    return _as_pdf(pdf, f"preview-{shell.serial}.pdf")


def _printed(request: HttpRequest, serials: Iterable[str], name: str) -> HttpResponse:
    try:
        pdf = print_travelers(
            serials,
            paper=paper_size(request.POST.get("paper") or request.GET.get("paper", "")),
            base_url=base_url(request),
            stamp=office_stamp(request, signed_in(request)),
        )
    except (RoutingError, PaperError) as error:
        return _refused(request, error)
    return _as_pdf(pdf, name)


def _refused(request: HttpRequest, error: RoutingError | PaperError) -> HttpResponse:
    status = 503 if isinstance(error, PaperError) else 422
    return render(request, "travelers/refused.html", {"sentence": str(error)}, status=status)


def _as_pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response
