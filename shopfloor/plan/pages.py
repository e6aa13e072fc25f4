"""What the pages of the plan show. Read from the rows of the current plan; a known number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from routing.drawing_words import day_names, picture_in_words, row_in_words
from routing.drawings.gantt import GanttBar, GanttRow, gantt
from routing.languages import day
from routing.models import KitOrder, OperationState, Outage, Plan, PlannedStep, Station
from routing.plan_problem import TO_DO
from routing.shop_hours import ShopHours

LISTED_DAYS = 5  # of a work list
MOST_ROWS = 40
BY_STATION, BY_PERSON, BY_KIT = "station", "person", "kit"


def current_plan() -> Plan | None:
    return Plan.objects.filter(is_current=True).first()


@dataclass(frozen=True, slots=True)
class KitRow:
    order: str
    customer: str
    due: date
    ready_at: datetime
    last: str
    late: bool
    at_risk: bool
    weight: int

    @property
    def late_by(self) -> str:
        """How much later than the end of the day it is due, in days or hours."""
        days = (timezone.localdate(self.ready_at) - self.due).days
        return ngettext("{days} day", "{days} days", days).format(days=days) if days > 0 else _("some hours")


def kit_rows(plan: Plan) -> list[KitRow]:
    """The kits of a plan that are still to be made: late ones first, then those at risk, then by due date."""
    orders = {
        order.number: order
        for order in KitOrder.objects.filter(number__in=[kit["order"] for kit in plan.summary.get("kits", [])])
    }
    rows = [
        KitRow(
            order=kit["order"],
            customer=orders[kit["order"]].customer,
            due=orders[kit["order"]].due,
            ready_at=datetime.fromisoformat(kit["ready_at"]),
            last=kit["last"],
            late=kit["late"],
            at_risk=kit["at_risk"],
            weight=orders[kit["order"]].weight,
        )
        for kit in plan.summary.get("kits", [])
        if kit["order"] in orders
    ]
    return sorted(rows, key=lambda row: (not row.late, not row.at_risk, row.due, row.order))


def steps_of(plan: Plan, begins: datetime, ends: datetime) -> list[PlannedStep]:
    """Steps of a plan that are still to be done and touch a span of time, with what pages say of them."""
    return list(
        plan.steps.filter(starts_at__lt=ends, ends_at__gt=begins, operation__state__in=TO_DO).select_related(
            "station", "person", "operation__shell__order", "operation__shell__model", "operation__shell__finish"
        )
    )


def picture_of(plan: Plan, *, by: str, first: date, days: int, now: datetime) -> str:
    """The plan over time as SVG; nights and closed days between the first and the last hour of work are shortened."""
    zone = timezone.get_current_timezone()
    hours = ShopHours.load()
    begins = datetime.combine(first, time(), zone)
    ends = datetime.combine(first + timedelta(days=days), time(), zone)
    open_hours = list(hours.between(first, first + timedelta(days=days - 1)))
    if open_hours:
        begins = max(begins, open_hours[0][0] - timedelta(minutes=30))
        ends = min(ends, open_hours[-1][1] + timedelta(minutes=30))
    late = {kit["order"] for kit in plan.summary.get("kits", []) if kit["late"]}
    steps = steps_of(plan, begins, ends)
    rows = {BY_STATION: _station_rows, BY_PERSON: _person_rows, BY_KIT: _kit_rows}[by](steps, late, begins, ends)
    drawn = gantt(
        rows[:MOST_ROWS],
        begins=timezone.localtime(begins),
        ends=timezone.localtime(ends),
        closed=[(timezone.localtime(a), timezone.localtime(b)) for a, b in _closed(open_hours, begins, ends)],
        now=timezone.localtime(now),
        title=ngettext(
            "Plan by {row} from {first} for {days} day", "Plan by {row} from {first} for {days} days", days
        ).format(row=_(by), first=day(first), days=days),
        tell=row_in_words,
        days=day_names,
    )
    return picture_in_words(drawn)


def _closed(
    open_hours: Sequence[tuple[datetime, datetime]], begins: datetime, ends: datetime
) -> Iterable[tuple[datetime, datetime]]:
    at = begins
    for start, end in open_hours:
        if start > at:
            yield at, start
        at = max(at, end)
    if at < ends:
        yield at, ends


def _bar(step: PlannedStep, label: str, late: set[str]) -> GanttBar:
    return GanttBar(
        timezone.localtime(step.starts_at),
        timezone.localtime(step.ends_at),
        label,
        "begun" if step.operation.state == OperationState.IN_WORK else "work",
        step.operation.shell.order.number in late,
    )


def _station_rows(steps: list[PlannedStep], late: set[str], begins: datetime, ends: datetime) -> list[GanttRow]:
    bars: dict[int, list[GanttBar]] = defaultdict(list)
    for step in steps:
        bars[step.station_id].append(_bar(step, step.operation.shell.serial, late))
    for outage in Outage.objects.filter(starts_at__lt=ends, ends_at__gt=begins):
        bars[outage.station_id].append(
            GanttBar(timezone.localtime(outage.starts_at), timezone.localtime(outage.ends_at), outage.reason, "down")
        )
    return [GanttRow(station.name, bars[station.pk]) for station in Station.objects.filter(is_active=True)]


def _person_rows(steps: list[PlannedStep], late: set[str], begins: datetime, ends: datetime) -> list[GanttRow]:
    bars: dict[str, list[GanttBar]] = defaultdict(list)
    nobody = _("nobody named")
    for step in steps:
        bars[step.person.name if step.person else nobody].append(
            _bar(step, f"{step.station.name} {step.operation.shell.serial}", late)
        )
    return [GanttRow(name, bars[name]) for name in sorted(bars)]


def _kit_rows(steps: list[PlannedStep], late: set[str], begins: datetime, ends: datetime) -> list[GanttRow]:
    bars: dict[tuple[date, str], list[GanttBar]] = defaultdict(list)
    for step in steps:
        order = step.operation.shell.order
        bars[(order.due, order.number)].append(_bar(step, step.station.name, late))
        waits = step.operation.dwell_minutes
        if waits:
            after = timezone.localtime(step.ends_at)
            bars[(order.due, order.number)].append(GanttBar(after, after + timedelta(minutes=waits), "", "dwell"))
    return [GanttRow(number, bars[(due, number)]) for due, number in sorted(bars)]


@dataclass(frozen=True, slots=True)
class Campaign:
    """Steps of one station that are done in one go: one mould, one colour, or whatever comes in between."""

    name: str
    steps: tuple[PlannedStep, ...]


@dataclass(frozen=True, slots=True)
class DayOfWork:
    day: date
    campaigns: tuple[Campaign, ...]
    minutes: int

    @property
    def count(self) -> int:
        return sum(len(campaign.steps) for campaign in self.campaigns)


def work_of(plan: Plan, station: Station, now: datetime, days: int = LISTED_DAYS) -> list[DayOfWork]:
    """The work list of a station: the coming days on which there is work, campaign by campaign."""
    steps = list(
        plan.steps.filter(station=station, operation__state__in=TO_DO)
        .select_related(
            "station", "person", "operation__shell__order", "operation__shell__model", "operation__shell__finish"
        )
        .order_by("starts_at", "pk")[: days * 120]
    )
    by_day: dict[date, list[PlannedStep]] = defaultdict(list)
    today = timezone.localdate(now)
    for step in steps:
        by_day[max(today, timezone.localdate(step.starts_at))].append(step)
    return [
        DayOfWork(
            day,
            tuple(_campaigns(by_day[day])),
            round(sum((step.ends_at - step.starts_at).total_seconds() for step in by_day[day]) / 60),
        )
        for day in sorted(by_day)[:days]
    ]


def _campaigns(steps: Iterable[PlannedStep]) -> Iterable[Campaign]:
    """In the order in which they begin; at a station with several places two may run side by side."""
    groups: dict[tuple[int, str], list[PlannedStep]] = {}
    for step in steps:
        groups.setdefault((step.campaign_number, step.campaign), []).append(step)
    for (_number, name), members in groups.items():
        yield Campaign(name, tuple(members))


def station_totals(plan: Plan, now: datetime) -> list[dict[str, Any]]:
    """For every station in use how much is planned for today and for the coming days, and the campaigns of today."""
    zone = timezone.get_current_timezone()
    today = timezone.localdate(now)
    tomorrow = datetime.combine(today + timedelta(days=1), time(), zone)
    rows: dict[int, dict[str, Any]] = {
        station.pk: {"station": station, "today": 0, "later": 0, "campaigns": []}
        for station in Station.objects.filter(is_active=True)
    }
    steps = plan.steps.filter(operation__state__in=TO_DO, station__in=rows)
    for station, starts_at, campaign in steps.order_by("starts_at", "pk").values_list(
        "station_id", "starts_at", "campaign"
    ):
        row = rows[station]
        if starts_at < tomorrow:
            row["today"] += 1
            if campaign and (not row["campaigns"] or row["campaigns"][-1] != campaign):
                row["campaigns"].append(campaign)
        else:
            row["later"] += 1
    return list(rows.values())
