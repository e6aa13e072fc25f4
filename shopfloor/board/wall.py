"""The wall screen: few things, large. The kits that press most, every station in a line, and what is full."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from shopfloor.board import work
from shopfloor.board.kits import pressing_kits

SHOWN_KITS = 6  # as many as are read from across the shop without scrolling


def contents(now: datetime, today: date) -> dict[str, Any]:
    counts, pressing = work.counts(now, today), pressing_kits(now, today, SHOWN_KITS)
    return {
        "totals": counts.totals,
        "columns": counts.columns,
        "kits": pressing,
        "more": counts.totals.kits - len(pressing),
    }
