"""A cutting plan that is searched for until somebody stops it."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from typing import Any

import pytest

from routing.specs.cutting_plan import BlankOrder, StockSheet, plan_release
from routing.specs.cutting_search import Progress
from shopfloor.cutting import background

PATIENCE_S = 120
NAMES = ("Ash", "Birch")
COUNT = 9


@dataclass
class SlowSearch:
    """What the search told, in order; ``looked`` is set as soon as it told anything."""

    looked: threading.Event = field(default_factory=threading.Event)
    told: list[Progress] = field(default_factory=list)


def slow_search(monkeypatch: pytest.MonkeyPatch) -> SlowSearch:
    """Two kinds of sheet whose first plan takes more sheets than their area would fill, so that it is not the end."""
    blanks = [
        (StockSheet(name, 1000, 1000), BlankOrder(f"{name} {n}", 510 + n, 330 + n))
        for name in NAMES
        for n in range(COUNT)
    ]
    search = SlowSearch()

    def slowly(orders: Any, *, watch: Any, **given: Any) -> Any:
        def told(progress: Progress) -> bool:
            search.told.append(progress)
            search.looked.set()
            patience = time.monotonic() + PATIENCE_S
            while watch(progress):
                time.sleep(0.02)
                assert time.monotonic() < patience, "nobody stopped the search"
            return False

        return plan_release(orders, watch=told, **given)

    monkeypatch.setattr(background, "blanks_to_cut", lambda shells: blanks)
    monkeypatch.setattr("routing.cutting_orders.plan_release", slowly)
    return search
