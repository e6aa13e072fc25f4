"""What becomes of the route of a shell on hold: opened again from an earlier step, planned anew, or ended.

Inside the transaction of the decision, on a locked shell; ``quality.dispositions`` asks who may decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from difflib import SequenceMatcher
from typing import Any

from django.db.models import F
from django.utils.translation import gettext as _

from routing.actions import GONE_STATES, move, set_shell_state
from routing.errors import LostRace, NotAllowedNow
from routing.freezing import drum_inputs
from routing.history import Stamp, add_record
from routing.holds import state_before_hold
from routing.models import (
    DrumModel,
    DwellKind,
    Finish,
    Operation,
    OperationState,
    RecordKind,
    Shell,
    ShellRecord,
    ShellSpec,
    ShellState,
    Shop,
    StationKind,
)
from routing.planning import PlannedStep, current_template, plan_steps
from routing.reissue import issue_spec
from routing.release import prepare_drum
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.sheet import compute_sheet
from routing.station_numbers import station_numbers

_OF_A_FINISH = [StationKind.FINISH, StationKind.WRAP]
_NOT_OPEN: dict[str, Any] = {
    "ready_at": None,
    "not_before": None,
    "done_at": None,
    "started_at": None,
    "started_by_name": "",
    "paused_at": None,
    "touch_seconds": 0,
}
_OUT_OF_THE_WAY = 1000  # more than any route has steps


def held_operation(shell: Shell) -> Operation:
    """The step at which a locked shell is held. Raises NotAllowedNow for a shell that is gone, LostRace when none is held."""
    if shell.state in GONE_STATES:
        raise NotAllowedNow(
            "shell_gone",
            _("{serial} is {state}; there is nothing to decide about it.").format(
                serial=shell.serial, state=_(shell.get_state_display())
            ),
        )
    held = shell.operations.filter(state=OperationState.ON_HOLD).select_related("station").first()
    if shell.state != ShellState.ON_HOLD or held is None:
        raise LostRace(
            "not_on_hold", _("{serial} is not on hold; somebody decided already.").format(serial=shell.serial)
        )
    return held


def rework_places(shell: Shell) -> list[Operation]:
    """The steps from which a shell on hold can be worked again, in route order."""
    steps = list(
        shell.operations.filter(state__in=[OperationState.DONE, OperationState.ON_HOLD])
        .select_related("station")
        .order_by("position")
    )
    glued = any(step.station.kind == StationKind.PRESS and step.state == OperationState.DONE for step in steps)
    return [step for step in steps if not (glued and step.station.kind == StationKind.CUT)]


def require_rework_place(shell: Shell, position: int) -> Operation:
    """The step at ``position``, if a shell on hold can be worked again from there; NotAllowedNow says why not."""
    for step in rework_places(shell):
        if step.position == position:
            return step
    there = shell.operations.filter(position=position).first()
    if there is None:
        raise NotAllowedNow(
            "no_such_step",
            _("{serial} has no step {position}; pick one of its route.").format(serial=shell.serial, position=position),
        )
    if there.state == OperationState.DONE:
        raise NotAllowedNow(
            "glued_already",
            _("{serial} is glued; its plates can't be cut again. Scrap it, or pick a later step.").format(
                serial=shell.serial
            ),
        )
    raise NotAllowedNow(
        "not_there_yet",
        _("{serial} has not come to {title}; pick an earlier step or the one it is held at.").format(
            serial=shell.serial, title=there.title
        ),
    )


def reopen_from(shell: Shell, position: int, stamp: Stamp, body: dict[str, Any]) -> ShellRecord:
    """Open the route of a locked shell on hold again at ``position``: that step is ready, everything after it waits.

    Attempts rise, so that a tap made before counts for none of these steps. A coat that still dries goes on drying;
    every other wait that was running is over.
    """
    held = held_operation(shell)
    step = require_rework_place(shell, position)
    before = state_before_hold(shell)
    not_before = step.not_before if step.pk == held.pk else _still_drying(shell, held, stamp.received_at)
    later = shell.operations.filter(position__gt=position).exclude(state=OperationState.SKIPPED)
    later.update(state=OperationState.WAITING, attempt=F("attempt") + 1, **_NOT_OPEN)
    move(
        step,
        [OperationState.DONE, OperationState.ON_HOLD],
        OperationState.READY,
        attempt=step.attempt + 1,
        **_NOT_OPEN | {"ready_at": stamp.received_at, "not_before": not_before},
    )
    checked = shell.operations.filter(station__kind=StationKind.FINAL_CHECK, state=OperationState.DONE).exists()
    if step.pk == held.pk:
        set_shell_state(shell, before)
    else:
        set_shell_state(shell, ShellState.FINISHED if checked else ShellState.IN_PRODUCTION)
    return add_record(shell, RecordKind.REWORK, stamp, operation=step, body={**body, "attempt": step.attempt})


def _still_drying(shell: Shell, held: Operation, now: datetime) -> datetime | None:
    """Until when the last coat dries: whatever is decided, nobody sands it before."""
    if held.not_before is None or held.not_before <= now:
        return None
    last = shell.operations.filter(state=OperationState.DONE, position__lt=held.position).order_by("position").last()
    return held.not_before if last is not None and last.dwell_kind == DwellKind.DRY else None


def end_route(shell: Shell, stamp: Stamp, body: dict[str, Any]) -> ShellRecord:
    """Scrap a locked shell on hold: the steps it did not come to are skipped, what was signed stays."""
    held = held_operation(shell)
    shell.operations.exclude(state=OperationState.DONE).update(state=OperationState.SKIPPED, not_before=None)
    set_shell_state(shell, ShellState.SCRAPPED)
    return add_record(shell, RecordKind.SCRAPPED, stamp, operation=held, body=body)


def regrade_choices(shell: Shell) -> list[tuple[DrumModel, Finish]]:
    """Models of the same role and size in the finishes they can have, without what the shell is now."""
    models = DrumModel.objects.filter(
        role=shell.model.role,
        nominal_diameter_in=shell.model.nominal_diameter_in,
        nominal_depth_in=shell.model.nominal_depth_in,
    ).select_related("line")
    finishes = list(Finish.objects.order_by("name"))
    return [
        (model, finish)
        for model in models
        for finish in finishes
        if finish.kind == model.line.finish_kind and (model.pk, finish.pk) != (shell.model_id, shell.finish_id)
    ]


def regrade_shell(
    shell: Shell, model: DrumModel, finish: Finish, reason: str, stamp: Stamp, body: dict[str, Any]
) -> ShellSpec:
    """Make another drum of a locked shell on hold: a new revision of its spec, and the steps left planned anew.

    Raises NotAllowedNow when a coat or a wrap is on it, or when a signed step would have been another.
    """
    held = held_operation(shell)
    _require_same_place(shell, model, finish)
    prepare_drum(model, finish, Shop.current())  # says in plain words when it can't be made
    frozen = ShellSpec.objects.get(shell=shell, revision=shell.spec_revision)
    inputs = _with_measured_plates(drum_inputs(model, finish, Shop.current()), from_json(DrumInputs, frozen.inputs))
    sheet = compute_sheet(inputs)
    template = current_template(model.role, finish.kind)
    planned = plan_steps(template, inputs, sheet)
    results_json, inputs_json = to_json(sheet), to_json(inputs)
    done = list(shell.operations.filter(state=OperationState.DONE).select_related("station").order_by("position"))
    _require_none_of_a_finish(shell, done)
    _require_as_signed(shell, done, planned, frozen, results_json, inputs_json)
    was = shell.drum
    before = state_before_hold(shell)
    _plan_again(shell, held, planned[len(done) :], stamp.received_at)
    shell.model, shell.finish = model, finish
    shell.save(update_fields=["model", "finish"])
    set_shell_state(shell, before)
    return issue_spec(
        shell,
        inputs,
        sheet,
        reason,
        stamp,
        operation=held,
        body={
            **body,
            "from": was,
            "to": shell.drum,
            "route": str(template),
            "steps_left": [step.title for step in planned[len(done) :]],
        },
    )


def _require_same_place(shell: Shell, model: DrumModel, finish: Finish) -> None:
    if (model.pk, finish.pk) == (shell.model_id, shell.finish_id):
        raise NotAllowedNow(
            "same_drum",
            _("{serial} is {drum} already; pick another model or finish.").format(serial=shell.serial, drum=shell.drum),
        )
    size = (model.role, model.nominal_diameter_in, model.nominal_depth_in)
    if size != (shell.model.role, shell.model.nominal_diameter_in, shell.model.nominal_depth_in):
        raise NotAllowedNow(
            "other_size",
            _("{model} is not of the role and size of {serial}; pick one that is, or scrap the shell.").format(
                model=model, serial=shell.serial
            ),
        )


def _require_none_of_a_finish(shell: Shell, done: Sequence[Operation]) -> None:
    coated = next((step for step in done if step.station.kind in _OF_A_FINISH), None)
    if coated is not None:
        raise NotAllowedNow(
            "finish_begun",
            _(
                "{title} of {serial} is signed. Send it back for rework to a step before that, then hold it there and regrade it."
            ).format(title=coated.title, serial=shell.serial),
        )


def _require_as_signed(
    shell: Shell,
    done: Sequence[Operation],
    planned: Sequence[PlannedStep],
    frozen: ShellSpec,
    results: dict[str, Any],
    inputs: dict[str, Any],
) -> None:
    """What was signed must have been done for the new drum, too: the same steps, to the same numbers."""
    for place, step in enumerate(done):
        if place >= len(planned) or _key(step) != _key(planned[place]):
            raise NotAllowedNow(
                "other_route",
                _(
                    "{title} of {serial} is signed, but the other drum's route has something else there. Send the shell back for rework to a step before that, or decide something else."
                ).format(title=step.title, serial=shell.serial),
            )
        kind = step.station.kind
        if station_numbers(kind, frozen.results, frozen.inputs, step.coat_index) != station_numbers(
            kind, results, inputs, step.coat_index
        ):
            raise NotAllowedNow(
                "other_numbers",
                _(
                    "{title} of {serial} was signed with numbers that the other drum does not have. Send the shell back for rework to that step, or decide something else."
                ).format(title=step.title, serial=shell.serial),
            )


def _plan_again(shell: Shell, held: Operation, planned: Sequence[PlannedStep], now: datetime) -> None:
    """Put ``planned`` in the place of what is left of a route. A step that both have stays the same row; one that has
    a history stays as skipped, the others were never more than a plan.
    """
    left = list(
        shell.operations.filter(state__in=[OperationState.WAITING, OperationState.ON_HOLD])
        .select_related("station")
        .order_by("position")
    )
    attempt = max(shell.operations.values_list("attempt", flat=True)) + 1
    dwell_until = held.not_before
    # Those that an earlier regrade skipped.
    route = list(shell.operations.filter(state=OperationState.SKIPPED, position__gt=held.position).order_by("position"))
    matcher = SequenceMatcher(None, [_key(step) for step in left], [_key(step) for step in planned], autojunk=False)
    for tag, first, last, new_first, new_last in matcher.get_opcodes():
        if tag == "equal":
            for old, new in zip(left[first:last], planned[new_first:new_last], strict=True):
                old.dwell_kind, old.dwell_minutes = new.dwell_kind, new.dwell_minutes
                old.work_min = new.work_min
                route.append(old)
            continue
        for old in left[first:last]:
            if old.records.exists():
                old.state = OperationState.SKIPPED
                route.append(old)
            else:
                old.delete()
        route += [_new_step(shell, step) for step in planned[new_first:new_last]]
    # The steps of the old plan make room before the new ones take their numbers.
    shell.operations.filter(pk__in=[step.pk for step in route if step.pk]).update(
        position=F("position") + _OUT_OF_THE_WAY, state=OperationState.WAITING
    )
    first_position = left[0].position
    opened = False
    for position, step in enumerate(route, start=first_position):
        step.position, step.attempt = position, attempt
        if step.state != OperationState.SKIPPED:
            step.state = OperationState.WAITING if opened else OperationState.READY
            for name, value in _NOT_OPEN.items():
                setattr(step, name, value)
            if not opened:
                step.ready_at, step.not_before = now, dwell_until
            opened = True
        step.save()


def _new_step(shell: Shell, step: PlannedStep) -> Operation:
    return Operation(
        shell=shell,
        station=step.station,
        title=step.title,
        coat_index=step.coat_index,
        dwell_kind=step.dwell_kind,
        dwell_minutes=step.dwell_minutes,
        work_min=step.work_min,
        due=shell.order.due,
    )


def _key(step: Operation | PlannedStep) -> tuple[int, str, int | None]:
    return step.station.pk, step.title, step.coat_index


def _with_measured_plates(inputs: DrumInputs, earlier: DrumInputs) -> DrumInputs:
    """``inputs`` with the thicknesses that were measured, as far as the plates are the same."""
    if [plate.name for plate in inputs.plates] != [plate.name for plate in earlier.plates]:
        return inputs
    plates = tuple(
        replace(plate, measured_thickness_mm=before.measured_thickness_mm)
        for plate, before in zip(inputs.plates, earlier.plates, strict=True)
    )
    return replace(inputs, plates=plates)
