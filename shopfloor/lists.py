"""Orders, shells and signatures as they leave the shop: for files and for the shop's own scripts.

Long lists are read in parts, each a fixed number of queries, so that a hundred thousand rows take no more memory than
one part. Rows stand in an order that does not change while somebody reads on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Model, Q, QuerySet

from quality.models import Problem, ProblemState, SignOff
from routing.models import KitOrder, Operation, OperationState, RecordKind, Shell, ShellState

PART = 1000
Row = TypeVar("Row", bound=Model)
# Where the next part goes on: the last row's time where rows stand by time, and its id.
Place = tuple[datetime | None, int]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a shell stands: the step it is at, or none when all are behind it."""

    station: str
    station_code: str
    position: int | None
    step: str
    state: str  # ready, in_work, on_hold, resting; done
    word: str  # as the board says it: “curing”, “in work”
    since: datetime | None
    until: datetime | None  # end of a dwell
    who: str  # works on it now
    why: str  # the problem of a held shell


def orders() -> QuerySet[KitOrder]:
    return KitOrder.objects.order_by("pk").prefetch_related("lines__model__line", "lines__finish")


def shells() -> QuerySet[Shell]:
    return Shell.objects.order_by("pk").select_related("order", "model__line", "finish", "replaces")


def signatures(begins: datetime, ends: datetime) -> QuerySet[SignOff]:
    """Every signature of some days by the time of the work, also those that no longer stand."""
    return (
        SignOff.objects.filter(record__kind=RecordKind.SIGNED, record__at__gte=begins, record__at__lt=ends)
        .order_by("record__at", "record_id")
        .select_related("record", "operation__station", "operation__shell__order", "withdrawal", "voiding")
    )


def from_place(rows: QuerySet[Row], place: Place | None, size: int) -> list[Row]:
    """The next ``size`` rows of a list after ``place``; for signatures by their time, for others by their id."""
    if place is not None:
        at, last = place
        if at is None:
            rows = rows.filter(pk__gt=last)
        else:
            later = Q(record__at__gt=at) | Q(record__at=at, record_id__gt=last)
            rows = rows.filter(later, record__at__gte=at)  # the second says the same to the index
    return list(rows[:size])


def place_of(row: Model) -> Place:
    """The place after ``row``."""
    if isinstance(row, SignOff):
        return row.record.at, row.record_id
    return None, int(row.pk)


def in_parts(rows: QuerySet[Row], size: int = PART) -> Iterator[list[Row]]:
    place: Place | None = None
    while part := from_place(rows, place, size):
        yield part
        if len(part) < size:
            return
        place = place_of(part[-1])


def each_row(rows: QuerySet[Row], write: Callable[[list[Row]], Iterator[Sequence[Any]]]) -> Iterator[Sequence[Any]]:
    """The lines of a file, part by part."""
    for part in in_parts(rows):
        yield from write(part)


def standings(part: Sequence[Shell], now: datetime) -> dict[int, Standing]:
    """Where each of these shells stands, by its id."""
    steps = {
        step.shell_id: step for step in Operation.objects.current().filter(shell__in=part).select_related("station")
    }
    resting = [pk for pk, step in steps.items() if step.is_dwelling(now)]
    before: dict[int, Operation] = {}
    if resting:
        for step in Operation.objects.filter(shell__in=resting, state=OperationState.DONE).order_by("position"):
            before[step.shell_id] = step
    held = [shell.pk for shell in part if shell.state == ShellState.ON_HOLD]
    why = (
        dict(Problem.objects.filter(shell__in=held, state=ProblemState.OPEN).values_list("shell_id", "text"))
        if held
        else {}
    )
    return {
        shell.pk: _standing(shell, steps.get(shell.pk), before.get(shell.pk), why.get(shell.pk, ""), now)
        for shell in part
    }


def _standing(shell: Shell, step: Operation | None, before: Operation | None, why: str, now: datetime) -> Standing:
    if step is None:
        return Standing("", "", None, "", "done", shell.get_state_display(), None, None, "", why)
    resting = step.is_dwelling(now)
    return Standing(
        station=step.station.name,
        station_code=step.station.code,
        position=step.position,
        step=step.title,
        state="resting" if resting else step.state,
        word=(before.dwell_word if before else "resting") if resting else step.get_state_display(),
        since=step.ready_at,
        until=step.not_before if resting else None,
        who=step.started_by_name if step.state == OperationState.IN_WORK else "",
        why=why,
    )


def no_longer_stands(signed: SignOff) -> str:
    """Why a signature does not stand; empty while it does."""
    if hasattr(signed, "withdrawal"):
        return "withdrawn"
    return "sent back for rework" if hasattr(signed, "voiding") else ""
