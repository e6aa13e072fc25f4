"""What years of work cost: the same questions in a shop with 10,000 signatures behind it and in one with 1,000,000.

Both have the same open work, some hundred shells, beside what was shipped. A tap is a whole request that signs a step; its
transaction is taken back, so that the next signs the same step again: what the disk takes to keep it is not in its time.
"""

from __future__ import annotations

import math
import random
import secrets
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta

from tests.bench.figure import Figure, Options, run

NAME = "growth"
DATABASES = ("sqlite", "postgres")
FEW, MANY = 1_000, 100_000  # shells with ten signatures each
OPEN = 300


def measure(options: Options) -> Iterator[Figure]:
    from django.db import connection, transaction
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse
    from django.utils import timezone

    from quality.checks import check_points_at
    from quality.models import GlueBatch, MaterialLot, Person, Qualification, Role
    from quality.recall import Days, by_glue_batch, by_lot, by_person, by_station, by_tablet
    from quality.tablets import enrol_here
    from quality.trace import story_of
    from routing.models import Operation, Shell, Station
    from shopfloor.access import the_shell
    from tests.bench.live import open_shop
    from tests.bench.many import FIRST, MINUTES_BETWEEN_SHELLS, TABLETS, fill
    from tests.bench.twins import Twins, demo_shop, tablet_of

    draw = random.Random(7)
    demo_shop()
    few = fill(FEW, "A")
    open_shop(OPEN, "L", timezone.now())
    supervisor = Person.objects.filter(role=Role.SUPERVISOR)[0]
    office = Client()
    office.force_login(supervisor)
    sand = Station.objects.get(code="sand")
    worker = next(
        each.person
        for each in Qualification.objects.filter(station=sand).select_related("person")
        if each.person.is_active
    )
    tablet, key = enrol_here(name="Sanding", stations=[sand], by=supervisor, at=timezone.now())
    floor = tablet_of(tablet, key, worker)
    twins = Twins()
    many = fill(max(3 * FEW, round(MANY * options.scale)), "B")
    history = {"small": few, "large": many}
    some = {
        which: [
            serial
            for serial in Shell.objects.filter(
                pk__in=draw.sample(range(each.first_shell, each.first_shell + each.shells), min(60, each.shells))
            ).values_list("serial", flat=True)
            if not serial.endswith("*")
        ]
        for which, each in history.items()
    }
    step = (
        Operation.objects.filter(station=sand, state="ready", not_before=None)
        .exclude(shell__serial__endswith="*")
        .select_related("shell")
        .order_by("pk")[0]
    )
    answers = {f"check-{point.pk}": "yes" for point in check_points_at(step)}

    def tap() -> None:
        with transaction.atomic():
            answer = floor.post(
                reverse("floor:sign", args=[sand.code, step.shell.serial]),
                {"position": str(step.position), "tap_key": secrets.token_urlsafe(16)} | answers,
            )
            assert answer.status_code == 302, answer.content.decode()
            step.refresh_from_db()
            assert step.state == "done"
            transaction.set_rollback(True)

    def page(client: Client, address: Callable[[], str]) -> Callable[[], None]:
        def asked() -> None:
            answer = client.get(address())
            assert answer.status_code == 200, (address(), answer.status_code)

        return asked

    pages = {
        "a tap: one step signed": tap,
        "station screen": page(floor, lambda: reverse("floor:queue", args=[sand.code])),
        "board": page(office, lambda: reverse("board:board")),
        "trace page of a serial": page(office, lambda: reverse("trace:shell", args=[draw.choice(some[twins.which])])),
    }
    behind = f"{many.sign_offs + few.sign_offs:,} signatures against {few.sign_offs:,}"
    for words, ask in pages.items():
        small, large = twins.compare(ask, rounds=6)
        yield Figure(f"{words}: {behind}", 1.25, large / small, note=f"{large:.1f} against {small:.1f} ms")

    begun_in_a_day = math.ceil(timedelta(days=1) / timedelta(minutes=MINUTES_BETWEEN_SHELLS))

    def a_day() -> Days:
        """One on which all ten steps were signed, of one series only: both shops made as much on it."""
        first, last = few.shells * 6 // 10, few.shells - begun_in_a_day
        if twins.which == "large":
            first, last = few.shells * 2, many.shells
        day = (FIRST + timedelta(minutes=MINUTES_BETWEEN_SHELLS * draw.randrange(first, last))).date()
        return Days(day, day)

    recalls: dict[str, Callable[[], object]] = {
        "drums of a lot": lambda: by_lot(MaterialLot.objects.get(pk=draw.choice(history[twins.which].lots))),
        "drums of a person on a day": lambda: by_person(worker, a_day()),
        "drums of a tablet on a day": lambda: by_tablet(f"tablet {draw.randrange(TABLETS)}", a_day()),
        "drums of a station on a day": lambda: by_station(sand, a_day()),
    }
    for words, which in recalls.items():
        small, large = twins.compare(which, rounds=6)
        yield Figure(f"{words}: {behind}", 1.25, large / small, note=f"{large:.1f} against {small:.1f} ms")

    twins.turn_to("large")

    def story() -> None:
        assert len(story_of(the_shell(draw.choice(some["large"]))).events) == 11

    shell = the_shell(some["large"][0])
    with CaptureQueriesContext(connection) as caught:
        story_of(shell)
    yield Figure("story of a serial: queries", 6, len(caught), "queries")
    yield Figure(f"story of a serial among {many.shells:,}", 5, twins.alone(story), "ms", note="with finding the shell")
    batch = GlueBatch.objects.get(pk=draw.choice(many.batches))
    with CaptureQueriesContext(connection) as caught:
        found = by_glue_batch(batch)
    yield Figure("recall by glue batch: queries", 1, len(caught), "queries", note=f"{len(found)} drums")

    def recall() -> None:
        assert by_glue_batch(GlueBatch.objects.get(pk=draw.choice(many.batches)))

    yield Figure(f"recall by glue batch among {many.shells:,} shells", 10, twins.alone(recall), "ms")


if __name__ == "__main__":
    sys.exit(run(measure))
