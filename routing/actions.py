"""The writers of the state of orders, shells and operations, with release, holds, reissue and rework beside them.

Each function opens a transaction, reads again under a lock, checks the rules, writes, and adds to the shell's history.
Time, person and device come in as a ``Stamp``.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Subquery
from django.utils.translation import gettext as _

from routing.curing import cured_to_pack
from routing.errors import LostRace, NotAllowedNow
from routing.history import Stamp, add_record, lock_shell, recorded_tap
from routing.languages import moment
from routing.models import (
    KitOrder,
    Operation,
    OperationState,
    OrderState,
    RecordKind,
    Shell,
    ShellRecord,
    ShellState,
    StationKind,
)
from routing.prepared import Prepared, update
from routing.turnstile import writing

OPEN_STATES = [OperationState.READY, OperationState.IN_WORK]
GONE_STATES = [ShellState.PACKED, ShellState.SCRAPPED, ShellState.REMADE]


_STEP = Prepared(
    lambda shell, position: (
        Operation.objects.select_related("station").filter(shell=shell, position=position).order_by()
    )
)
_STEP_OF_TAP = Prepared(
    lambda shell, position, tap_key: (
        Operation.objects.select_related("station")
        .filter(shell=shell, position=position)
        .annotate(record_of_tap=Subquery(ShellRecord.objects.filter(tap_key=tap_key).order_by().values("pk")[:1]))
        .order_by()
    )
)
_FOLLOWING = Prepared(
    lambda shell, position: (
        Operation.objects.select_related("station")
        .filter(shell=shell, position__gt=position, state=OperationState.WAITING)
        .order_by("position")[:1]
    )
)


def locked_operation(shell: Shell, position: int) -> Operation:
    return _step_of(shell, position, _STEP.first(shell=shell.pk, position=position))


def operation_or_earlier(shell: Shell, position: int, tap_key: str | None, kind: RecordKind) -> Operation | ShellRecord:
    """The step that a tap is for, or what an earlier arrival of the same tap wrote: one question, since every signature asks it.

    Ask under the shell's lock. Raises what ``recorded_tap`` and ``locked_operation`` raise.
    """
    found: Any = _STEP_OF_TAP.first(shell=shell.pk, position=position, tap_key=tap_key or "")
    if found is None or found.record_of_tap is not None:
        earlier = recorded_tap(tap_key, shell, kind)
        if earlier is not None:
            return earlier
    return _step_of(shell, position, found)


def _step_of(shell: Shell, position: int, operation: Operation | None) -> Operation:
    if operation is None:
        raise NotAllowedNow(
            "no_such_step", _("{serial} has no step {position}.").format(serial=shell.serial, position=position)
        )
    operation.shell = shell
    return operation


def require_workable(shell: Shell, operation: Operation, now: datetime) -> None:
    """Refuse, with the reason, unless ``operation`` is the step to be worked now."""
    if shell.state == ShellState.ON_HOLD:
        raise NotAllowedNow(
            "on_hold", _("{serial} is on hold; a supervisor has to release it first.").format(serial=shell.serial)
        )
    if shell.state in GONE_STATES:
        raise NotAllowedNow(
            "shell_gone", _("{serial} is {state}.").format(serial=shell.serial, state=_(shell.get_state_display()))
        )
    if operation.state == OperationState.DONE:
        raise LostRace(
            "already_done",
            _("{title} of {serial} is signed off already.").format(title=operation.title, serial=shell.serial),
        )
    if operation.state == OperationState.WAITING:
        current = shell.operations.current().select_related("station").first()
        said = _("{title} of {serial} is not the next step.").format(title=operation.title, serial=shell.serial)
        if current:
            first = _("{title} at {station} comes first.")
            said += " " + first.format(title=current.title, station=current.station.name)
        raise NotAllowedNow("not_its_turn", said)
    if operation.state not in OPEN_STATES:
        raise NotAllowedNow(
            "not_workable",
            _("{title} of {serial} is {state}.").format(
                title=operation.title, serial=shell.serial, state=_(operation.get_state_display())
            ),
        )
    if operation.attempt > 1 and operation.ready_at is not None and operation.ready_at > now:
        given_back = moment(operation.ready_at)
        raise NotAllowedNow(
            "older_tap",
            _(
                "{title} of {serial} was opened again at {given_back}, after this tap was made; look at the shell, then tap again."
            ).format(title=operation.title, serial=shell.serial, given_back=given_back),
        )
    if operation.not_before is not None and operation.not_before > now:
        before = shell.operations.filter(position__lt=operation.position, state=OperationState.DONE).last()
        doing = _(before.dwell_word) if before else _("waiting")
        until = moment(operation.not_before)
        raise NotAllowedNow(
            "dwell",
            _("{serial} is still {doing} until {until}; {title} can't begin before.").format(
                serial=shell.serial, doing=doing, until=until, title=operation.title
            ),
        )


def start_operation(*, serial: str, position: int, stamp: Stamp) -> Operation:
    """Note that somebody works on a step, or works on it again after a pause. Signing without starting is allowed."""
    with writing():
        shell = lock_shell(serial)
        if recorded_tap(stamp.tap_key, shell, RecordKind.STARTED):
            return locked_operation(shell, position)
        operation = locked_operation(shell, position)
        require_workable(shell, operation, stamp.worked_at)
        if operation.state == OperationState.IN_WORK and operation.paused_at is None:
            raise LostRace(
                "already_started",
                _("{name} works on {title} of {serial}.").format(
                    name=operation.started_by_name, title=operation.title, serial=serial
                ),
            )
        move(
            operation,
            OPEN_STATES,
            OperationState.IN_WORK,
            started_at=stamp.at,
            started_by_name=stamp.person_name,
            paused_at=None,
        )
        _begin_production(shell)
        add_record(shell, RecordKind.STARTED, stamp, operation=operation, body={"attempt": operation.attempt})
    return operation


def pause_operation(*, serial: str, position: int, stamp: Stamp) -> Operation:
    """Note that the work on a step stops for a while. Whoever goes on starts it again."""
    with writing():
        shell = lock_shell(serial)
        if recorded_tap(stamp.tap_key, shell, RecordKind.PAUSED):
            return locked_operation(shell, position)
        operation = locked_operation(shell, position)
        require_workable(shell, operation, stamp.worked_at)
        if operation.state != OperationState.IN_WORK or operation.paused_at is not None:
            raise LostRace(
                "not_in_work",
                _("Nobody works on {title} of {serial} now.").format(title=operation.title, serial=serial),
            )
        worked = touch_seconds(operation, stamp.at)
        move(operation, [OperationState.IN_WORK], OperationState.IN_WORK, paused_at=stamp.at, touch_seconds=worked)
        add_record(
            shell,
            RecordKind.PAUSED,
            stamp,
            operation=operation,
            body={"attempt": operation.attempt, "touch_seconds": worked},
        )
    return operation


def touch_seconds(operation: Operation, at: datetime) -> int:
    """How long a step was worked on until ``at``, its pauses left out; 0 when nobody said that they began."""
    if operation.started_at is None or operation.paused_at is not None:
        return operation.touch_seconds
    return operation.touch_seconds + max(0, round((at - operation.started_at).total_seconds()))


def complete_operation(shell: Shell, operation: Operation, stamp: Stamp, *, dwell_minutes: int | None = None) -> None:
    """Finish a step of a locked shell inside the transaction of its sign-off, and open the next step.

    ``dwell_minutes`` is how long the shell waits then, where the air decides it; else what was planned.
    """
    require_workable(shell, operation, stamp.worked_at)
    if operation.station.kind == StationKind.PACK:
        _require_packable(shell, operation)
    done_at = _done_at(operation, stamp)
    worked = touch_seconds(operation, stamp.at)
    move(operation, OPEN_STATES, OperationState.DONE, done_at=done_at, touch_seconds=worked, paused_at=None)
    following = _FOLLOWING.first(shell=shell.pk, position=operation.position)
    if following is not None:
        dwell = timedelta(minutes=operation.dwell_minutes if dwell_minutes is None else dwell_minutes)
        not_before = done_at + dwell if dwell else None
        if following.station.kind == StationKind.PACK:
            not_before = max(filter(None, (not_before, cured_to_pack([shell.pk]).get(shell.pk))), default=None)
        move(following, [OperationState.WAITING], OperationState.READY, ready_at=done_at, not_before=not_before)
    _begin_production(shell)
    if operation.station.kind == StationKind.PACK:
        set_shell_state(shell, ShellState.PACKED)
    elif operation.station.kind == StationKind.FINAL_CHECK or following is None:
        set_shell_state(shell, ShellState.FINISHED)
    if shell.state in GONE_STATES:
        _complete_order_if_all_gone(shell.order_id)


def open_since(operation: Operation, at: datetime) -> None:
    """Paper shows that a step of a locked shell was done at ``at``: it counts as open since then, not since it was
    opened again after a withdrawal or a hold, so that it can be signed for that moment and the dwell counts from it.
    """
    if operation.ready_at is not None and operation.ready_at > at:
        move(operation, OPEN_STATES, OperationState(operation.state), ready_at=at)


def _done_at(operation: Operation, stamp: Stamp) -> datetime:
    """From when a dwell counts: the tap, but never before the step was released, begun or paused last.

    A tap that was kept on a tablet may be older than what was recorded meanwhile; the longer wait is the safe one.
    """
    known = (operation.ready_at, operation.started_at, operation.paused_at)
    return max([stamp.worked_at, *filter(None, known)])


def _require_packable(shell: Shell, packing: Operation) -> None:
    """Whatever the route says: nothing is packed before its final check, nor with a step left open."""
    others = shell.operations.exclude(pk=packing.pk)
    if not others.filter(station__kind=StationKind.FINAL_CHECK, state=OperationState.DONE).exists():
        raise NotAllowedNow(
            "not_checked", _("{serial} has no final check; it can't be packed.").format(serial=shell.serial)
        )
    left = others.exclude(state__in=[OperationState.DONE, OperationState.SKIPPED]).first()
    if left is not None:
        raise NotAllowedNow(
            "steps_left",
            _("{title} of {serial} is not signed yet; it can't be packed.").format(
                title=left.title, serial=shell.serial
            ),
        )


def reopen_operation(shell: Shell, operation: Operation, stamp: Stamp) -> None:
    """Undo ``complete_operation`` of a locked shell, unless the work went on from there."""
    if operation.state != OperationState.DONE:
        raise LostRace(
            "not_signed",
            _("{title} of {serial} is not signed off now.").format(title=operation.title, serial=shell.serial),
        )
    if shell.state in [ShellState.SCRAPPED, ShellState.REMADE]:
        raise NotAllowedNow(
            "shell_gone", _("{serial} is {state}.").format(serial=shell.serial, state=_(shell.get_state_display()))
        )
    if shell.state == ShellState.ON_HOLD:
        raise NotAllowedNow("on_hold", _("{serial} is on hold; settle that first.").format(serial=shell.serial))
    if shell.order.state == OrderState.SHIPPED:
        raise NotAllowedNow(
            "shipped",
            _("Order {number} has left the shop; nothing of it can be taken back.").format(number=shell.order.number),
        )
    later = shell.operations.filter(position__gt=operation.position)
    blocking = later.filter(state__in=[OperationState.DONE, OperationState.IN_WORK]).select_related("station").first()
    if blocking is not None:
        raise NotAllowedNow(
            "work_went_on",
            _("{title} of {serial} is done already; withdraw that signature first.").format(
                title=blocking.title, serial=shell.serial
            )
            if blocking.state == OperationState.DONE
            else _("{name} already works on {title} of {serial}; it can't be withdrawn now.").format(
                name=blocking.started_by_name, title=blocking.title, serial=shell.serial
            ),
        )
    later.filter(state=OperationState.READY).update(state=OperationState.WAITING, ready_at=None, not_before=None)
    operation.attempt += 1
    move(
        operation,
        [OperationState.DONE],
        OperationState.READY,
        done_at=None,
        started_at=None,
        started_by_name="",
        touch_seconds=0,
        ready_at=stamp.received_at,
        attempt=operation.attempt,
    )
    if shell.state in [ShellState.FINISHED, ShellState.PACKED]:
        earlier_final = shell.operations.filter(
            station__kind=StationKind.FINAL_CHECK, state=OperationState.DONE, position__lt=operation.position
        ).exists()
        set_shell_state(shell, ShellState.FINISHED if earlier_final else ShellState.IN_PRODUCTION)
        KitOrder.objects.filter(pk=shell.order_id, state=OrderState.COMPLETE).update(state=OrderState.IN_PRODUCTION)


def note_prints(*, serials: Sequence[str], what: RecordKind, body: dict[str, Any], stamp: Stamp) -> dict[str, int]:
    """Record that paper was made for each shell; returns which copy each one is, from 1."""
    copies: dict[str, int] = {}
    with writing():
        for serial in sorted(serials):
            shell = lock_shell(serial)
            copy = ShellRecord.objects.filter(shell=shell, kind=what).count() + 1
            add_record(shell, what, stamp, body={**body, "copy": copy, "revision": shell.spec_revision})
            copies[serial] = copy
    return copies


def ship_order(*, number: str, stamp: Stamp) -> KitOrder:
    """Note that a complete order has left the shop."""
    with writing():
        order = KitOrder.objects.select_for_update().get(number=number)
        if order.state != OrderState.COMPLETE:
            raise NotAllowedNow(
                "not_complete",
                _("Order {number} is {state}; only a complete one ships.").format(
                    number=number, state=_(order.get_state_display())
                ),
            )
        order.state = OrderState.SHIPPED
        order.save(update_fields=["state"])
        for serial in order.shells.filter(state=ShellState.PACKED).order_by("pk").values_list("serial", flat=True):
            add_record(lock_shell(serial), RecordKind.SHIPPED, stamp, body={"order": number})
    return order


def move(operation: Operation, expected: Sequence[str], to: str, **fields: Any) -> None:
    """Compare and set: the state changes only if it still is what we read."""
    if not update(operation, only_if={"state": expected}, state=to, **fields):
        raise LostRace(
            "state_changed", _("{title} was changed by somebody else; look again.").format(title=operation.title)
        )
    operation.state = to
    for name, value in fields.items():
        setattr(operation, name, value)


def set_shell_state(shell: Shell, state: ShellState) -> None:
    shell.state = state
    shell.save(update_fields=["state"])


def _begin_production(shell: Shell) -> None:
    if shell.state == ShellState.PLANNED:
        set_shell_state(shell, ShellState.IN_PRODUCTION)
        KitOrder.objects.filter(pk=shell.order_id, state=OrderState.RELEASED).update(state=OrderState.IN_PRODUCTION)


def _complete_order_if_all_gone(order_id: int) -> None:
    if not Shell.objects.filter(order_id=order_id).exclude(state__in=GONE_STATES).exists():
        KitOrder.objects.filter(pk=order_id, state__in=[OrderState.RELEASED, OrderState.IN_PRODUCTION]).update(
            state=OrderState.COMPLETE
        )
