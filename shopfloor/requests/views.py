"""Customers' requests in the office: the list with the time that is left, the call, and what is done about it."""

from __future__ import annotations

import secrets
from collections import Counter
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.forms import BoundField
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import QualityError
from quality.figures import Span
from quality.models import CustomerRequest, RequestKind, RequestState
from quality.request_facts import AsBuiltPart, PackedBag, as_built_parts, at_a_glance, packed_bags
from quality.requests import (
    answer_request,
    as_seen,
    change_request,
    forget_customer,
    pick_request,
    reopen_request,
    send_request,
    take_request,
)
from quality.rights import Right
from quality.statistics import pareto
from quality.stock import below_zero
from routing.errors import LostRace, RoutingError
from routing.models import Operation, Shell, Shop
from routing.specs.errors import SpecError
from shopfloor.access import needs, signed_in, the_shell
from shopfloor.day_range import DayRangeForm
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.qr import base_url, qr_svg
from shopfloor.refusals import status_of
from shopfloor.requests.forms import FIELD_OF, OUTSIDE, ChangeForm, CloseForm, PartsForm, ReopenForm, TakeForm
from shopfloor.requests.lists import HEAD, chosen, file_rows, with_time
from shopfloor.rings import ring_states
from shopfloor.stamps import office_stamp
from shopfloor.tables import csv_file, xlsx_file
from shopfloor.typed_serial import parts_of, serial_made_here

ANSWERS = needs(Right.ANSWER_REQUESTS)
A_YEAR = timedelta(days=364)


@require_safe
@ANSWERS
def overview(request: HttpRequest) -> HttpResponse:
    return _overview(request)


@require_safe
@ANSWERS
def file(request: HttpRequest, kind: str) -> HttpResponse:
    rows = file_rows(chosen(**_asked_for(request)))
    match kind:
        case "csv":
            return csv_file("requests", HEAD, rows)
        case "xlsx":
            return xlsx_file("requests", HEAD, rows)
        case _:
            raise Http404("A list can be had as csv or xlsx.")


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
            return _drum_page(request, shell, _marked(form, refused), status=status_of(refused))
        messages.success(request, f"{taken.number} is taken. Tell the customer this number.")
        return redirect("requests:request", number=taken.number)
    return _drum_page(request, shell, form, status=422)


@require_safe
@ANSWERS
def request_page(request: HttpRequest, number: str) -> HttpResponse:
    return _page(request, the_request(number))


@require_safe
@ANSWERS
def note(request: HttpRequest, number: str) -> HttpResponse:
    """The picking note: what to take from the shelf, for which drum, and where it goes."""
    asked = the_request(number)
    built = {(part.bag, part.name): part for part in as_built_parts(asked.shell).parts}
    parts = [(line, built.get((line.bag_name, line.part_name))) for line in asked.lines.all()]
    lines = [(line, part, _mass(line.quantity, part)) for line, part in parts]
    if not lines:
        return _page(
            request, asked, error="Choose the parts to send first; then there is something to pick.", status=422
        )
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
        return _page(request, asked, error=str(error), status=503)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="picking-note-{asked.number}.pdf"'
    return response


def _mass(quantity: int, part: AsBuiltPart | None) -> str:
    """What the picked pieces weigh together: a quick check on the scale."""
    if part is None or part.unit_mass_g is None:
        return ""
    grams = quantity * part.unit_mass_g
    return f"{grams:.1f} g" if grams < 100 else f"{grams:.0f} g"


@require_POST
@ANSWERS
def change(request: HttpRequest, number: str) -> HttpResponse:
    asked, who = the_request(number), signed_in(request)
    form = ChangeForm.of(asked, as_built_parts(asked.shell), request.POST)
    if form.is_valid():
        try:
            change_request(
                number=number,
                contact=form.cleaned_data["contact"],
                ship_to=form.cleaned_data["ship_to"],
                parts=form.parts,
                seen=form.cleaned_data["seen"],
                person=who,
                stamp=office_stamp(request, who),
            )
        except LostRace as lost:
            return _page(request, the_request(number), error=lost.message, forms={"change": _again(form)}, status=409)
        except (RoutingError, QualityError) as refused:
            return _refused(request, number, refused, change=_marked(form, refused))
        messages.success(request, f"{number} is changed.")
        return redirect("requests:request", number=number)
    return _page(request, asked, forms={"change": form}, status=422)


@require_POST
@ANSWERS
def pick(request: HttpRequest, number: str) -> HttpResponse:
    the_request(number)
    who = signed_in(request)
    try:
        picked = pick_request(number=number, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused)
    messages.success(
        request, f"The parts of {number} are picked. Hand them to the carrier, then say that they are sent."
    )
    for sentence in below_zero(line.part_name for line in picked.lines.all()):
        messages.warning(request, sentence)
    return redirect("requests:request", number=number)


@require_POST
@ANSWERS
def send(request: HttpRequest, number: str) -> HttpResponse:
    return _close(request, number, send_request, "is sent")


@require_POST
@ANSWERS
def answer(request: HttpRequest, number: str) -> HttpResponse:
    return _close(request, number, answer_request, "is answered")


