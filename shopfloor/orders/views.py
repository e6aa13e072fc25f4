"""Kit orders: list, enter, import, release, ship."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.carton_contents import cartons_closed
from quality.carton_plan import carton_plan
from quality.cartons import CartonRefused
from quality.cartons import ship as ship_cartons
from quality.plan_people import people_to_plan
from quality.rights import Right, has_right
from routing.errors import NotReleasable, RoutingError
from routing.kits import in_kit_order
from routing.models import KitLine, KitOrder, Operation, OrderState, Shell, ShellState
from routing.order_book import BookError, Imported, OrderBookRefused, import_order_book, read_order_book
from routing.order_book_text import MAX_BYTES, columns_explained, text_of
from routing.promise import promise
from routing.release import prepare_order, release_order
from routing.turnstile import writing
from shopfloor import paper_queue
from shopfloor.access import needs, signed_in, the_order
from shopfloor.orders.forms import LineFormSet, Lines, OrderForm
from shopfloor.qr import base_url
from shopfloor.refusals import status_of
from shopfloor.rings import ring_states
from shopfloor.stamps import office_stamp
from shopfloor.work_in_process import shells_of

SEES_ORDERS = needs(Right.SEE_ORDERS)
EDITS_ORDERS = needs(Right.EDIT_ORDERS)


@require_safe
@SEES_ORDERS
def order_list(request: HttpRequest) -> HttpResponse:
    state, words = request.GET.get("state", ""), request.GET.get("q", "").strip()
    # A subquery for each order that is shown, not a join with the lines of all the years.
    lines = KitLine.objects.filter(order=OuterRef("pk")).order_by().values("order")
    drums = Coalesce(Subquery(lines.values(drums=Sum("quantity"))), 0)
    orders = KitOrder.objects.annotate(drums=drums).order_by("due", "number")
    if state in OrderState.values:
        orders = orders.filter(state=state)
    if words:
        orders = orders.filter(
            Q(number__icontains=words) | Q(customer__icontains=words) | Q(customer_reference__icontains=words)
        )
    counts = dict(KitOrder.objects.values_list("state").annotate(Count("pk")))
    return render(
        request,
        "orders/list.html",
        {
            "page": Paginator(orders, 50).get_page(request.GET.get("page")),
            "states": [(value, label, counts.get(value, 0)) for value, label in OrderState.choices],
            "state": state,
            "words": words,
            "all_count": sum(counts.values()),
            "today": timezone.localdate(),
            "may_edit": has_right(signed_in(request), Right.EDIT_ORDERS),
        },
    )


@require_safe
@SEES_ORDERS
def order(request: HttpRequest, number: str) -> HttpResponse:
    return _order_page(request, the_order(number))


@require_safe
@SEES_ORDERS
def kit(request: HttpRequest, number: str) -> HttpResponse:
    """What goes into the bags of a kit, and which of its drums travel inside which."""
    released = the_order(number)
    now = timezone.now()
    shells = shells_of([released], now, timezone.localdate(now)).get(released.pk, [])
    return render(request, "orders/kit.html", {"order": released, "plan": carton_plan(released), "shells": shells})


@require_http_methods(["GET", "POST"])
@EDITS_ORDERS
def new_order(request: HttpRequest) -> HttpResponse:
    return _enter(request, KitOrder(created_at=timezone.now()))


@require_http_methods(["GET", "POST"])
@EDITS_ORDERS
def edit_order(request: HttpRequest, number: str) -> HttpResponse:
    draft = the_order(number)
    if draft.state != OrderState.DRAFT:
        error = _("Order {number} is {state}; only a draft changes.")
        error = error.format(number=number, state=_(draft.get_state_display()))
        return _order_page(request, draft, error=error, status=409)
    return _enter(request, draft)


@require_POST
@EDITS_ORDERS
def delete_order(request: HttpRequest, number: str) -> HttpResponse:
    with writing():
        draft = the_order(number)
        if draft.state != OrderState.DRAFT:
            error = _("Order {number} is {state}; only a draft can be deleted.")
            error = error.format(number=number, state=_(draft.get_state_display()))
            return _order_page(request, draft, error=error, status=409)
        draft.delete()
    messages.success(request, _("Draft {number} is deleted.").format(number=number))
    return redirect("orders:list")


@require_POST
@needs(Right.RELEASE_ORDERS)
def release(request: HttpRequest, number: str) -> HttpResponse:
    draft, who = the_order(number), signed_in(request)
    try:
        shells = release_order(number=draft.number, stamp=office_stamp(request, who))
    except RoutingError as error:
        draft.refresh_from_db()
        return _order_page(request, draft, error=error.message, status=status_of(error))
    paper_queue.put(paper_queue.travelers_ahead(number, base_url(request)))
    paper_queue.wake()
    done = ngettext(
        "Order {number} is released with {shells} shell. Print its traveler next.",
        "Order {number} is released with {shells} shells. Print their travelers next.",
        len(shells),
    )
    messages.success(request, done.format(number=number, shells=len(shells)))
    return redirect("orders:order", number=number)


@require_POST
@needs(Right.RELEASE_ORDERS)
def ship(request: HttpRequest, number: str) -> HttpResponse:
    complete, who = the_order(number), signed_in(request)
    try:
        ship_cartons(number=complete.number, stamp=office_stamp(request, who))
    except CartonRefused as refused:
        return _order_page(request, complete, error=refused.message, missing=refused.missing, status=422)
    except RoutingError as error:
        return _order_page(request, complete, error=error.message, status=409)
    messages.success(request, _("Order {number} is marked as shipped.").format(number=number))
    return redirect("orders:order", number=number)


@require_http_methods(["GET", "POST"])
@EDITS_ORDERS
def import_book(request: HttpRequest) -> HttpResponse:
    """Show what an order book would do. Nothing is saved here."""
    if request.method == "GET":
        return render(request, "orders/import.html", {"columns": columns_explained()})
    upload = request.FILES.get("book")
    if upload is None:
        missing = BookError(None, "", _("Choose the file first."))
        return render(request, "orders/import.html", {"columns": columns_explained(), "errors": [missing]}, status=422)
    raw = upload.read(MAX_BYTES + 1)
    return _preview(request, raw)


@require_POST
@EDITS_ORDERS
def confirm_import(request: HttpRequest) -> HttpResponse:
    """Import what the preview showed; everything is checked again first."""
    text, today = request.POST.get("book", ""), timezone.localdate()
    try:
        done = import_order_book(
            read_order_book(text, today=today), stamp=office_stamp(request, signed_in(request)), today=today
        )
    except OrderBookRefused:
        return _preview(request, text)
    messages.success(request, _what_was_imported(done))
    return redirect("orders:list")


def _what_was_imported(done: Imported) -> str:
    new, known = len(done.created), len(done.unchanged)
    drums = ngettext("{count} drum", "{count} drums", done.drums).format(count=done.drums)
    said = ngettext(
        "{orders} order with {drums} is imported as a draft.",
        "{orders} orders with {drums} are imported as drafts.",
        new,
    ).format(orders=new, drums=drums)
    if known:
        same = ngettext("{count} was here already, unchanged.", "{count} were here already, unchanged.", known)
        said += " " + same.format(count=known)
    return said


def _preview(request: HttpRequest, raw: bytes | str) -> HttpResponse:
    book = read_order_book(raw, today=timezone.localdate())
    if book.errors:
        return render(
            request, "orders/import.html", {"columns": columns_explained(), "errors": book.errors}, status=422
        )
    return render(request, "orders/import.html", {"book": book, "text": text_of(raw)})


def _enter(request: HttpRequest, draft: KitOrder) -> HttpResponse:
    given = request.POST.copy() if request.method == "POST" else None
    if given is not None and given.get("take"):
        given["due"] = request.POST["take"]  # the day that was offered, with one tap
    form = OrderForm(given, instance=draft)
    lines = LineFormSet(given, instance=draft, prefix="lines")
    if given is not None and "promise" in given:
        return _promised(request, draft, form, lines)
    if given is not None and form.is_valid() & lines.is_valid():
        with writing():
            # Somebody may have released it while this form was open.
            if draft.pk and KitOrder.objects.select_for_update().get(pk=draft.pk).state != OrderState.DRAFT:
                return _order_page(
                    request, the_order(draft.number), error=_("Released meanwhile; nothing was changed."), status=409
                )
            saved = form.save()
            lines.instance = saved
            lines.save_numbered()
        messages.success(request, _("Order {number} is saved as a draft.").format(number=saved.number))
        return redirect("orders:order", number=saved.number)
    status = 422 if given is not None else 200
    return render(request, "orders/enter.html", {"form": form, "lines": lines, "order": draft}, status=status)


def _promised(request: HttpRequest, draft: KitOrder, form: OrderForm, lines: Lines) -> HttpResponse:
    """What can be promised for the drums as they stand in the form. Nothing is saved, and nothing that was typed is lost."""
    form.is_valid()
    due = form.cleaned_data.get("due")
    typed = OrderForm(instance=draft, initial={name: form.data.get(name, "") for name in form.fields})
    context: dict[str, Any] = {"form": typed, "lines": lines, "order": draft}
    if not lines.is_valid():
        return render(request, "orders/enter.html", context, status=422)
    now = timezone.now()
    try:
        context["promise"] = promise(
            wanted=lines.wanted(), due=due, weight=draft.weight, now=now, people=people_to_plan(timezone.localdate(now))
        )
    except RoutingError as error:
        return render(request, "orders/enter.html", context | {"no_promise": error.message}, status=422)
    return render(request, "orders/enter.html", context)


def _order_page(
    request: HttpRequest, the: KitOrder, *, error: str = "", missing: Sequence[str] = (), status: int = 200
) -> HttpResponse:
    who, now = signed_in(request), timezone.now()
    every = list(Shell.objects.filter(order=the).select_related("model__line", "finish", "replaces").order_by("pk"))
    shells = in_kit_order(every)
    in_kit = {shell.pk for shell in shells}
    shells += [shell for shell in every if shell.pk not in in_kit]
    steps: dict[int, list[Operation]] = {}
    for step in Operation.objects.filter(shell__in=shells).select_related("station").order_by("position"):
        steps.setdefault(step.shell_id, []).append(step)
    rows = [
        {
            "shell": shell,
            "in_kit": shell.pk in in_kit,
            "ring": ring_states(steps.get(shell.pk, []), now),
            "current": next((s for s in steps.get(shell.pk, []) if s.state in ("ready", "in_work", "on_hold")), None),
        }
        for shell in shells
    ]
    return render(
        request,
        "orders/order.html",
        {
            "order": the,
            "lines": the.lines.select_related("model__line", "finish"),
            "rows": rows,
            "packed": sum(shell.state == ShellState.PACKED for shell in shells),
            "not_releasable": _why_not_releasable(the),
            "error": error,
            "missing": missing,
            "cartons": cartons_closed(the),
            "today": timezone.localdate(now),
            "now": now,
            "tap_key": secrets.token_urlsafe(16),
            "may_edit": has_right(who, Right.EDIT_ORDERS),
            "may_release": has_right(who, Right.RELEASE_ORDERS),
            "may_print": has_right(who, Right.PRINT_TRAVELERS),
        },
        status=status,
    )


def _why_not_releasable(draft: KitOrder) -> str:
    """What would stop the release of a draft, said before somebody tries."""
    if draft.state != OrderState.DRAFT:
        return ""
    try:
        prepare_order(draft)
    except NotReleasable as error:
        return error.message
    return ""
