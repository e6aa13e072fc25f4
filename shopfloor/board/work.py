"""What the board shows: counts and the most urgent shells of each station, kits with what holds them up, and age.

A known number of queries whatever the load: the counts are aggregates, the shells are the first few of each station.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, F, Min, Q, Window
from django.db.models.functions import RowNumber

from quality.models import Problem, ProblemState
from routing.models import (
    KitOrder,
    Operation,
    OperationState,
    OrderState,
    Shell,
    ShellRecord,
    ShellState,
    Station,
)
from shopfloor.rings import ring_states

SHOWN_PER_STATION = 8
SHOWN_KITS = 40
SHOWN_OLDEST = 60
IN_PROCESS = [ShellState.PLANNED, ShellState.IN_PRODUCTION, ShellState.ON_HOLD, ShellState.FINISHED]


@dataclass(frozen=True, slots=True)
class BoardShell:
    serial: str
    drum: str
    finish: str
    diameter_in: float
    order: str
    customer: str
    due: date
    late: bool
    station: str
    step: str
    state: str  # ready, in_work, drying, on_hold
    state_word: str
    until: datetime | None  # end of a dwell
    who: str
    why: str  # the problem of a held shell
    since: datetime | None
    released_at: datetime
    operations: tuple[tuple[str, str], ...]  # (state, title) in route order, for the ring


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
    shells: tuple[BoardShell, ...]

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
    shells: tuple[BoardShell, ...]
    done: int
    steps: int
    holding_up: BoardShell | None  # the shell with the most steps to go

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
    is_current = Q(operations__state__in=[OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD])
    dwelling = Q(operations__state=OperationState.READY, operations__not_before__gt=now)
    stations = (
        Station.objects.filter(Q(is_active=True) | is_current)
        .annotate(
            current=Count("operations", filter=is_current),
            ready=Count("operations", filter=Q(operations__state=OperationState.READY) & ~dwelling),
            in_work=Count("operations", filter=Q(operations__state=OperationState.IN_WORK)),
            dwelling=Count("operations", filter=dwelling),
            on_hold=Count("operations", filter=Q(operations__state=OperationState.ON_HOLD)),
            late=Count("operations", filter=is_current & Q(operations__shell__order__due__lt=today)),
            oldest=Min("operations__ready_at", filter=is_current),
        )
        .order_by("position", "code")
    )
    top = (
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
    by_station: dict[int, list[BoardShell]] = defaultdict(list)
    shown = _board_shells(top, now, today)
    for station_id, shell in shown:
        by_station[station_id].append(shell)
    return [
        StationColumn(
            station.code,
            station.name,
            station.ready,
            station.in_work,
            station.dwelling,
            station.on_hold,
            station.late,
            station.oldest,
            tuple(by_station[station.pk]),
        )
        for station in stations
    ]


def station_shells(station: Station, now: datetime, today: date) -> list[BoardShell]:
    """Every shell of one station, for the full list on demand."""
    return [shell for _, shell in _board_shells(Operation.objects.current().filter(station=station), now, today)]


def oldest_shells(now: datetime, today: date) -> list[BoardShell]:
    """The shells that have waited longest where they are."""
    stale = Operation.objects.current().order_by("ready_at")[:SHOWN_OLDEST]
    shells = [shell for _, shell in _board_shells(Operation.objects.filter(pk__in=[o.pk for o in stale]), now, today)]
    return sorted(shells, key=lambda shell: shell.since or shell.released_at)


def kits(now: datetime, today: date) -> list[BoardKit]:
    """The kits in process, most urgent first."""
    orders = list(
        KitOrder.objects.filter(
            state__in=[OrderState.RELEASED, OrderState.IN_PRODUCTION, OrderState.COMPLETE]
        ).order_by("due", "number")[:SHOWN_KITS]
    )
    shells = list(
        Shell.objects.filter(order__in=orders)
        .exclude(state__in=[ShellState.SCRAPPED, ShellState.REMADE])
        .select_related("model__line", "finish", "order")
        .order_by("pk")
    )
    operations = _operations_of(shell.pk for shell in shells)
    reasons = _reasons(shell.pk for shell in shells if shell.state == ShellState.ON_HOLD)
    by_order: dict[int, list[tuple[BoardShell, int]]] = defaultdict(list)
    for shell in shells:
        steps = operations[shell.pk]
        current = next((step for step in steps if step.state in _CURRENT), None)
        left = sum(step.state not in _BEHIND for step in steps)
        by_order[shell.order_id].append((_board_shell(shell, current, steps, reasons, now, today), left))
    return [_kit(order, by_order[order.pk], today) for order in orders]


_CURRENT = {OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD}
_BEHIND = {OperationState.DONE, OperationState.SKIPPED}


def _kit(order: KitOrder, shells: list[tuple[BoardShell, int]], today: date) -> BoardKit:
    steps = sum(len(shell.operations) for shell, _ in shells)
    left = sum(rest for _, rest in shells)
    slowest = max(shells, key=lambda pair: pair[1], default=None)
    return BoardKit(
        order.number,
        order.customer,
        order.due,
        order.due < today and left > 0,
        tuple(shell for shell, _ in shells),
        steps - left,
        steps,
        slowest[0] if slowest is not None and slowest[1] > 0 else None,
    )


def _board_shells(operations: Iterable[Operation], now: datetime, today: date) -> list[tuple[int, BoardShell]]:
    current = list(operations)
    by_shell = {operation.shell_id: operation for operation in current}
    shells = Shell.objects.filter(pk__in=by_shell).select_related("model__line", "finish", "order").in_bulk()
    steps = _operations_of(by_shell)
    reasons = _reasons(operation.shell_id for operation in current if operation.state == OperationState.ON_HOLD)
    stations = {step.pk: step for rows in steps.values() for step in rows}
    found = [
        (
            operation.station_id,
            _board_shell(
                shells[operation.shell_id], stations[operation.pk], steps[operation.shell_id], reasons, now, today
            ),
        )
        for operation in current
    ]
    return sorted(found, key=lambda pair: (pair[1].due, pair[1].since or pair[1].released_at, pair[1].serial))


def _operations_of(shell_ids: Iterable[int]) -> dict[int, list[Operation]]:
    steps: dict[int, list[Operation]] = defaultdict(list)
    for step in (
        Operation.objects.filter(shell__in=list(shell_ids)).select_related("station").order_by("shell_id", "position")
    ):
        steps[step.shell_id].append(step)
    return steps


def _reasons(shell_ids: Iterable[int]) -> dict[int, str]:
    return dict(
        Problem.objects.filter(shell__in=list(shell_ids), state=ProblemState.OPEN).values_list("shell_id", "text")
    )


def _board_shell(
    shell: Shell, current: Operation | None, steps: list[Operation], reasons: dict[int, str], now: datetime, today: date
) -> BoardShell:
    drying = current is not None and current.is_dwelling(now)
    before = next((step for step in reversed(steps) if step.state == OperationState.DONE), None)
    if current is None:
        state, word = "done", shell.get_state_display()
    elif drying:
        state, word = "drying", before.get_dwell_kind_display() if before else "resting"
    else:
        state, word = current.state, current.get_state_display()
    return BoardShell(
        serial=shell.serial,
        drum=f"{shell.model.size} {shell.model.get_role_display()}",
        finish=shell.finish.name,
        diameter_in=shell.model.nominal_diameter_in,
        order=shell.order.number,
        customer=shell.order.customer,
        due=shell.order.due,
        late=shell.order.due < today and current is not None,
        station=current.station.name if current else "",
        step=current.title if current else "",
        state=state,
        state_word=word,
        until=current.not_before if drying and current else None,
        who=current.started_by_name if current and current.state == OperationState.IN_WORK else "",
        why=reasons.get(shell.pk, ""),
        since=current.ready_at if current else None,
        released_at=shell.released_at,
        operations=ring_states(steps, now),
    )
