"""A companion to a drum that was made before: what that one was made from, what the recipe book says otherwise today,
the lots its colour came from, and a draft order for the new one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import LotKind, LotState, MaterialUse, Person
from quality.request_facts import as_built_parts
from quality.request_rows import locked_request, note_event, seen_before
from quality.rights import Right, require_right
from routing.errors import LostRace
from routing.freezing import drum_inputs
from routing.history import Stamp
from routing.languages import numeral
from routing.models import DrumModel, KitLine, KitOrder, OrderState, RecordKind, Shell, ShellSpec, Shop
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json, to_json
from routing.turnstile import writing

_COLOUR = (LotKind.COATING, LotKind.WRAP, LotKind.PLATE)  # what one sees
_ON_THE_SHELF = (LotState.RECEIVED, LotState.OPEN)
_NOTHING = "–"
_UNITS = {
    "n_per_mm2": "N/mm²", "g_per_m2": "g/m²", "kg_per_m2": "kg/m²", "per_pct": "per 1 %", "um": "µm", "mm": "mm",
    "in": "in", "pct": "%", "deg": "°", "hz": "Hz", "gu": "GU", "min": "min", "h": "h", "c": "°C", "g": "g",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Difference:
    what: str  # “finish, clear 2: wet film, µm”
    then: str
    today: str


@dataclass(frozen=True, slots=True)
class UsedLot:
    step: str
    code: str
    name: str
    shows: bool  # it is seen from outside: wood, colour, wrap
    left: str  # “on the shelf”, “empty”, “on hold”; a glue batch is always used up


@dataclass(frozen=True, slots=True)
class OldDrum:
    """The drum that a companion is wanted for."""

    facts: tuple[tuple[str, str], ...]
    lots: tuple[UsedLot, ...]
    differences: tuple[Difference, ...]
    not_today: str  # why the recipe book can't make it as it stands; empty when it can
    sizes: tuple[DrumModel, ...]  # its own first, then the others of its line


def old_drum(shell: Shell) -> OldDrum:
    """Read from the frozen spec at the signed revision and the signatures. ``shell`` should come with model and finish."""
    spec = ShellSpec.objects.get(shell=shell, revision=as_built_parts(shell).revision)
    then = from_json(DrumInputs, spec.inputs)
    not_today = ""
    differences: tuple[Difference, ...] = ()
    try:
        differences = tuple(differences_between(then, drum_inputs(shell.model, shell.finish, Shop.current())))
    except SpecError as error:
        not_today = spoken(error.message)
    if not not_today and not (shell.model.is_active and shell.finish.is_active):
        retired = shell.finish if shell.model.is_active else shell.model
        words = _("{recipe} is retired; take it back into use in the recipe book, or choose another.")
        not_today = words.format(recipe=retired)
    sizes = DrumModel.objects.filter(line=shell.model.line, is_active=True).select_related("line")
    return OldDrum(
        facts=tuple(_facts(then, spec.results)),
        lots=_lots(shell),
        differences=differences,
        not_today=not_today,
        sizes=tuple(sorted(sizes, key=lambda model: model.pk != shell.model_id)),
    )


def draft_companion(
    *, number: str, model: DrumModel, quantity: int, due: date, customer: str, person: Person, stamp: Stamp
) -> KitOrder:
    """Draft an order for a companion: the old drum's finish, in its own or another size of its line.

    The order is named after the request. A second draft is refused as long as the first exists.
    """
    for right in (Right.ANSWER_REQUESTS, Right.EDIT_ORDERS):
        require_right(person, right)
    if not customer.strip():
        raise QualityError("no_customer", _("Say who the companion is for."))
    if not 1 <= quantity <= 50:
        raise QualityError("quantity", _("Order 1 to 50 drums."))
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.REQUEST, stamp):
            if request.companion_order is None:
                raise LostRace(
                    "draft_deleted", _("This was drafted and deleted again; open the page and draft it anew.")
                )
            return request.companion_order
        if request.companion_order:
            words = _("The companion is order {order} already; change that.")
            raise LostRace("drafted_already", words.format(order=request.companion_order))
        if model.line_id != shell.model.line_id:
            words = _("A companion is of the same line: {line}.")
            raise QualityError("other_line", words.format(line=shell.model.line))
        for recipe, is_active in ((model, model.is_active), (shell.finish, shell.finish.is_active)):
            if not is_active:
                words = _("{recipe} is retired; take it back into use in the recipe book first.")
                raise QualityError("retired", words.format(recipe=recipe))
        order = KitOrder.objects.create(
            number=_free_number(number),
            customer=customer.strip()[:120],
            due=due,
            state=OrderState.DRAFT,
            created_at=stamp.at,
            note=f"Companion to {shell.serial} of order {shell.order.number}, request {number}",
        )
        KitLine.objects.create(
            order=order,
            position=1,
            model=model,
            finish=shell.finish,
            quantity=quantity,
            note=f"companion to {shell.serial}",
        )
        request.companion_order = order
        request.save(update_fields=["companion_order"])
        drum = f"{quantity} × {model}, {shell.finish}"
        told = {"companion_order": order.number, "companion_order_id": order.pk, "companion": drum}
        note_event(request, shell, RecordKind.REQUEST, stamp, told)
    return order


def differences_between(then: DrumInputs, today: DrumInputs) -> Iterator[Difference]:
    """What two recipes say differently. What was measured at the saw, and the room's air, are no part of a recipe."""
    room = then.room
    plates = tuple(replace(plate, measured_thickness_mm=None) for plate in then.plates)
    for path, old, new in _unlike(to_json(replace(then, plates=plates)), to_json(replace(today, room=room)), ()):
        yield Difference(_place(path), _value(old), _value(new))


