"""The rows of the files: orders as the order book has them, shells where they stand, signatures with what was measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from django.utils import timezone

from quality.figures import Span
from quality.models import SignOff
from routing.models import KitOrder, Shell
from routing.order_book_text import COLUMNS
from shopfloor.lists import each_row, no_longer_stands, orders, shells, signatures, standings

Rows = Iterator[Sequence[str]]
# The first columns are those of an order book, so that the file can be imported again.
ORDERS_HEAD = (*COLUMNS, "state", "entered", "released")
SHELLS_HEAD = (
    *("serial", "order", "customer", "due date", "drum code", "drum", "finish", "state", "station", "step"),
    *("stands there since", "dwells until", "held for", "spec revision", "released", "in place of"),
)
SIGNATURES_HEAD = (
    *("serial", "order", "step number", "step", "station", "attempt", "spec revision", "signed by", "signed at"),
    *("received at", "entered by", "stands", "measured and seen", "lots and batches", "note"),
)


def order_rows() -> Rows:
    return each_row(orders(), _orders)


def shell_rows(now: datetime) -> Rows:
    return each_row(shells(), lambda part: _shells(part, now))


def signature_rows(first: date, last: date) -> Rows:
    span = Span(first, last)
    return each_row(signatures(span.begins, span.ends), _signatures)


def _orders(part: list[KitOrder]) -> Rows:
    for order in part:
        for line in order.lines.all():
            yield (
                order.number,
                order.customer,
                order.customer_reference,
                order.due.isoformat(),
                line.model.code,
                line.finish.name,
                str(line.quantity),
                line.note,
                order.get_state_display(),
                _moment(order.created_at),
                _moment(order.released_at),
            )


def _shells(part: list[Shell], now: datetime) -> Rows:
    where = standings(part, now)
    for shell in part:
        stands = where[shell.pk]
        yield (
            shell.serial,
            shell.order.number,
            shell.order.customer,
            shell.order.due.isoformat(),
            shell.model.code,
            str(shell.model),
            shell.finish.name,
            stands.word,
            stands.station,
            stands.step,
            _moment(stands.since),
            _moment(stands.until),
            stands.why,
            str(shell.spec_revision),
            _moment(shell.released_at),
            shell.replaces.serial if shell.replaces else "",
        )


def _signatures(part: list[SignOff]) -> Rows:
    for signed in part:
        record = signed.record
        body = record.body
        yield (
            signed.operation.shell.serial,
            signed.operation.shell.order.number,
            str(signed.operation.position),
            str(body["step"]),
            signed.operation.station.name,
            str(signed.attempt),
            str(body["revision"]),
            record.person_name,
            _moment(record.at),
            _moment(record.received_at),
            str(body.get("late", {}).get("entered_by") or ""),
            no_longer_stands(signed) or "yes",
            "; ".join(_reading(reading) for reading in body.get("readings", [])),
            "; ".join(str(entry.get("code", "")) for entry in body.get("materials", [])),
            str(body.get("note", "")),
        )


def _reading(reading: dict[str, object]) -> str:
    """As the record has it: a measured value with its unit, or yes and no."""
    value = reading.get("values") or reading.get("value")
    if value is None:
        said = "yes" if reading.get("passed") else "no"
    elif isinstance(value, list):
        said = " ".join(str(each) for each in value)
    else:
        said = str(value)
    return f"{reading.get('text', '')}: {said} {reading.get('unit') or ''}".strip()


def _moment(at: datetime | None) -> str:
    return timezone.localtime(at).strftime("%Y-%m-%d %H:%M") if at else ""
