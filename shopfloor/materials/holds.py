"""Holding every shell of a bad lot or glue batch from the office, the list of it, and releasing them again."""

from __future__ import annotations

import secrets
from collections.abc import Iterator

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.errors import QualityError
from quality.lot_hold import Released, held_words, hold_glue_batch, hold_lot, only_for, release_shells, rows_of
from quality.models import GlueBatch, HoldOutcome, LotHold, MaterialLot
from quality.rights import Right, has_right
from routing.errors import RoutingError
from shopfloor.access import needs, signed_in
from shopfloor.refusals import status_of
from shopfloor.stamps import office_stamp
from shopfloor.tables import csv_file, xlsx_file

MANAGES = needs(Right.MANAGE_MATERIALS)
HEAD = ("Serial", "Drum", "Order", "Customer", "Then", "What was done", "Now", "Lot or batch", "Why", "Who", "When")


@require_POST
@MANAGES
def hold_lot_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Of a lot that is on hold: the shells that were entered since."""
    return _held(request, get_object_or_404(MaterialLot, pk=pk))


@require_POST
@MANAGES
def hold_batch(request: HttpRequest, pk: int) -> HttpResponse:
    return _held(request, get_object_or_404(GlueBatch, pk=pk))


@require_safe
@MANAGES
def hold(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, _the_hold(pk))


@require_safe
@MANAGES
def as_csv(request: HttpRequest, pk: int) -> HttpResponse:
    shown = _the_hold(pk)
    return csv_file(f"hold-{shown.pk}", HEAD, _rows(shown))


@require_safe
@MANAGES
def as_xlsx(request: HttpRequest, pk: int) -> HttpResponse:
    shown = _the_hold(pk)
    return xlsx_file(f"hold-{shown.pk}", HEAD, _rows(shown))


@require_POST
@needs(Right.SETTLE_PROBLEM)
def release(request: HttpRequest, pk: int) -> HttpResponse:
    """The shells that are held for this lot or batch and for nothing else, with one sentence."""
    shown, who = _the_hold(pk), signed_in(request)
    try:
        done = release_shells(
            hold=shown,
            settlement=request.POST.get("settlement", ""),
            person=who,
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError) as refused:
        return _page(request, shown, error=refused.message, status=status_of(refused))
    messages.success(request, _what_was_released(done))
    return redirect("materials:hold", shown.pk)


def _held(request: HttpRequest, subject: MaterialLot | GlueBatch) -> HttpResponse:
    who, reason = signed_in(request), request.POST.get("reason", "")
    stamp = office_stamp(request, who)
    try:
        if isinstance(subject, MaterialLot):
            made = hold_lot(lot=subject, reason=reason, person=who, stamp=stamp)
        else:
            made = hold_glue_batch(batch=subject, reason=reason, person=who, stamp=stamp)
    except (RoutingError, QualityError) as refused:
        context = {
            "subject": subject,
            "is_lot": isinstance(subject, MaterialLot),
            "error": refused.message,
            "typed": reason,
            "tap_key": secrets.token_urlsafe(16),
        }
        return render(request, "materials/hold_refused.html", context, status=status_of(refused))
    said = _("Lot {what} is on hold.") if isinstance(subject, MaterialLot) else _("Glue batch {what} is on hold.")
    messages.success(request, said.format(what=subject))
    return redirect("materials:hold", made.pk)


def _what_was_released(done: Released) -> str:
    said = _("{serials} released from hold.")
    if done.still_held:
        said = _("{serials} released from hold; {others} stay on hold for something else.")
    return said.format(serials=", ".join(done.released), others=", ".join(done.still_held))


def _the_hold(pk: int) -> LotHold:
    return get_object_or_404(LotHold.objects.select_related("lot", "glue_batch"), pk=pk)


def _rows(shown: LotHold) -> Iterator[tuple[str, ...]]:
    when = timezone.localtime(shown.at).strftime("%Y-%m-%d %H:%M")
    for row in rows_of(shown):
        shell = row.shell
        about = (shell.serial, shell.drum, shell.order.number, shell.order.customer, row.state_then)
        done = (row.get_outcome_display(), shell.get_state_display())
        yield (*about, *done, shown.named, shown.reason, shown.person_name, when)


def _page(request: HttpRequest, shown: LotHold, *, error: str = "", status: int = 200) -> HttpResponse:
    rows = rows_of(shown)
    context = {
        "hold": shown,
        "named": held_words(shown),
        "rows": rows,
        "recalls": sum(row.outcome == HoldOutcome.LEFT for row in rows),
        "alone": only_for(shown),
        "may_release": has_right(signed_in(request), Right.SETTLE_PROBLEM),
        "tap_key": secrets.token_urlsafe(16),
        "error": error,
        "typed": request.POST.get("settlement", ""),
    }
    return render(request, "materials/hold.html", context, status=status)
