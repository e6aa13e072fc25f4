"""The seals of days: on screen, as a page to put away, and made at once when the daily job has not run."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from quality.models import DaySeal
from quality.rights import Right, has_right
from quality.seal import broken_seals, days_to_seal, in_groups, seal_days
from routing.errors import LostRace
from routing.languages import day
from routing.models import Shop
from shopfloor.access import needs, signed_in
from shopfloor.paper import PaperError, pdf_from_template

ON_A_PAGE = 31


@require_safe
@needs(Right.SEE_TRACE)
def seals(request: HttpRequest) -> HttpResponse:
    return _page(request)


@require_safe
@needs(Right.SEE_TRACE)
def seals_pdf(request: HttpRequest) -> HttpResponse:
    context = {"rows": _rows(_shown(request)), "shop": Shop.current(), "printed_at": timezone.now()}
    try:
        pdf = pdf_from_template("trace/seals_paper.html", context, css="story.css")
    except PaperError as error:
        return _page(request, error=str(error), status=422)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="day-seals.pdf"'
    return response


@require_POST
@needs(Right.SETTLE_PROBLEM)
def seal_now(request: HttpRequest) -> HttpResponse:
    """Twice does no harm: the second time there is nothing left to seal."""
    try:
        made = len(seal_days(now=timezone.now()))
    except LostRace as busy:
        return _page(request, error=busy.message, status=409)
    said = ngettext("{days} day sealed.", "{days} days sealed.", made) if made else _("Every day is sealed already.")
    messages.success(request, said.format(days=made))
    return redirect("trace:seals")


@require_POST
@needs(Right.SETTLE_PROBLEM)
def check_seals(request: HttpRequest) -> HttpResponse:
    """Compute every seal again from the records and say whether they agree."""
    broken = next(broken_seals(), None)
    if broken is not None:
        said = _(
            "The seal of {day} does not hold: {what}. Compare it with the printed line, and keep the database as it is "
            "until somebody has looked at it."
        )
        return _page(request, error=said.format(day=day(broken.day), what=broken.what), status=409)
    count = DaySeal.objects.count()
    one = count == 1
    said = _("The one seal agrees with the records.") if one else _("All {count} seals agree with the records.")
    messages.success(request, said.format(count=count))
    return redirect("trace:seals")


def _shown(request: HttpRequest) -> Page[DaySeal]:
    return Paginator(DaySeal.objects.order_by("-day"), ON_A_PAGE).get_page(request.GET.get("page"))


def _rows(page: Page[DaySeal]) -> list[tuple[DaySeal, str]]:
    return [(seal, in_groups(seal.hash)) for seal in page.object_list]


def _page(request: HttpRequest, *, error: str = "", status: int = 200) -> HttpResponse:
    page = _shown(request)
    context = {
        "page": page,
        "rows": _rows(page),
        "to_seal": days_to_seal(now=timezone.now()),
        "may_seal": has_right(signed_in(request), Right.SETTLE_PROBLEM),
        "error": error,
    }
    return render(request, "trace/seals.html", context, status=status)
