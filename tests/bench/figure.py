"""One measured figure, and how a bench is run: each module of this folder measures one thing in a process of its own.

A module has ``NAME``, ``DATABASES`` (those it wants to be run on) and ``measure(options)``, and ends with
``if __name__ == "__main__": sys.exit(run(measure))``. Alone it prints its own table; ``python -m tests.bench`` runs all
of them and collects their figures.
"""

from __future__ import annotations

import argparse
import json
import math
import os
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Figure:
    """What was measured, beside what was asked for."""

    what: str
    limit: float
    measured: float
    unit: str = ""  # ms, s, kB, MB, queries; nothing for a ratio
    at_least: bool = False  # the limit is a floor: more is better
    note: str = ""  # the two numbers of a ratio, how many times it was asked, why it misses

    @property
    def met(self) -> bool:
        if math.isnan(self.measured):
            return False
        return self.measured >= self.limit if self.at_least else self.measured <= self.limit

    def row(self, database: str) -> str:
        bound = "at least" if self.at_least else "at most"
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"| {self.what} | {database} | {bound} {_short(self.limit)}{unit} | {_short(self.measured)}{unit} "
            f"| {'met' if self.met else '**missed**'} | {self.note} |"
        )


HEAD = "| figure | database | limit | measured | verdict | how |\n|---|---|---|---|---|---|"


@dataclass(frozen=True, slots=True)
class Options:
    db: str  # sqlite or postgres
    scale: float  # 1.0 is the size that the limits are meant for; less takes less time and proves less


def run(measure: Callable[[Options], Iterable[Figure]], *, durable: bool = False) -> int:
    """Choose an empty database of its own, measure, print; with ``--json`` also keep the figures for the whole table.

    ``durable``: a PostgreSQL that keeps what it was told when the power fails, for whoever measures writing.
    """
    ask = argparse.ArgumentParser()
    ask.add_argument("--db", choices=["sqlite", "postgres"], default="sqlite")
    ask.add_argument("--scale", type=float, default=1.0)
    ask.add_argument("--json", type=Path)
    chosen = ask.parse_args()
    os.environ["SHOP_TEST_DB"] = chosen.db
    os.environ["DJANGO_SETTINGS_MODULE"] = "shopfloor.settings"
    from tests import database

    if durable:
        os.environ[database.DURABLE] = "1"
    database.pytest_load_initial_conftests()
    import django

    django.setup()
    found = []
    print(HEAD, flush=True)
    for figure in measure(Options(chosen.db, chosen.scale)):
        found.append(figure)
        print(figure.row(chosen.db), flush=True)
    if chosen.json:
        chosen.json.write_text(json.dumps([asdict(figure) for figure in found]))
    return 0


def _short(value: float) -> str:
    if math.isnan(value):
        return "not measured"
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"
