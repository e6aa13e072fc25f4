"""Importing an order book: preview against the recipe book, then draft orders, all or nothing.

The same file twice changes nothing: an order that is here with the same content is left as it is. An order that is
here with other content is refused, in any state; it is changed by hand, where somebody sees what they change.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches

from django.db import IntegrityError
from django.db.models.functions import Lower
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from routing.errors import RoutingError
from routing.history import Stamp
from routing.languages import day
from routing.models import DrumModel, Finish, KitLine, KitOrder, OrderState
from routing.order_book_text import BookError, BookLine, BookOrder, plain, read_text
from routing.turnstile import in_turn

__all__ = ["BookError", "Imported", "OrderBook", "OrderBookRefused", "import_order_book", "read_order_book"]


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """A row of the book with the drum and finish that it means."""

    line: int
    model: DrumModel
    finish: Finish
    quantity: int
    note: str

    @property
    def drum(self) -> str:
        return str(self.model)


@dataclass(frozen=True, slots=True)
class PreviewOrder:
    number: str
    customer: str
    reference: str
    due: date
    lines: tuple[PreviewLine, ...]
    known: bool  # here already with the same content
    warnings: tuple[str, ...]

    @property
    def drums(self) -> int:
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True, slots=True)
class OrderBook:
    """What a file would do. Nothing is saved by making one; with ``errors`` it can't be imported."""

    orders: tuple[PreviewOrder, ...]
    errors: tuple[BookError, ...]
    warnings: tuple[BookError, ...]
    read: tuple[BookOrder, ...] = field(repr=False)

    @property
    def new(self) -> list[PreviewOrder]:
        return [order for order in self.orders if not order.known]

    @property
    def known(self) -> list[PreviewOrder]:
        return [order for order in self.orders if order.known]

    @property
    def new_drums(self) -> int:
        return sum(order.drums for order in self.new)


@dataclass(frozen=True, slots=True)
class Imported:
    created: tuple[str, ...]  # order numbers
    unchanged: tuple[str, ...]
    drums: int


class OrderBookRefused(RoutingError):
    """The book has errors; nothing of it was saved."""

    def __init__(self, errors: Iterable[BookError]) -> None:
        self.errors = tuple(errors)
        count = len(self.errors)
        said = ngettext(
            "{count} thing to put right in the order book; nothing was imported.",
            "{count} things to put right in the order book; nothing was imported.",
            count,
        )
        super().__init__("order_book", said.format(count=count))


def read_order_book(book: bytes | str, *, today: date) -> OrderBook:
    """Preview of an order book. Every mistake is named; nothing is saved."""
    text = read_text(book)
    return _against_the_shop(text.orders, text.loose, text.errors, text.warnings, today)


def import_order_book(book: OrderBook, *, stamp: Stamp, today: date) -> Imported:
    """Save the new orders of a book as drafts, all or nothing. Raises OrderBookRefused.

    Everything is looked up again inside the transaction: since the preview somebody may have imported the same file,
    entered one of its numbers by hand or retired a drum.
    """
    if book.errors:
        raise OrderBookRefused(book.errors)
    try:
        with in_turn():  # the second import finds the orders of the first
            now = _against_the_shop(book.read, (), (), book.warnings, today)
            if now.errors:
                raise OrderBookRefused(now.errors)
            for order in now.new:
                _save(order, stamp)
    except IntegrityError as error:
        taken = BookError(
            None, "order number", _("Somebody entered one of these orders just now. Look at the preview again.")
        )
        raise OrderBookRefused([taken]) from error
    return Imported(
        created=tuple(order.number for order in now.new),
        unchanged=tuple(order.number for order in now.known),
        drums=now.new_drums,
    )


def _save(order: PreviewOrder, stamp: Stamp) -> None:
    saved = KitOrder.objects.create(
        number=order.number,
        customer=order.customer,
        customer_reference=order.reference,
        due=order.due,
        created_at=stamp.received_at,
    )
    KitLine.objects.bulk_create(
        KitLine(
            order=saved,
            position=position,
            model=line.model,
            finish=line.finish,
            quantity=line.quantity,
            note=line.note,
        )
        for position, line in enumerate(order.lines, start=1)
    )


def _against_the_shop(
    orders: Iterable[BookOrder],
    loose: Iterable[BookLine],
    errors: Iterable[BookError],
    warnings: Iterable[BookError],
    today: date,
) -> OrderBook:
    """The book beside the recipes and the orders that are here, in a fixed number of queries."""
    read = tuple(orders)
    models = {model.code.lower(): model for model in DrumModel.objects.select_related("line")}
    finishes = {finish.name.lower(): finish for finish in Finish.objects.all()}
    here = _orders_here(order.number for order in read)
    # Rows of an order that is at fault are looked up too, so that one reading names everything.
    all_errors = [*errors, *_lines(loose, models, finishes)[0]]
    by_order: dict[str, list[str]] = {}
    order_of_line = {line.line: order.number for order in read for line in order.lines}
    for warning in warnings:
        if warning.line in order_of_line:
            by_order.setdefault(order_of_line[warning.line], []).append(str(warning))
    preview = []
    for order in read:
        found, lines = _lines(order.lines, models, finishes)
        known = False
        existing = here.get(order.number.lower())
        if existing is not None and not found:
            differs = _difference(existing, order, lines)
            known = differs is None
            if differs is not None:
                found = [BookError(order.line, "order number", differs)]
        if existing is None:
            found += _retired(lines)
        all_errors += found
        is_late = order.due < today and not known
        late = [_("due {day}, which is past").format(day=day(order.due))] if is_late else []
        preview.append(
            PreviewOrder(
                order.number,
                order.customer,
                order.reference,
                order.due,
                tuple(lines),
                known,
                (*late, *by_order.get(order.number, ())),
            )
        )
    return OrderBook(
        tuple(preview), tuple(sorted(all_errors, key=lambda error: error.line or 0)), tuple(warnings), read
    )


