"""A drum that left the shop, and what its customer asks, for tests of requests."""

from __future__ import annotations

from typing import Any

from quality.models import CustomerRequest, Defect
from quality.requests import take_request
from routing.actions import ship_order
from routing.models import Shell
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

RODS = {("rods", "tension rod"): 2}


def shipped(shop: SmallShop) -> Shell:
    """A drum that left the shop."""
    (shell,) = shop.released()
    sign_through(shop, shell, 8)
    ship_order(number="K-1", stamp=shop.stamp(shop.supervisor))
    return Shell.objects.select_related("order", "model__line", "finish").get(pk=shell.pk)


def take(shop: SmallShop, shell: Shell, kind: str = "missing", **fields: Any) -> CustomerRequest:
    given: dict[str, Any] = {
        "said": "two rods are not in the bag",
        "contact": "Ines Vogel, 0151",
        "ship_to": "Mill Road 3\nHarrow",
        "parts": RODS,
        "person": shop.supervisor,
        "stamp": shop.stamp(shop.supervisor, key=fields.pop("key", None), device="office"),
        **fields,
    }
    return take_request(serial=shell.serial, kind=kind, **given)


def by(shop: SmallShop, key: str | None = None) -> dict[str, Any]:
    return {"person": shop.supervisor, "stamp": shop.stamp(shop.supervisor, key=key, device="office")}


def lost_part() -> Defect:
    return Defect.objects.get_or_create(code="D908", defaults={"name": "part missing", "caused_at": "pack"})[0]


def told(shop: SmallShop) -> dict[str, Any]:
    return {"cause": lost_part(), "caused_at": shop.stations["pack"]}
