"""An order in its cartons: closed, opened, refused; for tests."""

from __future__ import annotations

import pytest

from quality.carton_contents import packing_of
from quality.cartons import CartonRefused, close_carton, open_carton
from quality.models import Carton, Person
from routing.models import KitOrder, Shell, ShellRecord
from tests.small_shop import SmallShop

PACK = 8


def the_order() -> KitOrder:
    return KitOrder.objects.get(number="K-1")


def close(
    shop: SmallShop,
    number: int = 1,
    *,
    key: str | None = None,
    person: Person | None = None,
    weighed_g: float | None = None,
) -> Carton:
    who = person or shop.worker
    stamp = shop.stamp(who, key=key)
    return close_carton(order=the_order(), number=number, person=who, weighed_g=weighed_g, stamp=stamp).carton


def reopen(shop: SmallShop, number: int = 1, reason: str = "one rod too many", *, key: str | None = None) -> Carton:
    return open_carton(
        order=the_order(), number=number, person=shop.worker, reason=reason, stamp=shop.stamp(shop.worker, key=key)
    )


def seen_at(shop: SmallShop, number: int) -> str:
    """What the page of the order shows of a carton."""
    packing = packing_of(the_order(), shop.clock)
    carton = packing.carton(number) if packing else None
    assert carton is not None
    return carton.seen


def refused(shop: SmallShop, number: int = 1) -> list[str]:
    with pytest.raises(CartonRefused) as refusal:
        close(shop, number)
    return list(refusal.value.missing)


def kinds(shell: Shell) -> list[str]:
    return list(ShellRecord.objects.filter(shell=shell).order_by("sequence").values_list("kind", flat=True))
