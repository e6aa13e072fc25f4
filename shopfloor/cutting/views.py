"""The cutting plan: which blanks come out of which sheet, for the orders that are not cut yet."""

from __future__ import annotations

import secrets
from collections import Counter
from datetime import date
from functools import partial

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from quality.rights import Right
from routing.cutting_jobs import ask_for_plan, stop_plan
from routing.cutting_orders import shells_to_cut
from routing.errors import NotAllowedNow
from routing.models import CuttingJob, KitOrder
from shopfloor.access import needs, signed_in
from shopfloor.cutting import background, pages
from shopfloor.cutting.forms import KERF_MM, SECONDS, PlanForm, quick_days
from shopfloor.stamps import office_stamp

SEES_ORDERS = needs(Right.SEE_ORDERS)


@require_http_methods(["GET", "HEAD", "POST"])
@SEES_ORDERS
def cutting_plan(request: HttpRequest) -> HttpResponse:
    """Choose what to plan, and make the plan. An address may choose beforehand: ?due_by=2026-12-18&order=K-1."""
    shells = shells_to_cut()
    orders = list(dict.fromkeys(shell.order for shell in shells))
    due = [(order.number, order.due) for order in orders]
    if request.method != "POST":
        chosen = QueryDict(mutable=True)
        chosen.update({"kerf_mm": str(KERF_MM), "seconds": str(SECONDS)})
        for name in request.GET:
            chosen.setlist(name, request.GET.getlist(name))
        form = PlanForm(chosen, orders=due)
        counts = Counter(shell.order.number for shell in shells)
        return _choice(request, form, orders, counts, status=200 if form.is_valid() else 422)
    form = PlanForm(request.POST, orders=due)
    status = 422
    if form.is_valid():
        stamp = office_stamp(request, signed_in(request))
        try:
            job, is_new = ask_for_plan(request=form.asked(), stamp=stamp)
        except NotAllowedNow as refused:
            form.add_error(None, refused.message)
            status = 409 if refused.code == "plans_in_work" else 422
        else:
            if is_new:
                transaction.on_commit(partial(background.start, job.pk))
            return redirect("cutting:job", pk=job.pk)
    return _choice(request, form, orders, Counter(shell.order.number for shell in shells), status=status)


def _choice(
    request: HttpRequest, form: PlanForm, orders: list[KitOrder], counts: Counter[str], *, status: int
) -> HttpResponse:
    now = timezone.now()
    day = form.cleaned_data.get("due_by")
    ticked = form["order"].value() or []

    def until(last: date | None) -> int:
        return sum(counts[order.number] for order in orders if last is None or order.due <= last)

    return render(
        request,
        "cutting/plan.html",
        {
            "form": form,
            "fields": [form[name] for name in ("due_by", "kerf_mm", "seconds")],
            "orders": [
                {"order": order, "shells": counts[order.number], "late": order.due < timezone.localdate(now)}
                for order in orders
                if day is None or order.due <= day or order.number in ticked
            ],
            "any_left": bool(orders),
            "ticked": ticked,
            "quick": [
                {"label": label, "day": last, "shells": until(last), "here": last == day and not form["due_by"].errors}
                for label, last in quick_days(timezone.localdate(now))
            ],
            "jobs": pages.newest_jobs(now),
            "tap_key": secrets.token_urlsafe(16),
        },
        status=status,
    )


@require_safe
@SEES_ORDERS
def job(request: HttpRequest, pk: int) -> HttpResponse:
    """One plan: how far it is, or what came out. While it is being made the page asks every second."""
    found = get_object_or_404(CuttingJob, pk=pk)
    now = timezone.now()
    refresh = bool(request.headers.get("HX-Request"))
    if refresh and not found.is_running(now):
        return HttpResponseClientRefresh()
    if found.is_running(now):
        context = pages.running(found, now)
    else:
        context = pages.ended(found, now, request.GET.get("kind", ""), request.GET.get("page", ""))
    response = render(request, "cutting/job.html#progress" if refresh else "cutting/job.html", context)
    patch_cache_control(response, no_store=True)
    return response


@require_POST
@SEES_ORDERS
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(CuttingJob, pk=pk)
    if not stop_plan(pk=pk):
        messages.info(request, _("The plan had ended already."))
    return redirect("cutting:job", pk=pk)
