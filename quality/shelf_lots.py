"""Where the parts of a delivery went that lies on the shelf: what left it since, for drums and for customers.

The shelf does not keep deliveries of one part apart, so whatever took that part since the delivery came may have it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from quality.models import MaterialLot, StockMove


@dataclass(frozen=True, slots=True)
class OnShelf:
    """One receipt of a lot, with every bag and request that took of its part afterwards, the newest first."""

    receipt: StockMove
    taken: tuple[StockMove, ...]


def on_shelf(lot: MaterialLot) -> list[OnShelf]:
    """Two queries, however much was taken. Bags that were opened again count: who knows what went back."""
    receipts = list(StockMove.objects.filter(lot=lot).select_related("part").order_by("pk"))
    by_part: dict[int, list[StockMove]] = {}
    for move in _taken_since(receipts):
        by_part.setdefault(move.part_id, []).append(move)
    return [
        OnShelf(receipt, tuple(move for move in by_part.get(receipt.part_id, ()) if move.pk > receipt.pk))
        for receipt in receipts
    ]


def _taken_since(receipts: Iterable[StockMove]) -> Iterable[StockMove]:
    first = min((receipt.pk for receipt in receipts), default=None)
    if first is None:
        return ()
    return (
        StockMove.objects.filter(
            Q(bag__isnull=False) | Q(request__isnull=False),
            part__in={receipt.part_id for receipt in receipts},
            change__lt=0,
            pk__gt=first,
        )
        .select_related("bag__shell", "request__shell")
        .order_by("-pk")
    )
