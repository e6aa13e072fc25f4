"""A shell put on hold where it is, and let go on from there."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from routing.actions import GONE_STATES, OPEN_STATES, move, set_shell_state
from routing.errors import LostRace, NotAllowedNow
from routing.history import Stamp, add_record
from routing.models import OperationState, RecordKind, Shell, ShellRecord, ShellState


def hold_shell(shell: Shell, stamp: Stamp, body: dict[str, Any]) -> ShellRecord:
    """Put a locked shell on hold where it is, inside the transaction of what was found."""
    if shell.state == ShellState.ON_HOLD:
        raise LostRace("already_on_hold", _("{serial} is on hold already.").format(serial=shell.serial))
    if shell.state in GONE_STATES:
        raise NotAllowedNow(
            "shell_gone",
            _("{serial} is {state}; withdraw its last signature first, then report the problem.").format(
                serial=shell.serial, state=_(shell.get_state_display())
            ),
        )
    operation = shell.operations.filter(state__in=OPEN_STATES).select_related("station").first()
    if operation is None:
        raise NotAllowedNow("nothing_open", _("{serial} has no open step to hold.").format(serial=shell.serial))
    move(operation, OPEN_STATES, OperationState.ON_HOLD)
    body = {**body, "shell_state_before": shell.state}
    set_shell_state(shell, ShellState.ON_HOLD)
    return add_record(shell, RecordKind.HELD, stamp, operation=operation, body=body)


def resume_shell(shell: Shell, stamp: Stamp, body: dict[str, Any]) -> ShellRecord:
    """Let a locked shell go on from where it was held. Its dwell clock has gone on meanwhile."""
    if shell.state != ShellState.ON_HOLD:
        raise LostRace("not_on_hold", _("{serial} is not on hold.").format(serial=shell.serial))
    operation = shell.operations.filter(state=OperationState.ON_HOLD).select_related("station").get()
    move(
        operation,
        [OperationState.ON_HOLD],
        OperationState.READY,
        ready_at=stamp.received_at,
        started_at=None,
        started_by_name="",
    )
    set_shell_state(shell, state_before_hold(shell))
    return add_record(shell, RecordKind.RESUMED, stamp, operation=operation, body=body)


def state_before_hold(shell: Shell) -> ShellState:
    """What a shell on hold was before it was held."""
    held = ShellRecord.objects.filter(shell=shell, kind=RecordKind.HELD).order_by("-sequence").first()
    before = held.body.get("shell_state_before") if held else None
    return ShellState(before) if before else ShellState.IN_PRODUCTION
