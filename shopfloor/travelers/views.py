"""Printing travelers: for a shell, a kit or a selection. A print is a POST, because it goes on the record.

The paper is made in another process. A print leads to a page that shows how far it is, and to the file when it is made.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect, HttpResponseClientRefresh

from quality.rights import Right
from routing.errors import RoutingError
from routing.models import TravelerPrint
from shopfloor.access import needs, signed_in, the_order, the_shell
from shopfloor.paper import PaperError
from shopfloor.paper_queue import has_failed
from shopfloor.qr import base_url
from shopfloor.stamps import office_stamp
from shopfloor.travelers import printing
from shopfloor.travelers.printing import Progress, paper_size, print_travelers

PRINTS = needs(Right.PRINT_TRAVELERS)
SAME_TAP = timedelta(minutes=1)  # later, the same button again may be meant as another copy
FAILED = gettext_noop("This could not be made; the log of the program says why. Print again, or fewer at once.")
OLD = gettext_noop("This file was kept for a day and is gone. Print again; the paper will say which copy it is.")


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


def _printed(request: HttpRequest, serials: Iterable[str], name: str) -> HttpResponse:
    stamp = office_stamp(request, signed_in(request))
    try:
        asked, is_new = print_travelers(
            serials,
            name=name,
            paper=paper_size(request.POST.get("paper") or request.GET.get("paper", "")),
            base_url=base_url(request),
            stamp=stamp,
        )
    except (RoutingError, PaperError) as error:
        return _refused(request, error)
    if asked.is_kept(stamp.received_at):
        printing.ask_for_print(asked)
    again = not is_new and stamp.received_at - asked.printed_at > SAME_TAP
    return redirect(f"{reverse('travelers:print', args=[asked.pk])}{'?again=1' if again else ''}")


@require_safe
@PRINTS
def print_page(request: HttpRequest, pk: int) -> HttpResponse:
    """How far a print is, then its file. Asked with the same key again after a while: the same file, or another copy?"""
    asked, now = get_object_or_404(TravelerPrint, pk=pk), timezone.now()
    again = "again" in request.GET
    context: dict[str, Any] = {"print": asked, "again": again, "tap_key": secrets.token_urlsafe(16)}
    if not asked.is_kept(now):
        return _whole(request, "travelers/print.html", context | {"sentence": _(OLD)}, status=410)
    file = printing.file_of(asked)
    if file and not again:
        return _sent_on(request, reverse("travelers:file", args=[pk]))
    if file:
        return _whole(request, "travelers/print.html", context | {"ready": True})
    if has_failed(printing.name_of(asked)):
        return _whole(request, "travelers/print.html", context | {"sentence": _(FAILED)}, status=503)
    return _waits(request, printing.ask_for_print(asked), _("The travelers are being made"))


@require_safe
@PRINTS
def print_file(request: HttpRequest, pk: int) -> HttpResponse:
    asked = get_object_or_404(TravelerPrint, pk=pk)
    file = printing.file_of(asked) if asked.is_kept(timezone.now()) else None
    if file is None:
        return redirect("travelers:print", pk=pk)
    return _as_pdf(file, asked.name)


@require_safe
@PRINTS
def preview(request: HttpRequest, serial: str) -> HttpResponse:
    """What a print would look like, marked as a preview and not on the record."""
    shell = the_shell(serial)
    try:
        name, file = printing.ask_for_preview(
            shell.serial,
            paper=paper_size(request.GET.get("paper", "")),
            base_url=base_url(request),
            by=signed_in(request).name,
            now=timezone.now(),
        )
    except (RoutingError, PaperError) as error:
        return _refused(request, error)
    if file and _is_refresh(request):
        return HttpResponseClientRedirect(request.get_full_path())
    if file:
        return _as_pdf(file, f"preview-{shell.serial}.pdf")
    if has_failed(name):
        return _whole(request, "travelers/refused.html", {"sentence": _(FAILED)}, status=503)
    return _waits(request, Progress(0, 1), _("The preview of {serial} is being made").format(serial=shell.serial))


@require_safe
@PRINTS
def ahead(request: HttpRequest, number: str) -> HttpResponse:
    """How many travelers of an order are ready to be printed; those that are not are made meanwhile."""
    order = the_order(number)
    progress = printing.ask_ahead(order.number, base_url=base_url(request))
    part = "#progress" if _is_refresh(request) else ""
    return render(request, f"travelers/ahead.html{part}", {"order": order, "progress": progress})


def _waits(request: HttpRequest, progress: Progress, title: str) -> HttpResponse:
    part = "#progress" if _is_refresh(request) else ""
    answer = render(request, f"travelers/waits.html{part}", {"progress": progress, "title": title})
    answer["Cache-Control"] = "no-store"
    return answer


def _is_refresh(request: HttpRequest) -> bool:
    return bool(request.headers.get("HX-Request"))


def _whole(request: HttpRequest, template: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    """A page of its own. A page that waits has no place for it, and drops errors: it is told to load itself anew."""
    if _is_refresh(request):
        return HttpResponseClientRefresh()
    return render(request, template, context, status=status)


def _sent_on(request: HttpRequest, address: str) -> HttpResponse:
    if _is_refresh(request):
        return HttpResponseClientRedirect(address)
    return redirect(address)


def _refused(request: HttpRequest, error: RoutingError | PaperError) -> HttpResponse:
    status = 503 if isinstance(error, PaperError) else 422
    return _whole(request, "travelers/refused.html", {"sentence": str(error)}, status=status)


def _as_pdf(file: Path, name: str) -> HttpResponse:
    response = HttpResponse(file.read_bytes(), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response
