"""What the pages of a cutting plan show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from quality.models import StockPart
from routing.cutting_jobs import INTERRUPTED, PlanRequest, cut_since, progress_of, request_of, result_of
from routing.drawing_words import in_words as drawn_in_words
from routing.drawings.cutting_sheet import cutting_sheet_svg
from routing.languages import day
from routing.models import CuttingJob, Station, StationKind
from routing.spec_words import spoken
from routing.specs.cutting_plan import CuttingPlan

SHOWN = 10
DRAWN_AT_ONCE = 60  # more drawings than this on one page keep a browser busy for half a minute
STEPS = {
    "": gettext_noop("beginning"),
    "constructed": gettext_noop("a first plan stands; looking for better ways to fill a sheet"),
    "patterns": gettext_noop("looking for better ways to fill a sheet"),
    "chosen": gettext_noop("the best of them are chosen"),
}


@dataclass(frozen=True, slots=True)
class OffcutRow:
    """Offcuts of one size."""

    along_mm: float
    across_mm: float
    count: int
    sheets: str


def newest_jobs(now: datetime) -> list[dict[str, Any]]:
    """The last plans, without their drawings."""
    rows = []
    for job in CuttingJob.objects.defer("result")[:SHOWN]:
        progress = progress_of(job)
        rows.append(
            {
                "job": job,
                "asked": in_words(request_of(job)),
                "state": state_of(job, now),
                "progress": progress,
                "gap": progress.sheets - progress.lower_bound,
            }
        )
    return rows


def running(job: CuttingJob, now: datetime) -> dict[str, Any]:
    """How far a plan is that is being made."""
    progress = progress_of(job)
    return _common(job, now) | {
        "progress": progress,
        "made": [_made_in_words(line) for line in progress.made],
        "step": _("no plan has fewer") if 0 < progress.sheets <= progress.lower_bound else _(STEPS[progress.step]),
        "running_s": max(0, int((now - job.started_at).total_seconds())),
        "kinds_made": max(0, progress.kind - 1),
    }


def ended(job: CuttingJob, now: datetime, kind: str = "", page: str = "") -> dict[str, Any]:
    """What came out, or why nothing did. A plan of many sheets shows the drawings of one ``kind`` at a time, in pages."""
    result = result_of(job)
    sheets = sum(len(plan.sheets) for plan in result.plans)
    on_shelf = dict(
        StockPart.objects.filter(name__in=[plan.stock.name for plan in result.plans]).values_list("name", "on_hand")
    )
    rows = [_kind_row(number, plan, on_shelf.get(plan.stock.name)) for number, plan in enumerate(result.plans, start=1)]
    is_large = sheets > DRAWN_AT_ONCE
    chosen = [row for row in rows if str(row["number"]) == kind]
    drawn = chosen if is_large or chosen else rows
    for row in drawn:
        row["page"] = Paginator(row["plan"].sheets, DRAWN_AT_ONCE).get_page(page)
        row["drawings"] = [
            (layout, drawn_in_words(cutting_sheet_svg(row["plan"].stock, layout))) for layout in row["page"]
        ]
    return _common(job, now) | {
        "error": spoken(_(INTERRUPTED if job.was_interrupted(now) else job.error)),
        "left": result.left,
        "planned": sum(len(order.serials) for order in result.left),
        "blanks": sum(order.blanks for order in result.left),
        "sheets": sheets,
        "cut_since": cut_since(result) if result.left else 0,
        "kinds": rows,
        "drawn": drawn,
        "is_large": is_large,
        "one_kind": bool(chosen),
        "page": drawn[0]["page"] if chosen else None,
        "cautions": list(
            Station.objects.filter(kind=StationKind.CUT)
            .exclude(caution="")
            .values_list("caution", flat=True)
            .distinct()
        ),
    }


def _made_in_words(line: str) -> str:
    """“Birch 2.5: 3 sheets; no plan has fewer.”, as it is kept: the name of a sheet, then the sum."""
    name, _colon, summary = line.rpartition(": ")
    return f"{name}: {spoken(summary)}"


def _kind_row(number: int, plan: CuttingPlan, on_shelf: int | None) -> dict[str, Any]:
    """``on_shelf``: how many sheets were counted; None when nobody did."""
    to_buy = None if on_shelf is None else max(0, len(plan.sheets) - max(0, on_shelf))
    return {"number": number, "plan": plan, "offcuts": offcut_rows(plan), "on_shelf": on_shelf, "to_buy": to_buy}


def _common(job: CuttingJob, now: datetime) -> dict[str, Any]:
    asked = request_of(job)
    return {
        "job": job,
        "state": state_of(job, now),
        "asked": asked,
        "asked_in_words": in_words(asked),
        "again": query_of(asked),
    }


def state_of(job: CuttingJob, now: datetime) -> str:
    if job.was_interrupted(now) or job.error == INTERRUPTED:
        return "interrupted"
    return str(job.state)


def in_words(asked: PlanRequest) -> str:
    if asked.orders:
        what = ngettext("Order {orders}", "Orders {orders}", len(asked.orders)).format(orders=", ".join(asked.orders))
    else:
        what = _("Everything that is left to cut")
    if not asked.due_by:
        return what
    return _("{what}, due by {day}").format(what=what, day=day(date.fromisoformat(asked.due_by)))


def query_of(asked: PlanRequest) -> str:
    """The same choice as part of an address, to change it and ask again."""
    pairs = [("order", number) for number in asked.orders]
    pairs += [("due_by", asked.due_by), ("kerf_mm", f"{asked.kerf_mm:g}"), ("seconds", f"{asked.seconds:g}")]
    return urlencode(pairs)


def offcut_rows(plan: CuttingPlan) -> Sequence[OffcutRow]:
    """Offcuts worth keeping, the largest first; those of one size together."""
    found: dict[tuple[float, float], list[int]] = {}
    for layout in plan.sheets:
        for offcut in layout.offcuts:
            found.setdefault((offcut.along_grain_mm, offcut.across_grain_mm), []).append(layout.number)
    return [
        OffcutRow(along, across, len(sheets), _numbers(sheets))
        for (along, across), sheets in sorted(found.items(), key=lambda row: -row[0][0] * row[0][1])
    ]


def _numbers(numbers: Iterable[int]) -> str:
    """1, 2, 3, 7 as “1–3, 7”."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(first) if first == last else f"{first}–{last}" for first, last in runs)
