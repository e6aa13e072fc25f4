"""Which drums: by lot, glue batch, person, tablet, or station and days; as a page, CSV or xlsx."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from quality.models import GlueBatch, MaterialLot, Tablet
from quality.recall import FoundShell
from quality.rights import Right
from routing.languages import for_the_record
from shopfloor.access import needs
from shopfloor.recall.forms import RecallForm
from shopfloor.rings import rings_by_id
from shopfloor.tables import csv_file, xlsx_file

SEES_TRACE = needs(Right.SEE_TRACE)
ON_A_PAGE = 100
OFFERED = 200  # codes to pick from while one types; every other may be typed all the same
HEAD = ("Serial", "Drum", "Order", "Customer", "State", "First", "Last", "Who", "Steps", "Tablets")


@require_safe
@SEES_TRACE
def find(request: HttpRequest) -> HttpResponse:
    form = RecallForm(request.GET if any(request.GET.values()) else None)
    if not form.is_bound:
        return _page(request, form)
    if not form.is_valid():
        return _page(request, form, status=422)
    return _page(request, form, form.shells())


@require_safe
@SEES_TRACE
def as_csv(request: HttpRequest) -> HttpResponse:
    form = RecallForm(request.GET)
    if not form.is_valid():
        return _page(request, form, status=422)
    with for_the_record():
        return csv_file("drums", HEAD, _rows(form.shells()))


@require_safe
@SEES_TRACE
def as_xlsx(request: HttpRequest) -> HttpResponse:
    form = RecallForm(request.GET)
    if not form.is_valid():
        return _page(request, form, status=422)
    with for_the_record():
        return xlsx_file("drums", HEAD, _rows(form.shells()))


def _rows(shells: Sequence[FoundShell]) -> Iterator[tuple[str, ...]]:
    """In English whoever takes them, like the heads: programs read these files, too."""
    for shell in shells:
        first, last = (timezone.localtime(at).strftime("%Y-%m-%d %H:%M") for at in (shell.first_at, shell.last_at))
        about = (shell.serial, shell.drum, shell.order, shell.customer, shell.state)
        yield (*about, first, last, shell.people, shell.titles, shell.devices)


def _page(
    request: HttpRequest, form: RecallForm, shells: Sequence[FoundShell] = (), *, status: int = 200
) -> HttpResponse:
    page = Paginator(shells, ON_A_PAGE).get_page(request.GET.get("page"))
    rings = rings_by_id([shell.pk for shell in page.object_list], timezone.now())
    context = {
        "form": form,
        "is_asked": form.is_bound and form.is_valid(),
        "page": page,
        "drums": [(shell, rings[shell.pk]) for shell in page.object_list],
        "lots": MaterialLot.objects.order_by("-received_on", "code")[:OFFERED],
        "batches": GlueBatch.objects.order_by("-mixed_at")[:OFFERED],
        "tablets": Tablet.objects.order_by("name"),
    }
    return render(request, "recall/find.html", context, status=status)
