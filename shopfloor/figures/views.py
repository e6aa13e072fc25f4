"""How the shop does: yields and times, findings, and the charts of its checks; each as picture, table and file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_safe

from quality.figures import (
    CheckFigures,
    ShopYields,
    figures_of_check,
    findings_between,
    findings_chart,
    measured_checks,
    yields_between,
)
from quality.figures.findings import By, Finding, ranked
from quality.rights import Right
from quality.statistics import RULES
from routing.languages import Language, day, spoken_in
from shopfloor.access import needs
from shopfloor.figures.forms import SpanForm, by_of, shortcuts
from shopfloor.figures.pictures import chart_picture, pareto_picture
from shopfloor.tables import csv_file, xlsx_file

SEES_FIGURES = needs(Right.SEE_FIGURES)
LISTED = 100  # findings on the page; the file has all of them
BY_WORDS = {
    By.DEFECT: gettext_noop("by defect"),
    By.FOUND: gettext_noop("by where it was found"),
    By.CAUSED: gettext_noop("by where it came from"),
}
TITLES = {
    By.DEFECT: gettext_noop("Findings by defect"),
    By.FOUND: gettext_noop("Findings by where it was found"),
    By.CAUSED: gettext_noop("Findings by where it came from"),
}
NOTHING = "–"


@require_safe
@SEES_FIGURES
def overview(request: HttpRequest) -> HttpResponse:
    form = _form(request)
    found = yields_between(form.span)
    return _page(request, "figures/overview.html", form, {"found": found, "checks": measured_checks()})


@require_safe
@SEES_FIGURES
def yields_file(request: HttpRequest, kind: str) -> HttpResponse:
    found = yields_between(_form(request).span)
    return _file(kind, "yields", ("Figure", "Value", "Of", "Unit"), _yield_rows(found))


@require_safe
@SEES_FIGURES
def findings(request: HttpRequest) -> HttpResponse:
    form = _form(request)
    found = findings_between(form.span)
    by = by_of(request.GET.get("by", ""))
    at = request.GET.get("at", "")
    chosen = [each for each in found if not at or at in (each.found_at, each.caused_at)]
    bars = ranked(chosen, by)
    chart, days = findings_chart(chosen, form.span)
    context = {
        "by": by,
        "by_words": [(each.value, _(words)) for each, words in BY_WORDS.items()],
        "at": at,
        "places": sorted({place for each in found for place in (each.found_at, each.caused_at)}),
        "bars": bars,
        "pareto": pareto_picture(bars, title=_(TITLES[by])),
        "chart": chart_picture(chart, labels=[day(on) for on, __ in days], title=_("Findings a day")) if chart else "",
        "steady": chart.in_control if chart else None,
        "listed": chosen[:LISTED],
        "total": len(chosen),
    }
    return _page(request, "figures/findings.html", form, context)


@require_safe
@SEES_FIGURES
def findings_file(request: HttpRequest, kind: str) -> HttpResponse:
    with spoken_in(Language.ENGLISH):  # as its head and every other file
        found = findings_between(_form(request).span)
    head = ("Serial", "When", "Defect", "Found at", "Came from", "Decided")
    return _file(kind, "findings", head, [_finding_row(each) for each in found])


@require_safe
@SEES_FIGURES
def check(request: HttpRequest, code: str) -> HttpResponse:
    form = _form(request)
    found = _check(code, form)
    picture = (
        chart_picture(
            found.chart,
            labels=found.labels,
            title=_("Control chart: {check}").format(check=found.point.text),
            unit=found.point.unit,
            allowed=found.allowed,
        )
        if found.chart
        else ""
    )
    context = {"found": found, "picture": picture, "checks": measured_checks(), "rules": RULES}
    return _page(request, "figures/check.html", form, context)


@require_safe
@SEES_FIGURES
def check_file(request: HttpRequest, code: str, kind: str) -> HttpResponse:
    with spoken_in(Language.ENGLISH):
        found = _check(code, _form(request))
    return _file(kind, f"check-{code}", found.head, found.rows)


def _check(code: str, form: SpanForm) -> CheckFigures:
    found = figures_of_check(code, form.span)
    if found is None:
        raise Http404(_("There is no check point “{code}”.").format(code=code))
    return found


def _form(request: HttpRequest) -> SpanForm:
    return SpanForm(request.GET, today=timezone.localdate())


def _page(request: HttpRequest, template: str, form: SpanForm, context: dict[str, Any]) -> HttpResponse:
    ok = form.is_valid()
    span = form.span
    usual = {"first": span.first.isoformat(), "last": span.last.isoformat()}
    shown = form if not ok else SpanForm({**usual, "line": span.line.pk if span.line else ""}, today=form.today)
    context |= {"form": shown, "span": span, "shortcuts": shortcuts(form.today), "today": form.today}
    return render(request, template, context, status=200 if ok else 422)


def _file(kind: str, name: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> HttpResponse:
    match kind:
        case "csv":
            return csv_file(name, head, rows)
        case "xlsx":
            return xlsx_file(name, head, rows)
        case _:
            raise Http404(_("A list can be had as csv or xlsx."))


def _yield_rows(found: ShopYields) -> list[tuple[str, str, str, str]]:
    rows = [
        (f"First pass yield, {each.station.name}", _percent(each.first_pass), str(each.shells), "shells")
        for each in found.stations
    ]
    rows += [
        (f"Rolled throughput yield, {each.finish}", _percent(each.rolled), str(len(each.stations)), "stations")
        for each in found.rolled
    ]
    rows += [
        ("Rework ratio", _percent(found.rework), str(found.processed), "shells"),
        ("Scrap ratio", _percent(found.scrap), str(found.packed + found.scrapped), "shells"),
    ]
    for name, times, unit in (
        ("Lead time, median", found.lead_days, "days"),
        ("Touch time, median", found.touch_hours, "hours"),
    ):
        rows.append((name, f"{times.median:.2f}" if times else NOTHING, str(times.count if times else 0), unit))
    rows.append(("Touch time of lead time", _percent(found.touch_share), "", ""))
    return rows


def _percent(part: float | None) -> str:
    return NOTHING if part is None else f"{part * 100:.1f} %"


def _finding_row(each: Finding) -> tuple[str, ...]:
    when = timezone.localtime(each.at).strftime("%Y-%m-%d %H:%M")
    return each.serial, when, each.defect, each.found_at, each.caused_at, each.decided
