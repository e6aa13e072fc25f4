"""Closing a carton, opening it again, and shipping an order: only what is whole leaves the shop."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from quality.carton_contents import CartonOfOrder, Packing, packing_of
from quality.errors import QualityError
from quality.models import Carton, CartonDrum, Person
from quality.rights import Right, require_right
from routing.actions import ship_order
from routing.errors import LostRace, NotAllowedNow
from routing.history import Stamp, add_record, lock_shells
from routing.languages import moment, numeral
from routing.models import KitOrder, OrderState, RecordKind, Shell, ShellRecord
from routing.turnstile import writing

HEAVIEST_G = 200_000.0


class CartonRefused(QualityError):
    """Something is missing; ``missing`` says all of it, a line each."""

    def __init__(self, code: str, message: str, missing: Sequence[str]) -> None:
        super().__init__(code, message)
        self.missing = tuple(missing)


@dataclass(frozen=True, slots=True)
class Closed:
    carton: Carton
    warning: str  # about its weight; empty when there is nothing to say


def close_carton(
    *,
    order: KitOrder,
    number: int,
    person: Person,
    weighed_g: float | None = None,
    seen: str | None = None,
    stamp: Stamp,
) -> Closed:
    """Close a carton of an order; every drum in it gets a record. ``seen`` is the carton that the page showed: LostRace
    when the order travels otherwise by now, so that no label of an old count goes on.

    Raises CartonRefused with everything that is missing, LostRace when somebody closed it before. A weight that does
    not fit is said as a warning: see ``weight_warning``.
    """
    require_right(person, Right.FILL_BAGS, ask="somebody who packs")
    if weighed_g is not None and not (math.isfinite(weighed_g) and 0 < weighed_g <= HEAVIEST_G):
        raise QualityError(
            "weight_impossible",
            _("A carton weighs more than nothing and at most {most} kg; weigh again.").format(
                most=numeral(HEAVIEST_G / 1000, "g")
            ),
        )
    with writing():
        shells = _locked_shells(order)
        if earlier := _closed_by_tap(order, number, stamp.tap_key):
            there = packing_of(order, stamp.worked_at)
            same = there.carton(number) if there is not None else None
            return Closed(earlier, weight_warning(same, earlier.weighed_g) if same is not None else "")
        packing = _packing_to_change(order, stamp)
        carton = _the_carton(packing, number)
        if carton.closed is not None:
            raise LostRace(
                "closed_already",
                _("{name} closed carton {number} of {order} at {moment}; nothing was changed.").format(
                    name=carton.closed.closed_by.name,
                    number=number,
                    order=order.number,
                    moment=moment(carton.closed.closed_at),
                ),
            )
        if seen not in (None, carton.seen):
            raise LostRace(
                "planned_anew",
                _(
                    "Order {order} travels otherwise now than when this page was opened: carton {carton} of {all} holds {serials}. Look at it again, then close it."
                ).format(order=order.number, carton=number, all=carton.counted, serials=", ".join(carton.serials)),
            )
        if carton.missing:
            raise CartonRefused(
                "carton_short",
                _(
                    "Carton {number} of {of} of order {order} can't be closed yet. Do what is missing, then close it."
                ).format(number=number, of=carton.of, order=order.number),
                carton.missing,
            )
        closed = Carton.objects.create(
            order=order,
            number=number,
            of=carton.of,
            attempt=Carton.objects.filter(order=order, number=number).count() + 1,
            gross_g=carton.gross_g,
            weighed_g=weighed_g,
            closed_by=person,
            closed_at=stamp.at,
            tap_key=stamp.tap_key,
        )
        for drum in carton.drums:
            body = _body(closed) | {"place": drum.place, "bags": list(drum.bags), "with": list(carton.serials)}
            body |= {"gross_g": closed.gross_g, "weighed_g": weighed_g, "revision": drum.shell.spec_revision}
            record = add_record(shells[drum.shell.pk], RecordKind.CARTON, replace(stamp, tap_key=None), body=body)
            CartonDrum.objects.create(carton=closed, shell=drum.shell, place=drum.place, record=record)
    return Closed(closed, weight_warning(carton, weighed_g))


def open_carton(*, order: KitOrder, number: int, person: Person, reason: str, stamp: Stamp) -> Carton:
    """Open a closed carton again, saying why. Its row stays; closed again, it is another attempt."""
    require_right(person, Right.FILL_BAGS, ask="somebody who packs")
    if not reason.strip():
        raise QualityError("reason_missing", _("Say why the carton is opened; it stays on the record of its drums."))
    with writing():
        shells = _locked_shells(order)
        order.refresh_from_db()
        newest = (
            Carton.objects.filter(order=order, number=number).select_related("opened_by").order_by("attempt").last()
        )
        if newest is None:
            raise NotAllowedNow(
                "not_closed",
                _("Carton {number} of {order} was never closed.").format(number=number, order=order.number),
            )
        if opened := _opened_by_tap(order, number, stamp.tap_key):
            return opened
        if order.state == OrderState.SHIPPED:
            raise NotAllowedNow(
                "shipped",
                _("Order {number} has left the shop; nothing of it can be opened.").format(number=order.number),
            )
        inside = list(newest.drums.all())
        if newest.opened_at is not None:
            who = newest.opened_by.name if newest.opened_by else _("Somebody")
            raise LostRace(
                "opened_already",
                _("{who} opened carton {number} of {order} at {moment}; nothing was changed.").format(
                    who=who, number=number, order=order.number, moment=moment(newest.opened_at)
                ),
            )
        newest.opened_by, newest.opened_at = person, stamp.at
        newest.opened_because = reason.strip()[:200]
        newest.save(update_fields=["opened_by", "opened_at", "opened_because"])
        for drum in inside:
            add_record(
                shells[drum.shell_id],
                RecordKind.UNCARTONED,
                stamp if drum is inside[0] else replace(stamp, tap_key=None),
                body=_body(newest) | {"place": drum.place, "reason": newest.opened_because},
            )
    return newest


def ship(*, number: str, stamp: Stamp) -> KitOrder:
    """Note that a complete order has left the shop. Refused while a carton is open or a drum in one is not whole."""
    with writing():
        order = KitOrder.objects.get(number=number)
        _locked_shells(order)
        order.refresh_from_db()
        packing = packing_of(order, stamp.received_at) if order.state == OrderState.COMPLETE else None
        if packing is not None:
            _require_whole(packing)
        return ship_order(number=number, stamp=stamp)


def weight_warning(carton: CartonOfOrder, weighed_g: float | None) -> str:
    """What the scale says about a carton, when it is not what was computed. Never a reason to refuse."""
    if weighed_g is None or abs(weighed_g - carton.gross_g) <= carton.spread_g:
        return ""
    differs = weighed_g - carton.gross_g
    if differs > 0:
        said = _("Carton {number} weighs {weight} kg, {by} kg more than computed ({gross} ± {spread} kg).")
    else:
        said = _("Carton {number} weighs {weight} kg, {by} kg less than computed ({gross} ± {spread} kg).")
    weights = {"weight": weighed_g, "by": abs(differs), "gross": carton.gross_g, "spread": carton.spread_g}
    in_kg = {name: numeral(grams / 1000, ".2f") for name, grams in weights.items()}
    look = _("Look whether a drum, a hoop or a bag is missing or too many.")
    return f"{said.format(number=carton.number, **in_kg)} {look} {why_no_screw(carton)}"


def why_no_screw(carton: CartonOfOrder) -> str:
    """Why a whole carton can't be weighed for completeness: wood and board vary by more than a small part weighs."""
    if not carton.lightest:
        return ""
    return _(
        "A whole carton can't find a missing screw: wood, board and padding alone make it differ by ±{spread} g, and one "
        "{part} weighs {weight} g. That is why each bag is checked by itself."
    ).format(spread=numeral(carton.spread_g, ".0f"), part=carton.lightest, weight=numeral(carton.lightest_g))


