"""What the board shows: counts and the most urgent shells of each station, and age.

A known number of queries whatever the load: the counts are aggregates, the shells are the first few of each station.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, Min, Q, Subquery, Window
from django.db.models.functions import RowNumber

from routing.models import Operation, OperationState, Plan, Shell, ShellRecord, ShellState, Station
from shopfloor.board.ahead import Ahead, StationLoad, look_ahead
from shopfloor.work_in_process import ShellInWork, shells_at

SHOWN_PER_STATION = 8
SHOWN_OLDEST = 60
IN_PROCESS = [ShellState.PLANNED, ShellState.IN_PRODUCTION, ShellState.ON_HOLD, ShellState.FINISHED]


@dataclass(frozen=True, slots=True)
class StationColumn:
    pk: int
    code: str
    name: str
    ready: int
    in_work: int
    dwelling: int
    on_hold: int
    late: int
    oldest: datetime | None
    shells: tuple[ShellInWork, ...]
    load: StationLoad | None

    @property
    def total(self) -> int:
        return self.ready + self.in_work + self.dwelling + self.on_hold

    @property
    def more(self) -> int:
        return self.total - len(self.shells)


@dataclass(frozen=True, slots=True)
class BoardTotals:
    in_process: int
    kits: int
    on_hold: int
    late: int


def board_version(now: datetime) -> str:
    """Changes when anything was recorded, when another plan is current or the same one was bettered, and every minute for
    the clocks: one read by index."""
    plan = Plan.objects.filter(is_current=True)
    newest = (
        ShellRecord.objects.order_by("-pk")
        .annotate(plan=Subquery(plan.values("pk")[:1]), plan_state=Subquery(plan.values("state")[:1]))
        .values_list("pk", "plan", "plan_state")
        .first()
    )
    record, current, state = newest or (0, None, None)
    return f"{record}-{current or 0}{state or ''}-{int(now.timestamp()) // 60}"


def totals(today: date) -> BoardTotals:
    counted = Shell.objects.filter(state__in=IN_PROCESS).aggregate(
        in_process=Count("pk"),
        kits=Count("order", distinct=True),
        on_hold=Count("pk", filter=Q(state=ShellState.ON_HOLD)),
        late=Count("pk", filter=Q(order__due__lt=today)),
    )
    return BoardTotals(**counted)


def station_columns(now: datetime, today: date, ahead: Ahead | None = None) -> list[StationColumn]:
    """One column for each station in use, in the order of work, with its most urgent shells."""
    most_urgent = (
        Operation.objects.current()
        .annotate(
            rank=Window(
                RowNumber(),
                partition_by=F("station"),
                order_by=[F("shell__order__due").asc(), F("ready_at").asc(), F("pk").asc()],
            )
        )
        .filter(rank__lte=SHOWN_PER_STATION)
    )
    by_station: dict[int | None, list[ShellInWork]] = defaultdict(list)
    for shell in shells_at(most_urgent, now, today):
        by_station[shell.station_id].append(shell)
    columns = station_counts(now, today, ahead or look_ahead(now))
    return [replace(column, shells=tuple(by_station[column.pk])) for column in columns]


def station_counts(now: datetime, today: date, ahead: Ahead) -> list[StationColumn]:
    """The columns without their shells."""
    dwelling = Q(state=OperationState.READY, not_before__gt=now)
    counts: dict[int, Any] = {
        row["station"]: row
        for row in Operation.objects.current()
        .values("station")
        .annotate(
            ready=Count("pk", filter=Q(state=OperationState.READY) & ~dwelling),
            in_work=Count("pk", filter=Q(state=OperationState.IN_WORK)),
            dwelling=Count("pk", filter=dwelling),
            on_hold=Count("pk", filter=Q(state=OperationState.ON_HOLD)),
            late=Count("pk", filter=Q(shell__order__due__lt=today)),
            oldest=Min("ready_at"),
        )
    }
    nothing: dict[str, Any] = dict.fromkeys(("ready", "in_work", "dwelling", "on_hold", "late"), 0) | {"oldest": None}
    loads = ahead.loads or {}
    return [
        StationColumn(
            pk=station.pk,
            code=station.code,
            name=station.name,
            shells=(),
            load=loads.get(station.pk),
            **{key: counts.get(station.pk, nothing)[key] for key in nothing},
        )
        for station in ahead.stations
        if station.is_active or station.pk in counts
    ]


def station_shells(station: Station, now: datetime, today: date) -> list[ShellInWork]:
    """Every shell of one station, for the full list on demand."""
    return shells_at(Operation.objects.current().filter(station=station), now, today)


def oldest_shells(now: datetime, today: date) -> list[ShellInWork]:
    """The shells that have waited longest where they are."""
    stale = Operation.objects.current().order_by("ready_at")[:SHOWN_OLDEST]
    return sorted(shells_at(stale, now, today), key=lambda shell: shell.since or shell.released_at)
