"""What the board shows: counts and the most urgent shells of each station, kits with what holds them up, and age.

A known number of queries whatever the load: the counts are aggregates, the shells are the first few of each station.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, Min, Q, Window
from django.db.models.functions import RowNumber

from routing.models import KitOrder, Operation, OperationState, OrderState, Shell, ShellRecord, ShellState, Station
from shopfloor.work_in_process import ShellInWork, shells_at, shells_of

SHOWN_PER_STATION = 8
SHOWN_KITS = 40
SHOWN_OLDEST = 60
IN_PROCESS = [ShellState.PLANNED, ShellState.IN_PRODUCTION, ShellState.ON_HOLD, ShellState.FINISHED]


@dataclass(frozen=True, slots=True)
class StationColumn:
    code: str
    name: str
    ready: int
    in_work: int
    dwelling: int
    on_hold: int
    late: int
    oldest: datetime | None
    shells: tuple[ShellInWork, ...]

    @property
    def total(self) -> int:
        return self.ready + self.in_work + self.dwelling + self.on_hold

    @property
    def more(self) -> int:
        return self.total - len(self.shells)


@dataclass(frozen=True, slots=True)
class BoardKit:
    order: str
    customer: str
    due: date
    late: bool
    shells: tuple[ShellInWork, ...]
    done: int
    steps: int
    holding_up: ShellInWork | None  # the shell with the most steps to go

    @property
    def percent(self) -> int:
        return 100 * self.done // self.steps if self.steps else 0


@dataclass(frozen=True, slots=True)
class BoardTotals:
    in_process: int
    kits: int
    on_hold: int
    late: int


def board_version(now: datetime) -> str:
    """Changes when anything was recorded, and every minute for the clocks: one indexed read."""
    newest = ShellRecord.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    return f"{newest}-{int(now.timestamp()) // 60}"


def totals(today: date) -> BoardTotals:
    counted = Shell.objects.filter(state__in=IN_PROCESS).aggregate(
        in_process=Count("pk"),
        kits=Count("order", distinct=True),
        on_hold=Count("pk", filter=Q(state=ShellState.ON_HOLD)),
        late=Count("pk", filter=Q(order__due__lt=today)),
    )
    return BoardTotals(**counted)


def station_columns(now: datetime, today: date) -> list[StationColumn]:
    """One column for each station in use, in the order of work."""
    current = Operation.objects.current()
    dwelling = Q(state=OperationState.READY, not_before__gt=now)
    counts: dict[int, Any] = {
        row["station"]: row
        for row in current.values("station").annotate(
            ready=Count("pk", filter=Q(state=OperationState.READY) & ~dwelling),
            in_work=Count("pk", filter=Q(state=OperationState.IN_WORK)),
            dwelling=Count("pk", filter=dwelling),
            on_hold=Count("pk", filter=Q(state=OperationState.ON_HOLD)),
            late=Count("pk", filter=Q(shell__order__due__lt=today)),
            oldest=Min("ready_at"),
        )
    }
    most_urgent = current.annotate(
        rank=Window(
            RowNumber(),
            partition_by=F("station"),
            order_by=[F("shell__order__due").asc(), F("ready_at").asc(), F("pk").asc()],
        )
    ).filter(rank__lte=SHOWN_PER_STATION)
    by_station: dict[int | None, list[ShellInWork]] = defaultdict(list)
    for shell in shells_at(most_urgent, now, today):
        by_station[shell.station_id].append(shell)
    nothing: dict[str, Any] = dict.fromkeys(("ready", "in_work", "dwelling", "on_hold", "late"), 0) | {"oldest": None}
    columns = []
    for station in Station.objects.order_by("position", "code"):
        row = counts.get(station.pk, nothing)
        if not station.is_active and station.pk not in counts:
            continue
        columns.append(
            StationColumn(
                station.code,
                station.name,
                row["ready"],
                row["in_work"],
                row["dwelling"],
                row["on_hold"],
                row["late"],
                row["oldest"],
                tuple(by_station[station.pk]),
            )
        )
    return columns


def station_shells(station: Station, now: datetime, today: date) -> list[ShellInWork]:
    """Every shell of one station, for the full list on demand."""
    return shells_at(Operation.objects.current().filter(station=station), now, today)


def oldest_shells(now: datetime, today: date) -> list[ShellInWork]:
    """The shells that have waited longest where they are."""
    stale = Operation.objects.current().order_by("ready_at")[:SHOWN_OLDEST]
    return sorted(shells_at(stale, now, today), key=lambda shell: shell.since or shell.released_at)


def kits(now: datetime, today: date) -> list[BoardKit]:
    """The kits in process, most urgent first."""
    in_process = [OrderState.RELEASED, OrderState.IN_PRODUCTION, OrderState.COMPLETE]
    orders = list(KitOrder.objects.filter(state__in=in_process).order_by("due", "number")[:SHOWN_KITS])
    shells = shells_of(orders, now, today)
    return [_kit(order, shells[order.pk], today) for order in orders]


def _kit(order: KitOrder, shells: list[ShellInWork], today: date) -> BoardKit:
    steps = sum(len(shell.operations) for shell in shells)
    left = sum(shell.steps_left for shell in shells)
    slowest = max(shells, key=lambda shell: shell.steps_left, default=None)
    return BoardKit(
        order.number,
        order.customer,
        order.due,
        order.due < today and left > 0,
        tuple(shells),
        steps - left,
        steps,
        slowest if slowest is not None and slowest.steps_left > 0 else None,
    )
