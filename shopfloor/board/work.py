"""What the board shows: counts and the most urgent shells of each station, and age.

A known number of queries whatever the load, and little work for each shell that is open: counts and order come from one
index, and only the shells that are shown are read.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from django.db import connection
from django.utils.safestring import SafeString

from routing.models import Operation, OperationState, Station
from routing.prepared import answer
from shopfloor.work_in_process import ShellInWork, shells_at

SHOWN_OLDEST = 60


@dataclass(frozen=True, slots=True)
class StationColumn:
    pk: int
    code: str
    name: str
    ready: int = 0
    in_work: int = 0
    dwelling: int = 0
    on_hold: int = 0
    late: int = 0
    lines: tuple[SafeString, ...] = ()  # its most urgent shells

    @property
    def total(self) -> int:
        return self.ready + self.in_work + self.dwelling + self.on_hold

    @property
    def more(self) -> int:
        return self.total - len(self.lines)


@dataclass(frozen=True, slots=True)
class BoardTotals:
    in_process: int
    kits: int
    on_hold: int
    late: int


@dataclass(frozen=True, slots=True)
class Counts:
    """Of the steps that are to be done next, by station; every station in use has a column."""

    columns: tuple[StationColumn, ...]
    totals: BoardTotals


def board_version(now: datetime) -> str:
    """Changes when anything was recorded, when another plan is current or the same one was bettered, and every minute for
    the clocks: one read by index."""
    ((record, current, state),) = answer(_NEWEST) or [(0, None, None)]
    return f"{record}-{current or 0}{state or ''}-{int(now.timestamp()) // 60}"


def counts(now: datetime, today: date) -> Counts:
    """How much stands where. Two queries; of shells and steps they read an index and no row."""
    found: dict[int, dict[str, int]] = defaultdict(lambda: dict.fromkeys(_COUNTED, 0))
    moment = connection.ops.adapt_datetimefield_value(now)
    with connection.cursor() as cursor:
        cursor.execute(_STEPS, [moment, connection.ops.adapt_datefield_value(today)])
        for station, state, count, dwelling, late in cursor.fetchall():
            here = found[station]
            if state == OperationState.READY:
                here["ready"] += count - dwelling
                here["dwelling"] += dwelling
            else:
                here[state] += count
            here["late"] += late
        cursor.execute(_STATIONS)
        rows = cursor.fetchall()
    columns = tuple(_column(pk, code, name, found[pk]) for pk, code, name, used, *_ in rows if used or pk in found)
    totals = BoardTotals(
        in_process=rows[0][4] if rows else 0,
        kits=rows[0][5] if rows else 0,
        on_hold=sum(column.on_hold for column in columns),
        late=sum(column.late for column in columns),
    )
    return Counts(columns, totals)


def _column(pk: int, code: str, name: str, here: dict[str, int]) -> StationColumn:
    return StationColumn(
        pk, code, name, here["ready"], here["in_work"], here["dwelling"], here["on_hold"], here["late"]
    )


_COUNTED = ("ready", "in_work", "dwelling", "on_hold", "late")
_NEWEST = """
    SELECT record.id, (SELECT id FROM routing_plan WHERE is_current LIMIT 1),
        (SELECT state FROM routing_plan WHERE is_current LIMIT 1)
    FROM routing_shellrecord record ORDER BY record.id DESC LIMIT 1
"""
# The states stand in the text, so that both databases see that the index of queues, and that of what is in process, has
# every row that is asked for.
_STEPS = """
    SELECT station_id, state, COUNT(*), SUM(CASE WHEN not_before > %s THEN 1 ELSE 0 END),
        SUM(CASE WHEN due < %s THEN 1 ELSE 0 END)
    FROM routing_operation WHERE state IN ('ready', 'in_work', 'on_hold') GROUP BY station_id, state
"""
_STATIONS = """
    SELECT id, code, name, is_active,
        (SELECT COUNT(*) FROM routing_shell WHERE state IN ('planned', 'in_production', 'on_hold', 'finished')),
        (SELECT COUNT(*) FROM routing_kitorder WHERE state IN ('released', 'in_production'))
    FROM routing_station ORDER BY position, code
"""


def station_shells(station: Station, now: datetime, today: date, first: int, last: int) -> list[ShellInWork]:
    """The shells of one station from one place of its queue to another, for the full list on demand."""
    queue = Operation.objects.current().filter(station=station).order_by("due", "ready_at", "pk")
    return shells_at(queue[first:last], now, today)


def oldest_shells(now: datetime, today: date) -> list[ShellInWork]:
    """The shells that have waited longest where they are."""
    stale = Operation.objects.current().order_by("ready_at")[:SHOWN_OLDEST]
    return sorted(shells_at(stale, now, today), key=lambda shell: shell.since or shell.released_at)
