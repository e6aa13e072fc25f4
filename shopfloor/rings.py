"""The ring of a shell: the states of its steps as every screen and paper draws them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

from routing.models import OperationState


class RingStep(Protocol):
    """What the ring needs of a step."""

    @property
    def state(self) -> str: ...
    @property
    def title(self) -> str: ...
    def is_dwelling(self, now: datetime) -> bool: ...


def ring_states(steps: Sequence[RingStep], now: datetime) -> tuple[tuple[str, str], ...]:
    """States of a shell's steps as the ring draws them: the step whose dwell runs is drying, not done."""
    states = [(str(step.state), step.title) for step in steps]
    for place, step in enumerate(steps):
        if place and step.is_dwelling(now) and steps[place - 1].state == OperationState.DONE:
            states[place - 1] = ("drying", steps[place - 1].title)
            states[place] = ("waiting", step.title)
    return tuple(states)
