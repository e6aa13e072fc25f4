"""Says at the start that the embedded database was left for PostgreSQL, before anybody signs in to the old shop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connection

MOVED = "shop_has_moved"  # how the names of the triggers begin that close the old database


@register(Tags.database)
def shop_is_here(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    if connection.vendor != "sqlite" or not databases:
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s", [f"{MOVED}%"])
        moved = cursor.fetchone()[0]
    if not moved:
        return []
    return [
        Error(
            "This shop has moved to PostgreSQL; the embedded database in SHOP_DATA is what was left behind.",
            hint="Start it with DATABASE_URL, as it was given when the shop was moved.",
            id="shopfloor.E010",
        )
    ]
