"""Hours and places: one page of what the shop can do, with a form for each kind of row."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.models import Person
from quality.rights import Right
from routing.errors import LostRace, NotAllowedNow
from routing.hours_actions import REMOVED, Capacity, as_seen, away_on, remove_capacity
from shopfloor.access import needs
from shopfloor.hours.kinds import KINDS, Kind, the_kind, typed_before
from shopfloor.hours.page import absences_of, hours_page

PLANS = needs(Right.PLAN_WORK)


@require_safe
@PLANS
def page(request: HttpRequest) -> HttpResponse:
    """With ``?add=closures&reason=…`` that form is open and filled in: so what was removed is added again."""
    opened = request.GET.get("add", "")
    filled = {opened: KINDS[opened].to_add(initial=typed_before(request.GET))} if opened in KINDS else {}
    return _page(request, filled, opened=opened)


@require_POST
@PLANS
def add(request: HttpRequest, kind: str) -> HttpResponse:
    which = the_kind(kind)
    form = which.to_add(request.POST)
    if form.is_valid():
        try:
            kept = form.keep()
        except NotAllowedNow as refused:
            form.add_error(None, refused.message)
        else:
            messages.success(request, _("{rows}: saved.").format(rows="; ".join(map(str, kept))))
            return _to_row(which, kept[0].pk)
    return _page(request, {kind: form}, opened=kind, status=422)


@require_http_methods(["GET", "POST"])
@PLANS
def change(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    which = the_kind(kind)
    if request.method != "POST":
        return _form_page(request, which, which.the_row(pk))
    row = which.model._default_manager.filter(pk=pk).first()
    if row is None:
        return _gone(request, which)
    form = which.to_change(row, request.POST)
    status = 422
    if form.is_valid():
        try:
            kept = form.keep()
        except NotAllowedNow as refused:
            form.add_error(None, refused.message)
        except LostRace as lost:
            now = which.model._default_manager.filter(pk=pk).first()
            if now is None:
                return _gone(request, which)
            data = request.POST.copy()
            data[form.add_prefix("seen")] = as_seen(now)  # what was typed stays; to save again means it
            form = which.to_change(now, data)
            form.add_error(None, lost.message)
            status = 409
        else:
            messages.success(request, _("{rows}: saved.").format(rows=kept[0]))
            return _to_row(which, pk)
    # A form that was refused has put its words into its row; the page is about the row as it stands.
    return _form_page(request, which, which.the_row(pk), form=form, status=status)


@require_POST
@PLANS
def remove(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    which = the_kind(kind)
    row = which.model._default_manager.filter(pk=pk).first()
    again = which.again(row) if row is not None else ""
    try:
        said = remove_capacity(kind=which.model, pk=pk, seen=request.POST.get("seen", ""))
    except LostRace as lost:
        return _form_page(request, which, which.the_row(pk), error=lost.message, status=409)
    if said is None:
        messages.info(request, _("That was removed already; nothing more was changed."))
    else:
        done = _('{row}: removed. <a href="{address}">Add it again</a>')
        messages.success(request, format_html(done, row=said, address=again))
    return redirect("hours:page")


@require_safe
@PLANS
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """When one person is away."""
    who = get_object_or_404(Person, pk=pk)
    today = timezone.localdate()
    coming, past = absences_of(who, today=today)
    is_away = any(absence.first <= today for absence in coming)
    context = {"person": who, "coming": coming, "past": past, "is_away": is_away, "today": today}
    return render(request, "hours/person.html", context)


@require_POST
@PLANS
def away_today(request: HttpRequest, pk: int) -> HttpResponse:
    who = get_object_or_404(Person, pk=pk)
    absence = away_on(person_id=who.pk, day=timezone.localdate())
    messages.success(request, f"{absence}.")
    return redirect(reverse("hours:page") + "#people")


def _to_row(kind: Kind, pk: int) -> HttpResponse:
    return redirect(f"{reverse('hours:page')}#{kind.slug}-{pk}")


def _page(request: HttpRequest, filled: dict[str, Any], *, opened: str, status: int = 200) -> HttpResponse:
    now = timezone.now()
    context = {
        "shop_hours": hours_page(now=now),
        "today": timezone.localdate(now),
        "forms": {slug: filled.get(slug) or kind.to_add() for slug, kind in KINDS.items()},
        "opened": opened,
    }
    return render(request, "hours/page.html", context, status=status)


def _form_page(
    request: HttpRequest, kind: Kind, row: Capacity, *, form: Any = None, error: str = "", status: int = 200
) -> HttpResponse:
    seen = as_seen(row)
    context = {
        "kind": kind,
        "pk": row.pk,
        "title": str(row),
        "seen": seen,  # what a tap on Remove is about
        "form": form or kind.to_change(row, initial={"seen": seen}),
        "error": error,
    }
    return render(request, "hours/change.html", context, status=status)


def _gone(request: HttpRequest, kind: Kind) -> HttpResponse:
    """What somebody typed about a row that another removed meanwhile, as the form that adds it again."""
    form = kind.to_add(kind.as_new(request.POST))
    form.is_valid()
    form.add_error(None, _(REMOVED))
    return _page(request, {kind.slug: form}, opened=kind.slug, status=409)
