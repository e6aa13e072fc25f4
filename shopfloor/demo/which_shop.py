"""By what the demo shop is known. One that got another name is somebody's own by now."""

from __future__ import annotations

from typing import Any

from routing.models import Shop

SHOP: dict[str, Any] = {"name": "Ottermill Drum Works", "serial_prefix": "OW", "is_demo": True}


def is_the_demo(shop: Shop) -> bool:
    """Whether this is still the demo shop, under its own name and with its own letters before each serial number."""
    return all(getattr(shop, field) == value for field, value in SHOP.items())
