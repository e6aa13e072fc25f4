"""Trace and recall among many drums: ``python -m tests.bench.record [--db sqlite|postgres] [--shells 100000]``.

Each question is asked of a small shop and of a large one in the same run; the ratio says how it grows. Plans are read:
a question that walks through a whole table of records is named and the run fails.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

SMALL = 1_000
ROUNDS = 40


@dataclass(frozen=True, slots=True)
class Measured:
    question: str
    rows: int  # drums in the answer, the middle one
    queries: int
    small_ms: float
    large_ms: float
    walks: tuple[str, ...]  # lines of plans that go through a whole table

    @property
    def growth(self) -> float:
        return self.large_ms / self.small_ms


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--db", choices=["sqlite", "postgres"], default="sqlite")
    options.add_argument("--shells", type=int, default=100_000)
    chosen = options.parse_args()
    os.environ["SHOP_TEST_DB"] = chosen.db
    from tests import database

    database.pytest_load_initial_conftests()
    os.environ["DJANGO_SETTINGS_MODULE"] = "shopfloor.settings"
    import django

    django.setup()
    from django.core.management import call_command

    from tests.bench.many import fill

    call_command("migrate", verbosity=0)
    call_command("demo", stdout=open(os.devnull, "w"))  # noqa: SIM115 (one run, one file)
    begun = time.perf_counter()
    small = fill(SMALL, "A")
    asked_small = [(name, _timed(ask)) for name, ask in _questions(small)]
    large = fill(chosen.shells, "B")
    filled = time.perf_counter() - begun
    found = []
    for (name, few), (_, ask) in zip(asked_small, _questions(large), strict=True):
        many = _timed(ask)
        found.append(Measured(name, many.rows, many.queries, few.ms, many.ms, tuple(_walks(ask))))
    print(f"{chosen.db}: {large.shells:,} drums with {large.sign_offs:,} signatures, filled in {filled:.0f} s")
    print(f"against {small.shells:,} drums with {small.sign_offs:,} signatures in the same run\n")
    print("| question | drums found | queries | ms, few | ms, many | growth | whole tables read |")
    print("|---|---|---|---|---|---|---|")
    for each in found:
        print(
            f"| {each.question} | {each.rows} | {each.queries} | {each.small_ms:.2f} | {each.large_ms:.2f} "
            f"| {each.growth:.2f} | {'; '.join(each.walks) or 'none'} |"
        )
    return 1 if any(each.walks for each in found) else 0


def _questions(many: Any) -> Iterator[tuple[str, Callable[[], int]]]:
    """Each with its own choice of what is asked for, the same way every run."""
    from quality.models import GlueBatch, MaterialLot, Person
    from quality.recall import Days, by_glue_batch, by_lot, by_person, by_station, by_tablet
    from quality.trace import story_of
    from routing.models import Shell, Station
    from tests.bench.many import FIRST, MINUTES_BETWEEN_SHELLS

    draw = random.Random(7)

    def some_day() -> date:
        last = FIRST + timedelta(minutes=MINUTES_BETWEEN_SHELLS * many.shells)
        return (FIRST + (last - FIRST) * draw.random()).date()

    def trace() -> int:
        shell = Shell.objects.select_related("order", "line__model", "line__finish", "model__line", "finish").get(
            pk=many.first_shell + draw.randrange(many.shells)
        )
        story = story_of(shell)
        assert len(story.events) == 11
        return 1

    def glue() -> int:
        return len(by_glue_batch(GlueBatch.objects.get(pk=draw.choice(many.batches))))

    def lot() -> int:
        return len(by_lot(MaterialLot.objects.get(pk=draw.choice(many.lots))))

    def person() -> int:
        day = some_day()
        return len(by_person(Person.objects.get(pk=draw.choice(many.people)), Days(day, day)))

    def tablet() -> int:
        day = some_day()
        return len(by_tablet(f"tablet {draw.randrange(12)}", Days(day, day)))

    def station() -> int:
        day = some_day()
        return len(by_station(Station.objects.filter(is_active=True).order_by("position")[3], Days(day, day)))

    yield "the story of a serial", trace
    yield "drums of a glue batch", glue
    yield "drums of a lot", lot
    yield "drums of a person on a day", person
    yield "drums of a tablet on a day", tablet
    yield "drums of a station on a day", station


@dataclass(frozen=True, slots=True)
class _Timed:
    ms: float
    rows: int
    queries: int


def _timed(ask: Callable[[], int]) -> _Timed:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    ask()
    with CaptureQueriesContext(connection) as caught:
        ask()
    times, rows = [], []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        rows.append(ask())
        times.append((time.perf_counter() - begun) * 1000)
    return _Timed(statistics.median(times), int(statistics.median(rows)), len(caught))


def _walks(ask: Callable[[], int]) -> Iterator[str]:
    """Lines of the plans that read a whole table of what grows with every drum."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    growing = ("shell", "shellrecord", "shellspec", "operation", "signoff", "reading", "materialuse", "kitorder")
    with CaptureQueriesContext(connection) as caught:
        ask()
    for query in caught.captured_queries:
        with connection.cursor() as cursor:
            word = "EXPLAIN QUERY PLAN" if connection.vendor == "sqlite" else "EXPLAIN"
            cursor.execute(f"{word} {query['sql']}")
            lines = [str(row[-1]).strip() for row in cursor.fetchall()]
        for line in lines:
            walked = line.removeprefix("SCAN ") if line.startswith("SCAN ") else ""
            if "Seq Scan on " in line:
                walked = line.split("Seq Scan on ")[1]
            table = walked.split(" ")[0].strip('"')
            if table.rpartition("_")[2] in growing and "USING" not in walked:
                yield line


if __name__ == "__main__":
    sys.exit(main())
