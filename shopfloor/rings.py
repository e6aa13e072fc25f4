"""The ring of a shell: the states of its steps as every screen and paper draws them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
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
    shells = list(shells)
    steps: dict[int, list[Operation]] = defaultdict(list)
    for step in Operation.objects.filter(shell__in=shells).order_by("shell_id", "position"):
        steps[step.shell_id].append(step)
    return {shell.pk: ring_states(steps[shell.pk], now) for shell in shells}


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
