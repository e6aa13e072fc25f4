"""What released drums still need from the shelf, held against what lies there: what is short, for whom and by when.

A drum needs what its bags ask for until they are filled; once its assembly is signed it needs nothing more, filled bags
or not. The shelf serves the orders in the order of their due days.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef

from quality.bags import BagOfDrum, BagStand, bags_of_shells
from quality.models import StockPart
from routing.models import Operation, OperationState, Shell, ShellState, StationKind

_TO_BE_ASSEMBLED = [ShellState.PLANNED, ShellState.IN_PRODUCTION, ShellState.ON_HOLD]


@dataclass(frozen=True, slots=True)
class Need:
    """What one order still takes of one part, spares with it."""

    part: str
    order: str
    customer: str
    due: date
    pieces: int
    drums: tuple[str, ...]  # serials


@dataclass(frozen=True, slots=True)
class ShortOrder:
    need: Need
    missing: int  # of its pieces, after the orders due before it


@dataclass(frozen=True, slots=True)
class PartOnShelf:
    """A part with what is needed of it. ``stock`` is None when nobody counted it: then nothing is known to be missing."""

    name: str
    stock: StockPart | None
    needed: int
    needs: tuple[Need, ...]
    short: tuple[ShortOrder, ...]

    @property
    def is_counted(self) -> bool:
        return self.stock is not None

    @property
    def on_hand(self) -> int:
        """What can be relied on: a count below zero means that somebody has to count again."""
        return max(0, self.stock.on_hand) if self.stock else 0

    @property
    def is_below_zero(self) -> bool:
        return self.stock is not None and self.stock.on_hand < 0

    @property
    def missing(self) -> int:
        return max(0, self.needed - self.on_hand) if self.is_counted else 0

    @property
    def left(self) -> int:
        """On the shelf when every drum has its parts."""
        return self.on_hand - self.needed

    @property
    def to_buy(self) -> int:
        """What is missing, and what fills the shelf up to where the part is asked for again."""
        if self.stock is None:
            return 0
        return max(0, self.stock.reorder_at - self.left)

    @property
    def by(self) -> date | None:
        """The due day of the first order that goes short; of the first that needs it when nobody counted."""
        if self.short:
            return self.short[0].need.due
        return self.needs[0].due if self.needs and not self.is_counted else None


@dataclass(frozen=True, slots=True)
class Shortages:
    short: tuple[PartOnShelf, ...]  # the first due comes first
    not_counted: tuple[PartOnShelf, ...]
    low: tuple[PartOnShelf, ...]  # nothing is missing, but fewer will be left than wanted


def shortages() -> Shortages:
    """Four queries, however many drums and parts."""
    parts = parts_on_shelf()
    return Shortages(
        short=tuple(sorted((part for part in parts if part.missing), key=_by_day)),
        not_counted=tuple(sorted((part for part in parts if part.needed and not part.is_counted), key=_by_day)),
        low=tuple(part for part in parts if part.is_counted and not part.missing and part.to_buy),
    )


def parts_on_shelf(names: Iterable[str] = ()) -> list[PartOnShelf]:
    """Every part that is on the shelf or needed, and those of ``names``, by name."""
    by_part: dict[str, list[Need]] = defaultdict(list)
    for need in needs():
        by_part[need.part].append(need)
    stock = {part.name: part for part in StockPart.objects.all()}
    return [
        _on_shelf(name, stock.get(name), by_part.get(name, []))
        for name in sorted({*stock, *by_part, *names}, key=str.casefold)
    ]


def needs() -> list[Need]:
    """What is still to be taken, by part, the first due order first. Three queries."""
    assembled = Operation.objects.filter(
        shell=OuterRef("pk"), station__kind=StationKind.ASSEMBLE, state=OperationState.DONE
    )
    shells = list(
        Shell.objects.filter(~Exists(assembled), state__in=_TO_BE_ASSEMBLED)
        .select_related("order")
        .order_by("order__due", "order__number", "serial")
    )
    bags = bags_of_shells(shells)
    found: dict[tuple[str, str], tuple[Shell, int, list[str]]] = {}
    for shell in shells:
        for name, pieces in still_to_take(bags[shell.pk]).items():
            first, before, serials = found.get((name, shell.order.number), (shell, 0, []))
            found[name, shell.order.number] = (first, before + pieces, [*serials, shell.serial])
    return [
        Need(name, order, shell.order.customer, shell.order.due, pieces, tuple(serials))
        for (name, order), (shell, pieces, serials) in found.items()
    ]


def still_to_take(bags: Iterable[BagOfDrum]) -> dict[str, int]:
    """Pieces that a drum's bags will still take off the shelf. What lies in a bag of an older list comes back first."""
    pieces: dict[str, int] = defaultdict(int)
    for each in bags:
        if each.state not in (BagStand.TO_FILL, BagStand.STALE):
            continue
        inside: dict[str, int] = {}
        if each.bag is not None:
            inside = {line["name"]: line["quantity"] + line["spare"] for line in each.bag.contents}
        for line in each.contents:
            more = line.quantity + line.spare - inside.get(line.name, 0)
            if more > 0:
                pieces[line.name] += more
    return dict(pieces)


def _on_shelf(name: str, stock: StockPart | None, wanted: list[Need]) -> PartOnShelf:
    short = []
    if stock is not None:
        left = max(0, stock.on_hand)
        for need in wanted:
            missing = max(0, need.pieces - left)
            left = max(0, left - need.pieces)
            if missing:
                short.append(ShortOrder(need, missing))
    return PartOnShelf(name, stock, sum(need.pieces for need in wanted), tuple(wanted), tuple(short))


def _by_day(part: PartOnShelf) -> tuple[date, str]:
    return part.by or date.max, part.name.casefold()
