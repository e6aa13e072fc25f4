"""The plan: making it, reading it as lists and as a picture, promising dates, and asking what if."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from quality.plan_people import people_to_plan
from quality.rights import Right
from routing.errors import NotAllowedNow, RoutingError
from routing.models import OrderState, Plan, Shop, Station
from routing.plan_jobs import ask_for_plan, stop_plan
from routing.promise import RUSH_WEIGHT, set_weight, what_if
from shopfloor.access import needs, signed_in, the_order
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.paper import picture as as_picture
from shopfloor.plan import background, pages
from shopfloor.plan.forms import SECONDS, MakeForm, PictureForm, WhatIfForm
from shopfloor.stamps import office_stamp

PLANS = needs(Right.PLAN_WORK)
SEES = needs(Right.SEE_BOARD)
SEED = 1
NO_PLAN = gettext_noop("There is no plan yet. A supervisor makes one under Plan.")


@require_safe
@PLANS
def home(request: HttpRequest) -> HttpResponse:
    """The current plan, and the one that is being made. While one is made the page asks every second."""
    return _home(request, MakeForm(initial={"seconds": SECONDS}), status=200)


def _home(request: HttpRequest, form: MakeForm, *, status: int) -> HttpResponse:
    now = timezone.now()
    newest = Plan.objects.order_by("-pk").first()
    running = newest if newest is not None and newest.is_running(now) else None
    refresh = bool(request.headers.get("HX-Request"))
    if refresh and running is None:
        return HttpResponseClientRefresh()
    plan = pages.current_plan()
    context: dict[str, Any] = {"plan": plan, "running": running, "form": form, "newest": newest}
    if not refresh and plan is not None:
        kits = pages.kit_rows(plan)
        context |= {
            "kits": kits,
            "late": sum(kit.late for kit in kits),
            "at_risk": sum(kit.at_risk for kit in kits),
            "totals": pages.station_totals(plan, now),
            "is_old": now - plan.made_at > timedelta(days=1),
        }
    response = render(request, "plan/home.html#progress" if refresh else "plan/home.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response


@require_POST
@PLANS
def make(request: HttpRequest) -> HttpResponse:
    form = MakeForm(request.POST)
    if not form.is_valid():
        return _home(request, form, status=422)
    plan, is_new = ask_for_plan(
        time_limit_s=form.cleaned_data["seconds"], seed=SEED, stamp=office_stamp(request, signed_in(request))
    )
    if is_new:
        transaction.on_commit(partial(background.start, plan.pk))
    else:
        said = _("A plan is being made already, asked for by {name}.")
        messages.info(request, said.format(name=plan.made_by_name))
    return redirect("plan:home")


@require_POST
@PLANS
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(Plan, pk=pk)
    if not stop_plan(pk=pk):
        messages.info(request, _("The plan had ended already."))
    return redirect("plan:home")


def _picture_form(request: HttpRequest) -> PictureForm:
    today = timezone.localdate()
    given = {"by": "station", "first": today.isoformat(), "days": "2"} | {
        name: request.GET[name] for name in ("by", "first", "days") if name in request.GET
    }
    return PictureForm(given)


@require_safe
@SEES
def picture(request: HttpRequest) -> HttpResponse:
    plan, form = pages.current_plan(), _picture_form(request)
    is_valid = form.is_valid()
    context: dict[str, Any] = {"plan": plan, "form": form, "query": request.GET.urlencode()}
    if plan is not None and is_valid:
        first, days = form.cleaned_data["first"], form.cleaned_data["days"]
        svg = pages.picture_of(plan, **form.cleaned_data, now=timezone.now())
        context |= {
            "drawing": svg,
            "earlier": first - timedelta(days=days),
            "later": first + timedelta(days=days),
        }
    return render(request, "plan/picture.html", context, status=200 if is_valid else 422)


@require_safe
@SEES
def picture_pdf(request: HttpRequest) -> HttpResponse:
    plan, form = pages.current_plan(), _picture_form(request)
    if plan is None:
        return _refused(request, _(NO_PLAN), 422)
    if not form.is_valid():
        return _refused(request, _("Choose a day and how many days the picture is to show."), 422)
    now = timezone.now()
    svg = pages.picture_of(plan, **form.cleaned_data, now=now)
    context = {"plan": plan, "drawing": as_picture(svg), "shop": Shop.current(), "printed_at": now}
    return _paper(request, "plan/picture_paper.html", context | form.cleaned_data, "plan.pdf")


@require_safe
@SEES
def work_lists(request: HttpRequest) -> HttpResponse:
    plan = pages.current_plan()
    totals = pages.station_totals(plan, timezone.now()) if plan else []
    return render(request, "plan/work_lists.html", {"plan": plan, "totals": totals})


def _list_of(code: str) -> dict[str, Any]:
    station = get_object_or_404(Station, code=code)
    plan = pages.current_plan()
    now = timezone.now()
    days = pages.work_of(plan, station, now) if plan else []
    return {"plan": plan, "station": station, "days": days, "now": now, "shop": Shop.current(), "printed_at": now}


@require_safe
@SEES
def work_list(request: HttpRequest, code: str) -> HttpResponse:
    return render(request, "plan/work_list.html", _list_of(code))


@require_safe
@SEES
def work_list_pdf(request: HttpRequest, code: str) -> HttpResponse:
    context = _list_of(code)
    if context["plan"] is None:
        return _refused(request, _(NO_PLAN), 422)
    return _paper(request, "plan/work_list_paper.html", context, f"work-{code}.pdf")


@require_safe
@PLANS
def what_if_page(request: HttpRequest) -> HttpResponse:
    """What would happen if. The question is in the address; nothing is saved."""
    form = WhatIfForm(request.GET or None)
    answer, status = None, 200
    if request.GET:
        if form.is_valid():
            now = timezone.now()
            try:
                answer = what_if(change=form.change(), now=now, people=people_to_plan(timezone.localdate(now)))
            except RoutingError as error:
                form.add_error(None, error.message)
                status = 422
        else:
            status = 422
    return render(
        request,
        "plan/what_if.html",
        {"form": form, "answer": answer, "chosen": getattr(form, "cleaned_data", {})},
        status=status,
    )


@require_POST
@PLANS
def weight(request: HttpRequest, number: str) -> HttpResponse:
    """Make an order a rush order, or one as usual again."""
    order = the_order(number)
    wanted = RUSH_WEIGHT if request.POST.get("rush") == "1" else 1
    try:
        set_weight(number=number, weight=wanted)
    except NotAllowedNow as error:
        messages.error(request, error.message)
    else:
        rush = wanted == RUSH_WEIGHT
        said = _("{number} is a rush order now.") if rush else _("{number} counts as usual again.")
        again = "" if order.state == OrderState.DRAFT else " " + _("Make the plan again for the work lists to follow.")
        messages.success(request, said.format(number=number) + again)
    return redirect("orders:order", number=number)


def _paper(request: HttpRequest, template: str, context: dict[str, Any], name: str) -> HttpResponse:
    try:
        printed = pdf_from_template(template, context, css="plan-paper.css")
    except PaperError as error:
        return _refused(request, str(error), 503)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


def _refused(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    return render(request, "plan/refused.html", {"sentence": sentence}, status=status)