def _require_whole(packing: Packing) -> None:
    missing: list[str] = []
    for carton in packing.cartons:
        if carton.closed is None:
            missing.append(
                _("Carton {number} of {of} ({serials}) is not closed.").format(
                    number=carton.number, of=carton.of, serials=", ".join(carton.serials)
                )
            )
        missing += [carton.old_label] if carton.old_label else []
        missing += carton.missing
    if missing:
        raise CartonRefused(
            "cartons_open",
            _(
                "Order {order} can't ship yet: {closed} of {cartons} cartons are closed. Close them on its packing page. If "
                "it was packed before cartons were recorded here, check its bags against the parts list, record them and "
                "close its cartons; no step has to be signed again."
            ).format(order=packing.order.number, closed=packing.closed, cartons=len(packing.cartons)),
            missing,
        )


def _locked_shells(order: KitOrder) -> dict[int, Shell]:
    """Every shell of an order, so that nothing of it changes meanwhile. Shells come before the order, as in signing."""
    return {shell.pk: shell for shell in lock_shells(list(order.shells.values_list("serial", flat=True)))}


def _closed_by_tap(order: KitOrder, number: int, tap_key: str | None) -> Carton | None:
    earlier = Carton.objects.filter(tap_key=tap_key).first() if tap_key else None
    if earlier is not None and (earlier.order_id, earlier.number) != (order.pk, number):
        raise LostRace("key_used", _("This tap was used for another carton already; open the page again."))
    return earlier


def _opened_by_tap(order: KitOrder, number: int, tap_key: str | None) -> Carton | None:
    """The attempt that a tap opened before, whatever became of the carton since."""
    record = ShellRecord.objects.filter(tap_key=tap_key).first() if tap_key else None
    if record is None:
        return None
    opened = record.kind == RecordKind.UNCARTONED and (record.body["order"], record.body["carton"])
    if opened != (order.number, number):
        raise LostRace("key_used", _("This tap was used for something else already; open the page again."))
    return Carton.objects.get(order=order, number=number, attempt=record.body["attempt"])


def _packing_to_change(order: KitOrder, stamp: Stamp) -> Packing:
    order.refresh_from_db()
    if order.state == OrderState.SHIPPED:
        raise NotAllowedNow(
            "shipped", _("Order {number} has left the shop; its cartons stay as they are.").format(number=order.number)
        )
    packing = packing_of(order, stamp.worked_at)
    if packing is None:
        raise NotAllowedNow(
            "not_released", _("Order {number} has no drums yet; release it first.").format(number=order.number)
        )
    return packing


def _the_carton(packing: Packing, number: int) -> CartonOfOrder:
    carton = packing.carton(number)
    if carton is None:
        raise NotAllowedNow(
            "no_such_carton",
            _("Order {order} travels in {cartons} cartons; there is no carton {number}.").format(
                order=packing.order.number, cartons=len(packing.cartons), number=number
            ),
        )
    return carton


def _body(carton: Carton) -> dict[str, Any]:
    return {
        "order": carton.order.number,
        "carton": carton.number,
        "of": carton.of,
        "attempt": carton.attempt,
    }
