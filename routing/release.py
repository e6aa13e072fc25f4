"""Releasing an order: shells, serial numbers, frozen specs and routes, all or nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from routing.errors import LostRace, NotReleasable
from routing.freezing import drum_inputs
from routing.history import Stamp, spec_body
from routing.kits import drum_name
from routing.models import (
    DrumModel,
    Finish,
    KitLine,
    KitOrder,
    Operation,
    OperationState,
    OrderState,
    RecordKind,
    SerialCounter,
    Shell,
    ShellRecord,
    ShellSpec,
    Shop,
)
from routing.planning import PlannedStep, current_template, plan_steps
from routing.spec_words import spoken
from routing.specs.check_character import check_character
from routing.specs.errors import SpecError
from routing.specs.jsonable import to_json
from routing.specs.sheet import FORMULA_VERSION, compute_sheet
from routing.turnstile import writing

# Told how many shells are written, of how many. They count only when all of them are.
Watcher = Callable[[int, int], None]
AT_A_TIME = 40


@dataclass(frozen=True, slots=True)
class PreparedDrum:
    """What every shell of one model and finish has in common."""

    inputs: Any
    results: Any
    steps: tuple[PlannedStep, ...]
    route: str
    warnings: tuple[str, ...]


def prepare_drum(model: DrumModel, finish: Finish, shop: Shop) -> PreparedDrum:
    """Compute the spec and the route of a model in a finish. Raises NotReleasable with the reason."""
    if finish.kind != model.line.finish_kind:
        wrong = _("{drum} is made with a {kind} finish; “{finish}” is {other}. Change the finish of the line.")
        kind, other = _(model.line.get_finish_kind_display()), _(finish.get_kind_display())
        raise NotReleasable("wrong_finish", wrong.format(drum=drum_name(model), kind=kind, finish=finish, other=other))
    try:
        inputs = drum_inputs(model, finish, shop)
        sheet = compute_sheet(inputs)
    except SpecError as error:
        raise NotReleasable(error.code, f"{drum_name(model)}: {spoken(error.message)}") from error
    template = current_template(model.role, finish.kind)
    return PreparedDrum(
        inputs=to_json(inputs),
        results=to_json(sheet),
        steps=tuple(plan_steps(template, inputs, sheet)),
        route=str(template),
        warnings=tuple(warning.message for warning in sheet.warnings),
    )


def prepare_order(order: KitOrder) -> dict[int, PreparedDrum]:
    """For each line (by its id) what its shells need. Raises NotReleasable that names every line at fault."""
    shop = Shop.current()
    prepared: dict[tuple[int, int], PreparedDrum] = {}
    by_line: dict[int, PreparedDrum] = {}
    faults: list[str] = []
    lines = _lines(order)
    if not lines:
        empty = _("Order {number} has no drums; add at least one line.")
        raise NotReleasable("empty_order", empty.format(number=order.number))
    for line in lines:
        key = (line.model_id, line.finish_id)
        try:
            if key not in prepared:
                prepared[key] = prepare_drum(line.model, line.finish, shop)
            by_line[line.pk] = prepared[key]
        except NotReleasable as error:
            faults.append(_("Line {line}: {fault}").format(line=line.position, fault=error.message))
    if faults:
        raise NotReleasable("lines_at_fault", " ".join(faults))
    return by_line


def release_order(*, number: str, stamp: Stamp, watch: Watcher | None = None) -> list[Shell]:
    """Make the shells of a draft order: all of them or, should anything end it, none and no serial number used up.

    A second release finds it released and changes nothing. ``watch`` is called inside the transaction, so it must be
    quick and leave the database alone.

    Raises KitOrder.DoesNotExist, LostRace when it is released already, NotReleasable with every reason.
    """
    draft = KitOrder.objects.get(number=number)
    seen = list(draft.lines.values_list("pk", "model_id", "finish_id"))
    by_line = prepare_order(draft)
    with writing():
        order = KitOrder.objects.select_for_update().get(number=number)
        if order.state != OrderState.DRAFT:
            done = _("Order {number} is {state} already; nothing was changed.")
            raise LostRace("already_released", done.format(number=number, state=_(order.get_state_display())))
        lines = _lines(order)
        if {(line.pk, line.model_id, line.finish_id) for line in lines} != set(seen):
            changed = _("Order {number} was changed meanwhile; look at it and release again.")
            raise LostRace("order_changed", changed.format(number=number))
        KitOrder.objects.filter(pk=order.pk).update(state=OrderState.RELEASED, released_at=stamp.received_at)
        wanted = [line for line in lines for each in range(line.quantity)]
        serials = _next_serials(len(wanted), timezone.localtime(stamp.received_at).year)
        pairs = list(zip(serials, wanted, strict=True))
        shells: list[Shell] = []
        for first in range(0, len(pairs), AT_A_TIME):
            shells += _make_shells(order, pairs[first : first + AT_A_TIME], by_line, stamp)
            if watch is not None:
                watch(len(shells), len(pairs))
        return shells


def replace_shell(shell: Shell, stamp: Stamp) -> Shell:
    """Release a new shell in the place of a locked one that is being scrapped: what the order's line asks for.

    Called inside the transaction of the scrapping. Raises NotReleasable when the recipe can't be made any more.
    """
    line = next(line for line in _lines(shell.order) if line.pk == shell.line_id)
    prepared = prepare_drum(line.model, line.finish, Shop.current())
    serials = _next_serials(1, timezone.localtime(stamp.received_at).year)
    (made,) = _make_shells(shell.order, [(serials[0], line)], {line.pk: prepared}, stamp, replaces=shell)
    return made


def _lines(order: KitOrder) -> list[KitLine]:
    return list(
        order.lines.select_related(
            "finish__wrap",
            "model__line",
            "model__hardware",
            "model__lay_up__glue",
            "model__lay_up__press_cycle",
            "model__batter_edge",
            "model__resonant_edge",
        ).prefetch_related(
            "finish__coats",
            "finish__drawdowns",
            "model__hardware__parts",
            "model__hardware__fittings",
            "model__lay_up__plates__plate__species",
            "model__lay_up__glue__mix",
        )
    )


def _next_serials(count: int, year: int) -> list[str]:
    """The next serial numbers of the year. Called inside the transaction; numbers that would end in * are left out."""
    prefix = f"{Shop.current().serial_prefix}{year % 100:02d}"
    SerialCounter.objects.get_or_create(year=year)
    counter = SerialCounter.objects.select_for_update().get(year=year)
    serials: list[str] = []
    while len(serials) < count:
        counter.last += 1
        body = f"{prefix}{counter.last:05d}"
        check = check_character(body)
        if check != "*":
            serials.append(body + check)
    counter.save(update_fields=["last"])
    return serials


def _make_shells(
    order: KitOrder,
    wanted: list[tuple[str, KitLine]],
    by_line: dict[int, PreparedDrum],
    stamp: Stamp,
    *,
    replaces: Shell | None = None,
) -> list[Shell]:
    shells = []
    records = []
    spec_bodies = {
        line.pk: spec_body(by_line[line.pk].inputs, by_line[line.pk].results, line.model_id, line.finish_id)
        for line in {line.pk: line for serial, line in wanted}.values()
    }
    for serial, line in wanted:
        prepared = by_line[line.pk]
        shell = Shell(
            serial=serial,
            order=order,
            line=line,
            model=line.model,
            finish=line.finish,
            replaces=replaces,
            released_at=stamp.received_at,
            chain_length=1,
        )
        record = ShellRecord(
            shell=shell,
            sequence=1,
            kind=RecordKind.RELEASED,
            at=stamp.at,
            received_at=stamp.received_at,
            person_id=stamp.person_id,
            person_name=stamp.person_name,
            device=stamp.device,
            body={
                "order": order.number,
                "drum": shell.drum,
                "revision": 1,
                "formula_version": FORMULA_VERSION,
                "route": prepared.route,
                "steps": [step.title for step in prepared.steps],
                **spec_bodies[line.pk],
                **({"replaces": replaces.serial} if replaces else {}),
            },
        )
        record.hash = shell.chain_head = record.computed_hash(serial)
        shells.append(shell)
        records.append(record)
    Shell.objects.bulk_create(shells)
    for shell, record in zip(shells, records, strict=True):
        record.shell = shell
    ShellRecord.objects.bulk_create(records)
    ShellSpec.objects.bulk_create(
        [
            ShellSpec(
                shell=shell,
                revision=1,
                formula_version=FORMULA_VERSION,
                inputs=by_line[shell.line_id].inputs,
                results=by_line[shell.line_id].results,
                reason="released",
                issued_at=stamp.received_at,
                issued_by_id=stamp.person_id,
            )
            for shell in shells
        ]
    )
    Operation.objects.bulk_create(
        [
            Operation(
                shell=shell,
                position=position,
                station=step.station,
                title=step.title,
                coat_index=step.coat_index,
                dwell_kind=step.dwell_kind,
                dwell_minutes=step.dwell_minutes,
                work_min=step.work_min,
                state=OperationState.READY if position == 1 else OperationState.WAITING,
                ready_at=stamp.received_at if position == 1 else None,
                due=order.due,
            )
            for shell in shells
            for position, step in enumerate(by_line[shell.line_id].steps, start=1)
        ],
        batch_size=500,
    )
    return shells
