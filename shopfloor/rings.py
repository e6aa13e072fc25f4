"""The ring of a shell: the states of its steps as every screen and paper draws them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Protocol

from routing.drawings.ring import RingSegment, ring_svg
from routing.models import Operation, OperationState, Shell
from shopfloor.paper import picture

States = tuple[tuple[str, str], ...]  # (state, title) in route order


class RingStep(Protocol):
    """What the ring needs of a step."""

    @property
    def state(self) -> str: ...
    @property
    def title(self) -> str: ...
    def is_dwelling(self, now: datetime) -> bool: ...


def rings_of(shells: Iterable[Shell], now: datetime) -> dict[int, States]:
    """The rings of shells, by their ids; one query for any number of them."""
    return rings_by_id([shell.pk for shell in shells], now)


def rings_by_id(shell_ids: Collection[int], now: datetime) -> dict[int, States]:
    """The same for whoever has the ids alone."""
    steps: dict[int, list[Operation]] = defaultdict(list)
    rows = Operation.objects.filter(shell__in=shell_ids).only("shell_id", "state", "title", "not_before")
    for step in rows.order_by("shell_id", "position"):
        steps[step.shell_id].append(step)
    return {shell_id: ring_states(steps[shell_id], now) for shell_id in shell_ids}


def ring_of(shell: Shell, now: datetime) -> States:
    return rings_of([shell], now)[shell.pk]


def ring_picture(states: Iterable[tuple[str, str]]) -> str:
    """A ring for paper, as the address of an ``<img>``."""
    return picture(ring_svg([RingSegment(state, title) for state, title in states]))


def ring_states(steps: Sequence[RingStep], now: datetime) -> States:
    """States of a shell's steps as the ring draws them: the step whose dwell runs is drying, not done."""
    states = [(str(step.state), step.title) for step in steps]
    for place, step in enumerate(steps):
        if place and step.is_dwelling(now) and steps[place - 1].state == OperationState.DONE:
            states[place - 1] = ("drying", steps[place - 1].title)
            states[place] = ("waiting", step.title)
    return tuple(states)
