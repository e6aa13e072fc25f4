"""Customers' requests in the office: the list with the time that is left, the call, the picking note, and why they came."""

from __future__ import annotations

import secrets
from collections import Counter
from datetime import timedelta

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from quality.errors import QualityError
from quality.figures import Span
from quality.models import CustomerRequest, RequestKind, RequestState
from quality.request_facts import AsBuiltPart, as_built_parts
from quality.requests import take_request
from quality.statistics import pareto
from routing.errors import RoutingError
from routing.languages import Language, numeral, spoken_in
from routing.models import Shell, Shop
from routing.specs.errors import SpecError
from shopfloor.access import signed_in, the_shell
from shopfloor.day_range import DayRangeForm
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.qr import base_url, qr_svg
from shopfloor.refusals import status_of
from shopfloor.requests.forms import TakeForm
from shopfloor.requests.lists import HEAD, chosen, file_rows, with_time
from shopfloor.requests.page import ANSWERS, about, by_bag, marked, page_of, the_request
from shopfloor.stamps import office_stamp
from shopfloor.tables import csv_file, xlsx_file
from shopfloor.typed_serial import parts_of, serial_made_here
from shopfloor.worded_forms import worded

A_YEAR = timedelta(days=364)


@require_safe
@ANSWERS
def overview(request: HttpRequest) -> HttpResponse:
    return _overview(request)


@require_safe
@ANSWERS
def file(request: HttpRequest, kind: str) -> HttpResponse:
    with spoken_in(Language.ENGLISH):  # as its head and every other file
        rows = file_rows(chosen(**_asked_for(request)))
    match kind:
        case "csv":
            return csv_file("requests", HEAD, rows)
        case "xlsx":
            return xlsx_file("requests", HEAD, rows)
        case _:
            raise Http404(_("A list can be had as csv or xlsx."))


@require_safe
@ANSWERS
def find(request: HttpRequest) -> HttpResponse:
    """A serial number as the customer reads it out, or the whole address that a scanner types."""
    words, _ = parts_of(request.GET.get("q", ""))
    try:
        serial = serial_made_here(words)
    except SpecError as error:
        return _overview(request, error=error.message, typed=words, status=422)
    return redirect("requests:drum", serial=serial)


@require_http_methods(["GET", "POST"])
@ANSWERS
def drum(request: HttpRequest, serial: str) -> HttpResponse:
    """What the drum is, at a glance, and the form that is filled in while the customer talks."""
    shell, who = the_shell(serial), signed_in(request)
    built = as_built_parts(shell)
    if request.method != "POST":
        return _drum_page(request, shell, TakeForm(None, built=built, initial={"kind": request.GET.get("kind", "")}))
    form = TakeForm(request.POST, built=built)
    if form.is_valid():
        said = {name: form.cleaned_data[name] for name in ("kind", "said", "contact", "ship_to")}
        try:
            taken = take_request(
                serial=shell.serial, **said, parts=form.parts, person=who, stamp=office_stamp(request, who)
            )
        except (RoutingError, QualityError) as refused:
            return _drum_page(request, shell, marked(form, refused), status=status_of(refused))
        words = _("{number} is taken. Tell the customer this number.")
        messages.success(request, words.format(number=taken.number))
        return redirect("requests:request", number=taken.number)
    return _drum_page(request, shell, form, status=422)


@require_safe
@ANSWERS
def request_page(request: HttpRequest, number: str) -> HttpResponse:
    return page_of(request, the_request(number))


@require_safe
@ANSWERS
def note(request: HttpRequest, number: str) -> HttpResponse:
    """The picking note: what to take from the shelf, for which drum, and where it goes."""
    asked = the_request(number)
    built = {(part.bag, part.name): part for part in as_built_parts(asked.shell).parts}
    parts = [(line, built.get((line.bag_name, line.part_name))) for line in asked.lines.all()]
    lines = [(line, part, _mass(line.quantity, part)) for line, part in parts]
    if not lines:
        error = _("Choose the parts to send first; then there is something to pick.")
        return page_of(request, asked, error=error, status=422)
    address = base_url(request) + reverse("requests:request", args=[asked.number])
    context = {
        "asked": asked,
        "lines": lines,
        "pieces": sum(line.quantity for line, *_ in lines),
        "code": qr_svg(address),
        "shop": Shop.current(),
        "printed_at": timezone.now(),
    }
    try:
        printed = pdf_from_template("requests/note_paper.html", context, css="request-note.css")
    except PaperError as error:
        return page_of(request, asked, error=str(error), status=503)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="picking-note-{asked.number}.pdf"'
    return response


def _mass(quantity: int, part: AsBuiltPart | None) -> str:
    """What the picked pieces weigh together: a quick check on the scale."""
    if part is None or part.unit_mass_g is None:
        return ""
    grams = quantity * part.unit_mass_g
    return f"{numeral(grams, '.1f')} g" if grams < 100 else f"{grams:.0f} g"


@require_safe
@ANSWERS
def causes(request: HttpRequest) -> HttpResponse:
    """What customers called about, why, and where it came from."""
    form = DayRangeForm(request.GET or None)
    today = timezone.localdate()
    said = form.cleaned_data if form.is_valid() else {}
    last = said.get("last") or today
    span = Span(said.get("first") or last - A_YEAR, last)
    rows = list(
        CustomerRequest.objects.filter(span.within("asked_at"))
        .select_related("shell", "cause", "caused_at")
        .order_by("-asked_at", "-pk")
    )
    known = [each for each in rows if each.cause]
    context = {
        "form": form if form.is_bound else DayRangeForm(initial={"first": span.first, "last": span.last}),
        "span": span,
        "total": len(rows),
        "kinds": pareto(Counter(_(each.get_kind_display()) for each in rows)),
        "causes": pareto(Counter(str(each.cause) for each in known)),
        "places": pareto(Counter(each.came_from for each in known)),
        "unknown": len(rows) - len(known),
        "rows": rows[:100],
    }
    return render(request, "requests/causes.html", context, status=422 if form.errors else 200)


def _asked_for(request: HttpRequest) -> dict[str, str]:
    kind = request.GET.get("kind", "")
    return {
        "state": request.GET.get("state", ""),
        "kind": kind if kind in RequestKind.values else "",
        "words": request.GET.get("words", "").strip(),
    }


def _overview(request: HttpRequest, *, error: str = "", typed: str = "", status: int = 200) -> HttpResponse:
    asked_for, now = _asked_for(request), timezone.now()
    page = Paginator(chosen(**asked_for), 50).get_page(request.GET.get("page"))
    counts = dict(CustomerRequest.objects.order_by().values_list("state").annotate(Count("pk")))
    waiting = counts.get("open", 0) + counts.get("picked", 0)
    states = [
        ("", _("to do"), waiting),
        *((value, _(label), counts.get(value, 0)) for value, label in RequestState.choices),
    ]
    context = {
        **asked_for,
        "page": page,
        "rows": with_time(page.object_list, now),
        "states": [*states, ("all", _("all"), sum(counts.values()))],
        "kinds": worded(RequestKind),
        "error": error,
        "typed": typed,
    }
    return render(request, "requests/list.html", context, status=status)


def _drum_page(request: HttpRequest, shell: Shell, form: TakeForm, *, status: int = 200) -> HttpResponse:
    context = about(shell) | {
        "form": form,
        "groups": by_bag(shell, form),
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "requests/drum.html", context, status=status)