def _unlike(old: Any, new: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any, Any]]:
    if old == new:
        return
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys([*old, *new]):
            yield from _unlike(old.get(key), new.get(key), (*path, key))
    elif isinstance(old, list) and isinstance(new, list) and _is_rows([*old, *new]):
        before, after = _by_name(old), _by_name(new)
        for key in dict.fromkeys([*before, *after]):
            yield from _unlike(before.get(key), after.get(key), (*path, key))
    else:
        yield path, old, new


def _is_rows(items: list[Any]) -> bool:
    return all(isinstance(item, dict) and "name" in item for item in items)


def _by_name(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Rows by what they are called, or by their place where two are called the same, as plates of a lay-up are."""
    names = [", ".join(filter(None, [row["name"], row.get("bag", "")])) for row in rows]
    if len(set(names)) < len(names):
        names = [f"no. {place}" for place in range(1, len(rows) + 1)]
    return dict(zip(names, rows, strict=True))


def _place(path: tuple[str, ...]) -> str:
    """“finish, coats, clear 2: wet film, µm” from the way through the recipe."""
    *way, last = path
    words, unit = last, ""
    for ending, written in _UNITS.items():
        if last.endswith(f"_{ending}"):
            words, unit = last.removesuffix(f"_{ending}"), f", {written}"
            break
    shown = words.replace("_", " ") + unit
    where = ", ".join(part.replace("_", " ") for part in way)
    return f"{where}: {shown}" if where else shown


def _value(value: Any) -> str:
    if value is None or value in ("", []):
        return _NOTHING
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float):
        return numeral(value)
    if isinstance(value, dict):
        named = str(value.get("name") or _("there"))
        return f"{value['quantity']} × {named}" if "quantity" in value else named
    if isinstance(value, list):
        return "; ".join(_value(item) for item in value)
    return str(value).replace("_", " ")


def _facts(inputs: DrumInputs, results: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Rounded here, where it is shown."""
    shell = results["shell"]
    yield _("Size"), f"{inputs.nominal_diameter_in:g} × {inputs.nominal_depth_in:g} in"
    yield _("Outside diameter"), f"{numeral(shell['outside_diameter_mm'], '.1f')} mm"
    yield _("Depth"), f"{numeral(shell['depth_mm'], '.1f')} mm"
    yield _("Wall"), f"{numeral(shell['wall_mm'], '.1f')} mm"
    yield (
        _("Plates, outside first"),
        "; ".join(f"{plate.name} ({_(plate.face_grain.value)})" for plate in inputs.plates),
    )
    yield _("Bearing edges"), f"{inputs.batter_edge.name}; {inputs.resonant_edge.name}"
    yield _("Finish"), inputs.finish.name
    if inputs.finish.wrap is not None:
        yield _("Wrap"), inputs.finish.wrap.name
    if inputs.finish.coats:
        yield _("Coats"), "; ".join(coat.name for coat in inputs.finish.coats)
    if inputs.finish.gloss_target_gu is not None:
        yield _("Gloss"), _("{gloss} GU at 60°").format(gloss=numeral(inputs.finish.gloss_target_gu))
    yield _("Glue"), inputs.glue.name
    yield _("Hardware"), inputs.hardware.name


def _lots(shell: Shell) -> tuple[UsedLot, ...]:
    """Each lot once, in the order of the steps, what one sees first. Withdrawn signatures used their lots all the same."""
    uses = (
        MaterialUse.objects.filter(sign_off__operation__shell=shell)
        .select_related("sign_off__operation", "lot", "glue_batch__glue")
        .order_by("sign_off__operation__position", "pk")
    )
    found: dict[str, UsedLot] = {}
    for use in uses:
        step = use.sign_off.operation.title
        if use.lot is not None:
            lot = use.lot
            left = _("on the shelf") if lot.state in _ON_THE_SHELF else _(lot.get_state_display())
            found.setdefault(lot.code, UsedLot(step, lot.code, lot.name, lot.kind in _COLOUR, left))
        elif use.glue_batch is not None:
            batch = use.glue_batch
            found.setdefault(batch.code, UsedLot(step, batch.code, batch.glue.name, False, _("used up")))
    return tuple(sorted(found.values(), key=lambda lot: not lot.shows))


def _free_number(wanted: str) -> str:
    taken = set(KitOrder.objects.filter(number__startswith=wanted).values_list("number", flat=True))
    return next(name for name in [wanted, *(f"{wanted}-{n}" for n in range(2, 100))] if name not in taken)
