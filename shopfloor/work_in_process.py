"""A shell where it stands now, as board and tablet show it: what it is, how far it is, what it waits for and why.

A fixed number of queries for any number of shells.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NamedTuple

from django.utils.translation import gettext as _

from quality.models import Problem, ProblemState
from routing.kits import in_kit_order, size_and_role
from routing.models import DwellKind, KitOrder, Operation, OperationState, Shell, ShellState
from shopfloor.rings import ring_states

_CURRENT = {OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD}
_BEHIND = {OperationState.DONE, OperationState.SKIPPED}


class _Step(NamedTuple):
    """What is shown of a step. A kit has some seventy: a whole row for each would be most of the time that a screen takes."""

    shell_id: int
    position: int
    state: str
    title: str
    station_id: int
    station__name: str
    dwell_kind: str
    not_before: datetime | None
    ready_at: datetime | None
    started_by_name: str
    paused_at: datetime | None

    def is_dwelling(self, now: datetime) -> bool:
        return Operation.is_dwelling(self, now)  # type: ignore[arg-type] # the one rule, for a part of the row

    @property
    def dwell_word(self) -> str:
        return DwellKind(self.dwell_kind or DwellKind.CURE).label


@dataclass(frozen=True, slots=True)
class ShellInWork:
    serial: str
    drum: str
    finish: str
    diameter_in: float
    order: str
    customer: str
    due: date
    late: bool
    station: str
    station_id: int | None
    position: int | None  # of its current step
    step: str
    state: str  # ready, in_work, drying, on_hold, done
    state_word: str
    until: datetime | None  # end of a dwell
    who: str  # works on it now
    why: str  # the problem of a held shell
    since: datetime | None  # when it came to this step
    released_at: datetime
    steps_left: int
    operations: tuple[tuple[str, str], ...]  # (state, title) in route order, for the ring
    held_since: datetime | None = None
    replaces: str = ""  # the serial of the scrapped shell in whose place it stands; for kits only


# Of a shell and what it belongs to: what is said of it here, and no more; recipes are wide.
_NEEDED = (
    *("serial", "state", "released_at"),
    *("model__nominal_diameter_in", "model__nominal_depth_in", "model__role", "finish__name"),
    *("order__number", "order__customer", "order__due"),
)


def shells_at(operations: Iterable[Operation], now: datetime, today: date) -> list[ShellInWork]:
    """The shells whose current steps are given, in the order they should be worked: due first, then oldest."""
    current = {operation.shell_id: operation for operation in operations}
    shells = Shell.objects.filter(pk__in=current).select_related("model", "finish", "order").only(*_NEEDED)
    return _in_order(_describe(list(shells), now, today))


def shells_of(orders: Iterable[KitOrder], now: datetime, today: date) -> dict[int, list[ShellInWork]]:
    """For each order, by its id, the shells its kit is made of; a replacement stands where the scrapped one stood."""
    every = Shell.objects.filter(order__in=list(orders)).select_related("model", "finish", "order", "replaces")
    shells = in_kit_order(every.only(*_NEEDED, "replaces__serial"))
    by_order: dict[int, list[ShellInWork]] = defaultdict(list)
    for shell, described in zip(shells, _describe(shells, now, today), strict=True):
        earlier = shell.replaces.serial if shell.replaces else ""
        by_order[shell.order_id].append(replace(described, replaces=earlier))
    return by_order


def _in_order(shells: list[ShellInWork]) -> list[ShellInWork]:
    return sorted(shells, key=lambda shell: (shell.due, shell.since or shell.released_at, shell.serial))


def _describe(shells: list[Shell], now: datetime, today: date) -> list[ShellInWork]:
    steps: dict[int, list[_Step]] = defaultdict(list)
    for row in (
        Operation.objects.filter(shell__in=[shell.pk for shell in shells])
        .order_by("shell_id", "position")
        .values_list(*_Step._fields)
    ):
        step = _Step(*row)
        steps[step.shell_id].append(step)
    held = [shell.pk for shell in shells if shell.state == ShellState.ON_HOLD]
    problems = {
        problem.shell_id: problem
        for problem in Problem.objects.filter(shell__in=held, state=ProblemState.OPEN).select_related("defect")
    }
    return [_shell_in_work(shell, steps[shell.pk], problems.get(shell.pk), now, today) for shell in shells]


def why_held(text: str, defect: str) -> str:
    """The defect by its name, unless the words say it already; a bad lot is named in the words."""
    return text if text.startswith(defect) else f"{defect}: {text}"


def _who(current: _Step | None) -> str:
    if current is None or current.state != OperationState.IN_WORK:
        return ""
    return f"{current.started_by_name}, " + _("paused") if current.paused_at else current.started_by_name


def _shell_in_work(
    shell: Shell, steps: list[_Step], problem: Problem | None, now: datetime, today: date
) -> ShellInWork:
    current = next((step for step in steps if step.state in _CURRENT), None)
    drying = current is not None and current.is_dwelling(now)
    before = next((step for step in reversed(steps) if step.state == OperationState.DONE), None)
    if current is None:
        state, word = "done", _(shell.get_state_display())
    elif drying:
        state, word = "drying", _(before.dwell_word if before else "resting")
    else:
        state, word = current.state, _(OperationState(current.state).label)
    return ShellInWork(
        serial=shell.serial,
        drum=size_and_role(shell.model),
        finish=shell.finish.name,
        diameter_in=shell.model.nominal_diameter_in,
        order=shell.order.number,
        customer=shell.order.customer,
        due=shell.order.due,
        late=shell.order.due < today and current is not None,
        station=current.station__name if current else "",
        station_id=current.station_id if current else None,
        position=current.position if current else None,
        step=current.title if current else "",
        state=state,
        state_word=word,
        until=current.not_before if drying and current else None,
        who=_who(current),
        why=why_held(problem.text, problem.defect.name if problem.defect else "") if problem else "",
        since=current.ready_at if current else None,
        released_at=shell.released_at,
        steps_left=sum(step.state not in _BEHIND for step in steps),
        operations=ring_states(steps, now),
        held_since=problem.found_at if problem else None,
    )