def _orders_here(numbers: Iterable[str]) -> dict[str, KitOrder]:
    """Orders of the shop that have one of these numbers, whatever the capitals."""
    wanted = {number.lower() for number in numbers}
    found: dict[str, KitOrder] = {}
    by_number = KitOrder.objects.annotate(lower_number=Lower("number"))
    for part in _in_parts(sorted(wanted), 500):
        for order in by_number.filter(lower_number__in=part).prefetch_related("lines__model", "lines__finish"):
            found[order.number.lower()] = order
    return found


def _in_parts(numbers: list[str], size: int) -> Iterable[list[str]]:
    return (numbers[start : start + size] for start in range(0, len(numbers), size))


def _lines(
    rows: Iterable[BookLine], models: dict[str, DrumModel], finishes: dict[str, Finish]
) -> tuple[list[BookError], list[PreviewLine]]:
    errors: list[BookError] = []
    lines: list[PreviewLine] = []
    for row in rows:
        model, finish = models.get(row.drum.lower()), finishes.get(row.finish.lower())
        if model is None and row.drum:
            in_use = [code for code, known in models.items() if known.is_active]
            unknown = _("There is no drum code “{given}”. All of them stand under Recipes, Drum models.")
            meant = _(
                "There is no drum code “{given}”. Did you mean “{near}”? All of them stand under Recipes, Drum models."
            )
            errors.append(BookError(row.line, "drum code", _unknown(unknown, meant, row.drum, in_use)))
        if finish is None and row.finish:
            kind = model.line.finish_kind if model else None
            names = {n: f.name for n, f in finishes.items() if f.is_active and kind in (None, f.kind)}
            unknown = _("There is no finish “{given}”. All of them stand under Recipes, Finishes.")
            meant = _("There is no finish “{given}”. Did you mean “{near}”? All of them stand under Recipes, Finishes.")
            errors.append(BookError(row.line, "finish", _unknown(unknown, meant, row.finish, names)))
        elif finish is not None and model is not None and finish.kind != model.line.finish_kind:
            errors.append(_wrong_kind(row, model, finish, finishes.values()))
        if model is not None and finish is not None:
            lines.append(PreviewLine(row.line, model, finish, row.quantity, row.note))
    return errors, lines


def _unknown(said: str, meant: str, given: str, known: Iterable[str]) -> str:
    """``meant`` is said when something comes near to what was given."""
    names = known if isinstance(known, dict) else {name: name for name in known}
    near = get_close_matches(given.lower(), list(names), n=1, cutoff=0.6)
    return meant.format(given=given, near=names[near[0]]) if near else said.format(given=given)


def _wrong_kind(row: BookLine, model: DrumModel, finish: Finish, finishes: Iterable[Finish]) -> BookError:
    fitting = sorted(f.name for f in finishes if f.kind == model.line.finish_kind and f.is_active)
    said = _("{line} drums are made with a {kind} finish; “{finish}” is {other}. Take one of: {fitting}.").format(
        line=model.line,
        kind=_(model.line.get_finish_kind_display()),
        finish=finish,
        other=_(finish.get_kind_display()),
        fitting=", ".join(fitting) or _("none is in use"),
    )
    return BookError(row.line, "finish", said)


def _retired(lines: Iterable[PreviewLine]) -> list[BookError]:
    """A drum or finish out of use is refused for a new order; old orders keep theirs."""
    errors = []
    for line in lines:
        if not line.model.is_active:
            message = _("“{drum}” is out of use. Choose another drum, or have it put into use again.")
            errors.append(BookError(line.line, "drum code", message.format(drum=line.model.code)))
        if not line.finish.is_active:
            message = _("“{finish}” is out of use. Choose another finish, or have it put into use again.")
            errors.append(BookError(line.line, "finish", message.format(finish=line.finish)))
    return errors


def _difference(existing: KitOrder, order: BookOrder, lines: list[PreviewLine]) -> str | None:
    """Why an order of this number can't be taken as the one that is here; None when they are the same."""
    if existing.number != order.number:
        alike = _("The shop has an order {number}, which differs in capital letters only; choose another number.")
        return alike.format(number=existing.number)
    pairs = (
        ("customer", existing.customer, order.customer),
        ("customer reference", existing.customer_reference, order.reference),
        ("due date", existing.due.isoformat(), order.due.isoformat()),
    )
    what = next(
        (
            _("its {column} is “{here}” here and “{there}” in the file").format(column=name, here=here, there=there)
            for name, here, there in pairs
            if plain(here) != there
        ),
        "",
    )
    rows_here = [(row.model_id, row.finish_id, row.quantity, plain(row.note)) for row in existing.lines.all()]
    if not what and rows_here != [(row.model.pk, row.finish.pk, row.quantity, row.note) for row in lines]:
        what = _("its drums are others than in the file")
    if not what:
        return None
    if existing.state == OrderState.DRAFT:
        remedy = _("Edit or delete the draft, or remove the order from the file.")
    else:
        remedy = _("It is {state} already: remove it from the file, or give it a new number.")
        remedy = remedy.format(state=_(existing.get_state_display()))
    said = _("Order {number} is here already, but {what}. {remedy}")
    return said.format(number=order.number, what=what, remedy=remedy)
