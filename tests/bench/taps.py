"""How fast people can sign: the whole program over HTTP beside the bare driver, its tail, and fifty tablets at once."""

from __future__ import annotations

import contextlib
import io
import json
import math
import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.bench.figure import Figure, Options, run
from tests.bench.raw_taps import raw_rate
from tests.bench.tap_client import ROOT, Plan, Seen, tap

NAME = "taps"
DATABASES = ("sqlite", "postgres")
CLIENTS = 10
WARM = 24  # taps of each client that are not counted: each worker has then opened its connection and loaded its code
CROWD, TAPS_A_SECOND, SECONDS = 50, 100.0, 60.0
WARM_CROWD = 4


def measure(options: Options) -> Iterator[Figure]:
    from django.core.management import call_command

    from tests.bench.tap_shop import STEPS, make_tap_shop

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    seconds = max(6.0, SECONDS * options.scale)
    for_rate = max(40, round(300 * options.scale))
    each_of_crowd = WARM_CROWD + round(seconds * TAPS_A_SECOND / CROWD)
    for_crowd = CROWD * math.ceil(each_of_crowd / STEPS)
    shop = make_tap_shop(for_rate + for_crowd, CROWD)
    raw = _raw(options, shop, seconds=max(4.0, 10.0 * options.scale))
    with server() as port:
        plan = Plan("127.0.0.1", port, shop.taps(shop.shells[:for_rate], CLIENTS), warm=WARM)
        seen = tap(plan)
        few = [each[:each_of_crowd] for each in shop.taps(shop.shells[for_rate:], CROWD)]
        crowd = tap(replace(plan, tablets=few, seconds_between=CROWD / TAPS_A_SECOND, warm=WARM_CROWD))
    yield from _figures(options, raw, seen, crowd, seconds)
    yield from _kept(plan, replace(plan, tablets=few), len(seen.failed) + len(crowd.failed))


def _kept(first: Plan, second: Plan, failed: int) -> Iterator[Figure]:
    """What all these taps left behind: every answered one once, in whole chains."""
    from django.core.management import CommandError, call_command

    from quality.models import SignOff

    answered = sum(map(len, first.tablets + second.tablets)) - failed
    lost = answered - (SignOff.objects.count() - 1)  # one was signed before, as an example
    yield Figure("answered taps that are not in the record", 0, abs(lost), note=f"of {answered}")
    said = io.StringIO()
    try:
        call_command("verify_records", stdout=said)
        broken, note = 0, said.getvalue().strip()
    except CommandError as error:
        broken, note = 1, str(error)
    yield Figure("chains that do not hold after all these taps", 0, broken, note=note)


def _figures(options: Options, raw: float, seen: Seen, crowd: Seen, seconds: float) -> Iterator[Figure]:
    for each in (seen, crowd):
        if each.failed:
            print(each.failed[0], file=sys.stderr)
    rate = seen.within / seen.seconds
    client = f"the load generator took {seen.busy:.0%} of a core"
    yield Figure(
        f"taps: program ÷ bare driver, {CLIENTS} clients",
        0.25 if options.db == "postgres" else 0.10,
        rate / raw,
        at_least=True,
        note=f"{rate:.0f} ÷ {raw:.0f} taps a second; {len(seen.waits_ms)} taps, {client}",
    )
    middle, late = statistics.median(seen.waits_ms), _p99(seen.waits_ms)
    yield Figure(
        f"taps: p99 ÷ p50, {CLIENTS} clients",
        3,
        late / middle,
        note=f"{late:.1f} ÷ {middle:.1f} ms, longest {max(seen.waits_ms):.0f} ms",
    )
    yield Figure(f"failed taps, {CLIENTS} clients", 0, len(seen.failed), note=f"of {sum(_asked(seen))}")
    yield Figure(
        f"p99 of {CROWD} tablets, {TAPS_A_SECOND:.0f} taps a second",
        40,
        _p99(crowd.waits_ms),
        "ms",
        note=f"p50 {statistics.median(crowd.waits_ms):.1f} ms, longest {max(crowd.waits_ms):.0f} ms, {seconds:.0f} s; the "
        f"load generator took {crowd.busy:.0%} of a core and was {crowd.late_ms:.1f} ms late at worst",
    )
    yield Figure(f"failed taps, {CROWD} tablets", 0, len(crowd.failed), note=f"of {sum(_asked(crowd))}")


def _asked(seen: Seen) -> tuple[int, int]:
    return len(seen.waits_ms), len(seen.failed)


def _p99(values: list[float]) -> float:
    return statistics.quantiles(values, n=100)[98]


def _raw(options: Options, shop: Any, seconds: float) -> float:
    """The bare driver on a copy of the same database."""
    from django.db import connection

    from tests.bench.tap_shop import steps_of

    settings: dict[str, Any] = connection.settings_dict
    job = {
        "sqlite_setup": "",
        "person": shop.people[0].pk,
        "person_name": shop.people[0].name,
        "body": json.dumps(shop.example.body),
        "readings": shop.example.readings,
        "seconds": seconds,
    }
    steps = steps_of(shop.shells[: CLIENTS * 10])
    connection.close()
    if options.db == "sqlite":
        copy = str(settings["NAME"]) + ".raw"
        connection.cursor().execute("VACUUM INTO %s", [copy])
        connection.close()
        rate = raw_rate(job | {"url": copy, "sqlite_setup": settings["OPTIONS"]["init_command"]}, steps, CLIENTS)
        for path in Path(copy).parent.glob(Path(copy).name + "*"):
            path.unlink()
        return rate
    import psycopg

    url = os.environ["DATABASE_URL"]
    base, _, name = url.rpartition("/")
    with psycopg.connect(f"{base}/template1", autocommit=True) as server:
        server.execute(f'CREATE DATABASE raw TEMPLATE "{name}"')
        try:
            return raw_rate(job | {"url": f"{base}/raw"}, steps, CLIENTS)
        finally:
            server.execute("DROP DATABASE raw")


@contextmanager
def server() -> Iterator[int]:
    """The shop's own server, as it is started in a shop."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    workers = re.search(r"^WORKERS \?= (\d+)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert workers is not None
    environment = os.environ | {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": workers[1]}
    server = subprocess.Popen(
        ["bash", ".ci/serve"], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, start_new_session=True
    )
    try:
        patience = time.monotonic() + 60
        while True:
            assert server.poll() is None and time.monotonic() < patience, "The server did not start."
            with contextlib.suppress(OSError):
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            time.sleep(0.2)
        yield port
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=30)


if __name__ == "__main__":
    sys.exit(run(measure, durable=True))
