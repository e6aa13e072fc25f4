"""Printing travelers: for a shell, a kit or a selection. A print is a POST, because it goes on the record."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from quality.rights import Right
from routing.errors import RoutingError
from routing.models import Shell
from shopfloor.access import needs, signed_in, the_order, the_shell
from shopfloor.paper import PaperError
from shopfloor.qr import base_url
from shopfloor.stamps import office_stamp
from shopfloor.travelers.printing import paper_size, print_travelers, traveler_pdf, with_everything

PRINTS = needs(Right.PRINT_TRAVELERS)


@require_POST
@PRINTS
def print_shell(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    return _printed(request, with_everything([shell.serial]), f"traveler-{shell.serial}.pdf")


@require_POST
@PRINTS
def print_order(request: HttpRequest, number: str) -> HttpResponse:
    order = the_order(number)
    serials = order.shells.values_list("serial", flat=True)
    return _printed(request, with_everything(serials), f"travelers-{order.number}.pdf")


@require_POST
@PRINTS
def print_selection(request: HttpRequest) -> HttpResponse:
    shells = with_everything(request.POST.getlist("serials")[:1000])
    return _printed(request, shells, f"travelers-{timezone.localdate()}.pdf")


@require_safe
@PRINTS
def preview(request: HttpRequest, serial: str) -> HttpResponse:
    """What a print would look like, marked as a preview and not on the record."""
    shell = with_everything([the_shell(serial).serial])[0]
    try:
        paper = paper_size(request.GET.get("paper", ""))
        pdf = traveler_pdf(shell, paper=paper, base_url=base_url(request), now=timezone.now(), mark="preview")
    except (RoutingError, PaperError) as error:
        return _refused(request, str(error))
    return _as_pdf(pdf, f"preview-{shell.serial}.pdf")


def _printed(request: HttpRequest, shells: Sequence[Shell], name: str) -> HttpResponse:
    try:
        paper = paper_size(request.POST.get("paper", ""))
        pdf = print_travelers(
            shells, paper=paper, base_url=base_url(request), stamp=office_stamp(request, signed_in(request))
        )
    except (RoutingError, PaperError) as error:
        return _refused(request, str(error))
    return _as_pdf(pdf, name)


def _refused(request: HttpRequest, sentence: str) -> HttpResponse:
    return render(request, "travelers/refused.html", {"sentence": sentence}, status=422)


def _as_pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
