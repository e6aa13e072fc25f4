"""The board among many open shells: how much it asks and sends, how long a build takes, and what an unchanged refresh costs."""

from __future__ import annotations

import statistics
import sys
from collections.abc import Iterator
from datetime import timedelta

from tests.bench.figure import Figure, Options, run

NAME = "board"
DATABASES = ("sqlite", "postgres")
FEW, MANY = 2_000, 10_000
VIEWS = (
    ("board", "board:board"),
    ("wall screen", "board:wall"),
    ("board by kit", "board:kits"),
    ("board by age", "board:age"),
)
LISTS = ("board:kits", "board:age")


def measure(options: Options) -> Iterator[Figure]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse
    from django.utils import timezone

    from quality.models import Person, Role
    from shopfloor.board.unchanged import signed_version
    from tests.bench.live import open_shop
    from tests.bench.twins import Processor, Twins, demo_shop

    few, many = (round(shells * options.scale) for shells in (FEW, MANY))
    demo_shop()
    now = timezone.now()
    open_shop(few, "A", now, specs=False)
    client = Client()
    client.force_login(Person.objects.filter(role=Role.SUPERVISOR)[0])
    twins = Twins()
    open_shop(many - few, "B", now, specs=False)

    for words, view in VIEWS:
        address = reverse(view)

        def build(address: str = address) -> bytes:
            answer = client.get(address)
            assert answer.status_code == 200
            return bytes(answer.content)

        weights, queries = [], []
        for which in ("small", "large"):
            twins.turn_to(which)
            build()
            with CaptureQueriesContext(connection) as caught:
                page = build()
            weights.append(len(page) / 1000)
            queries.append(len(caught))
        yield Figure(f"{words}: queries", 16, max(queries), "queries", note=f"{queries[0]} and {queries[1]}")
        if view in LISTS:  # longer by their nature: twelve kits with their rings, the sixty oldest
            continue
        in_few, in_many = twins.compare(build, rounds=5)
        yield Figure(f"{words}: HTML", 25, max(weights), "kB", note=f"{weights[0]:.1f} and {weights[1]:.1f}")
        yield Figure(f"{words}: a build among {few:,} shells", 25, in_few, "ms")
        yield Figure(
            f"{words}: among {many:,} against {few:,}",
            1.5,
            in_many / in_few,
            note=f"{in_many:.1f} against {in_few:.1f} ms",
        )

    twins.turn_to("small")
    address = reverse("board:board")

    def refresh() -> None:
        answer = client.get(address, {"version": mark}, headers={"HX-Request": "true"})
        assert answer.status_code == 204

    clock = Processor()
    waits: list[float] = []
    while len(waits) < 40:
        mark = signed_version(timezone.now())
        if signed_version(timezone.now() + timedelta(seconds=2)) == mark:  # else its minute is about to end
            waits.append(clock.ms_of(refresh))
    with CaptureQueriesContext(connection) as caught:
        mark = signed_version(timezone.now())
        before = len(caught)
        refresh()
        asked = len(caught) - before
    yield Figure("unchanged refresh of the board: queries", 1, asked, "queries")
    built = twins.alone(lambda: client.get(address))
    unchanged = statistics.median(waits)
    yield Figure(
        "unchanged refresh against a build", 1 / 30, unchanged / built, note=f"{unchanged:.2f} against {built:.1f} ms"
    )


if __name__ == "__main__":
    sys.exit(run(measure))
