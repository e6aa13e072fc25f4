"""The board among many open shells: how much it asks and sends, how long a build takes, and what an unchanged refresh costs."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from tests.bench.figure import Figure, Options, run

NAME = "board"
DATABASES = ("sqlite", "postgres")
FEW, MANY = 2_000, 10_000
SOME = 200
VIEWS = (
    ("board", "board:board"),
    ("wall screen", "board:wall"),
    ("board by kit", "board:kits"),
    ("board by age", "board:age"),
)


def measure(options: Options) -> Iterator[Figure]:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse
    from django.utils import timezone

    from quality.models import Person, Role
    from tests.bench.live import open_shop
    from tests.bench.twins import Twins, demo_shop

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
        in_few, in_many = twins.compare(build, rounds=5)
        yield Figure(f"{words}: queries", 16, max(queries), "queries", note=f"{queries[0]} and {queries[1]}")
        yield Figure(f"{words}: HTML", 25, max(weights), "kB", note=f"{weights[0]:.1f} and {weights[1]:.1f}")
        yield Figure(f"{words}: a build among {few:,} shells", 25, in_few, "ms")
        yield Figure(
            f"{words}: among {many:,} against {few:,}",
            1.5,
            in_many / in_few,
            note=f"{in_many:.1f} against {in_few:.1f} ms",
        )


if __name__ == "__main__":
    sys.exit(run(measure))