@require_POST
@ANSWERS
def reopen(request: HttpRequest, number: str) -> HttpResponse:
    asked, who = the_request(number), signed_in(request)
    form = ReopenForm(request.POST, asked=asked)
    if not form.is_valid():
        return _page(request, asked, forms={"reopen": form}, status=422)
    try:
        reopen_request(number=number, **form.cleaned_data, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused, reopen=form)
    messages.success(request, f"{number} is open again.")
    return redirect("requests:request", number=number)


@require_POST
@ANSWERS
def forget(request: HttpRequest, number: str) -> HttpResponse:
    the_request(number)
    who = signed_in(request)
    try:
        forget_customer(number=number, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused)
    messages.success(request, f"Who asked {number}, and where it went, is forgotten.")
    return redirect("requests:request", number=number)


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
        "kinds": pareto(Counter(each.get_kind_display() for each in rows)),
        "causes": pareto(Counter(str(each.cause) for each in known)),
        "places": pareto(Counter(each.came_from for each in known)),
        "unknown": len(rows) - len(known),
        "rows": rows[:100],
    }
    return render(request, "requests/causes.html", context, status=422 if form.errors else 200)


def the_request(number: str) -> CustomerRequest:
    return get_object_or_404(
        CustomerRequest.objects.select_related(
            "shell__order", "shell__model__line", "shell__finish", "taken_by", "picked_by", "closed_by", "cause",
            "caused_at", "companion_order",
        ).prefetch_related("lines"),
        number=number,
    )  # fmt: skip


def _close(request: HttpRequest, number: str, action: Any, words: str) -> HttpResponse:
    asked, who, form = the_request(number), signed_in(request), CloseForm(request.POST)
    if not form.is_valid():
        return _page(request, asked, forms={"close": form}, status=422)
    try:
        action(number=number, **form.said, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused, close=_marked(form, refused))
    messages.success(request, f"{number} {words}.")
    return redirect("requests:list")


def _marked(form: Any, refused: RoutingError | QualityError) -> Any:
    """The form with the sentence beside the field it is about, if it has that."""
    field = FIELD_OF.get(refused.code)
    form.add_error(field if field in form.fields else None, refused.message)
    return form


def _again(form: ChangeForm) -> ChangeForm:
    """What was typed, over the request as it is now: to save it once more means it."""
    asked = the_request(form.asked.number)
    data = {name: str(value) for name, value in form.data.items()} | {form.add_prefix("seen"): as_seen(asked)}
    return ChangeForm.of(asked, form.built, data)


def _refused(request: HttpRequest, number: str, refused: RoutingError | QualityError, **forms: Any) -> HttpResponse:
    """The page as it stands now, with what the person typed and why it was refused."""
    lost = isinstance(refused, LostRace)
    return _page(
        request, the_request(number), error=refused.message, forms={} if lost else forms, status=status_of(refused)
    )


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
    states = [("", "to do", waiting), *((value, label, counts.get(value, 0)) for value, label in RequestState.choices)]
    context = {
        **asked_for,
        "page": page,
        "rows": with_time(page.object_list, now),
        "states": [*states, ("all", "all", sum(counts.values()))],
        "kinds": RequestKind.choices,
        "error": error,
        "typed": typed,
    }
    return render(request, "requests/list.html", context, status=status)


def _drum_page(request: HttpRequest, shell: Shell, form: TakeForm, *, status: int = 200) -> HttpResponse:
    context = _about(shell) | {
        "form": form,
        "groups": _by_bag(shell, form),
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "requests/drum.html", context, status=status)


def _page(
    request: HttpRequest,
    asked: CustomerRequest,
    *,
    error: str = "",
    forms: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    given, built, now = forms or {}, as_built_parts(asked.shell), timezone.now()
    lines = list(asked.lines.all())
    sizes = {(part.bag, part.name): part for part in built.parts}
    (row,) = with_time([asked], now)
    changes = given.get("change") or ChangeForm.of(asked, built)
    context = _about(asked.shell) | {
        "asked": asked,
        "row": row,
        "lines": [(line, sizes.get((line.bag_name, line.part_name))) for line in lines],
        "bags": packed_bags(asked.shell, [line.bag_name for line in lines]),
        "events": asked.events.select_related("record"),
        "change": changes,
        "groups": _by_bag(asked.shell, changes) if asked.state == RequestState.OPEN else [],
        "close": given.get("close") or CloseForm(initial=_as_closed(asked)),
        "reopen": given.get("reopen") or ReopenForm(asked=asked),
        "typed": set(given),
        "error": error,
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "requests/request.html", context, status=status)


def _by_bag(shell: Shell, form: PartsForm) -> list[tuple[PackedBag, list[tuple[AsBuiltPart, BoundField]]]]:
    """The boxes of a form under the bags that their parts belong in."""
    rows = form.rows
    bags = packed_bags(shell, [part.bag for part, _ in rows])
    return [(bag, [row for row in rows if row[0].bag == bag.name]) for bag in bags]


def _as_closed(asked: CustomerRequest) -> dict[str, Any]:
    """What was said when it was closed before, for one that is opened again."""
    return {
        "answer": asked.answer,
        "cause": asked.cause_id,
        "caused_at": OUTSIDE if asked.from_outside else asked.caused_at.code if asked.caused_at else "",
    }


def _about(shell: Shell) -> dict[str, Any]:
    operations = list(Operation.objects.filter(shell=shell).select_related("station").order_by("position"))
    return {"shell": shell, "ring": ring_states(operations, timezone.now()), "glance": at_a_glance(shell)}
