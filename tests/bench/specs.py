"""The spec of a shell, and a release of a thousand: ``python -m tests.bench.specs [--db sqlite|postgres] [--scale 1]``.

Specs are computed from frozen inputs, as every release and every reissue does, in the time of one core: each drum model of
the demo shop is asked several times, and the slowest of them counts. The release writes shells, specs, records and
operations of one order with lines of fifty, in one transaction, by the clock on the wall.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Iterator
from datetime import timedelta

from tests.bench.figure import Figure, Options, run

NAME = "specs"
DATABASES = ("sqlite", "postgres")
SHELLS = 1_000
ROUNDS = 15
SPEC_MS = 5.0
RELEASE_S = 15.0


def measure(options: Options) -> Iterator[Figure]:
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    with open(os.devnull, "w") as nowhere:
        call_command("demo", stdout=nowhere)
    yield _slowest_spec()
    yield _release(max(1, round(SHELLS * options.scale)))


def _slowest_spec() -> Figure:
    from routing.freezing import drum_inputs
    from routing.models import DrumModel, Finish, Shop
    from routing.specs.sheet import compute_sheet

    shop = Shop.current()
    found: list[tuple[float, str]] = []
    for model in DrumModel.objects.select_related("line"):
        inputs = drum_inputs(model, Finish.objects.filter(kind=model.line.finish_kind).order_by("pk")[0], shop)
        compute_sheet(inputs)
        times = []
        for _ in range(ROUNDS):
            begun = time.process_time()
            compute_sheet(inputs)
            times.append((time.process_time() - begun) * 1000)
        found.append((statistics.median(times), str(model)))
    slowest, drum = max(found)
    middle = statistics.median(ms for ms, _ in found)
    return Figure(
        "the whole spec of a shell",
        SPEC_MS,
        slowest,
        "ms",
        note=f"the slowest of {len(found)} drum models ({drum}), the middle of {ROUNDS} times; the middle model {middle:.1f} ms",
    )


def _release(count: int) -> Figure:
    from django.utils import timezone

    from routing.history import Stamp
    from routing.models import DrumModel, Finish, KitLine, KitOrder, Operation, Shell
    from routing.release import release_order

    now = timezone.now()
    order = KitOrder.objects.create(
        number="BENCH-1", customer="Bench", due=now.date() + timedelta(days=200), created_at=now
    )
    models = list(DrumModel.objects.select_related("line").order_by("pk"))
    finishes = {model.pk: Finish.objects.filter(kind=model.line.finish_kind).order_by("pk")[0] for model in models}
    for position, first in enumerate(range(0, count, 50)):
        model = models[position % len(models)]
        KitLine.objects.create(
            order=order,
            position=position + 1,
            model=model,
            finish=finishes[model.pk],
            quantity=min(50, count - first),
        )
    begun, worked = time.perf_counter(), time.process_time()
    release_order(number="BENCH-1", stamp=Stamp(None, "Bench", now, now))
    took, worked = time.perf_counter() - begun, time.process_time() - worked
    shells = Shell.objects.filter(order=order)
    steps = Operation.objects.filter(shell__in=shells).count()
    assert shells.count() == count, "the release left something out"
    return Figure(
        f"releasing {count:,} shells",
        RELEASE_S,
        took,
        "s",
        note=f"one order with {steps:,} operations; {worked:.1f} s of one core, the rest waits for the database and other programs",
    )


if __name__ == "__main__":
    sys.exit(run(measure))
