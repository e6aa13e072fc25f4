"""The wall screen: few things, large. The kits that press most, every station in a line, and what is full."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from shopfloor.board import work
from shopfloor.board.kits import kits

SHOWN_KITS = 6  # as many as are read from across the shop without scrolling


def contents(now: datetime, today: date) -> dict[str, Any]:
    counts, shown = work.counts(now, today), kits(now, today)
    pressing = [kit for kit in shown.kits if not kit.is_done][:SHOWN_KITS]
    return {
        "totals": counts.totals,
        "columns": counts.columns,
        "kits": pressing,
        "more": counts.totals.kits - len(pressing),
    }
