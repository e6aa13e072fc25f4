"""How soon the program is there: ``python -m tests.bench.start``. The server from its start to the first page, what a
command loads before it does anything, and what one check of a PIN costs.

By the clock on the wall the best of some tries counts, since other programs only ever make a start later.
"""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from tests.bench.figure import Figure, Options, run

NAME = "start"
DATABASES = ("sqlite",)
TRIES = 5
PIN_ROUNDS = 25
READY_S, LOADED_S, PIN_MS = 3.0, 1.0, 25.0
ROOT = Path(__file__).resolve().parents[2]
LOAD = """
import json, resource, time
begun = time.perf_counter()
import django
django.setup()
import shopfloor.urls
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps([time.perf_counter() - begun, used.ru_utime + used.ru_stime]))
"""


def measure(options: Options) -> Iterator[Figure]:
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    tries = max(1, round(TRIES * options.scale))
    times = [_ready_s() for _ in range(tries)]
    yield Figure(
        "the server from its start to the first page",
        READY_S,
        min(times),
        "s",
        note=f"the folder is prepared; best of {tries}, the slowest {max(times):.1f} s",
    )
    loads = [_loaded() for _ in range(tries)]
    yield Figure(
        "everything loaded, as for a command",
        LOADED_S,
        min(wall for wall, _ in loads),
        "s",
        note=f"best of {tries}; {min(core for _, core in loads):.2f} s of one core with Python itself; "
        f"heaviest: {', '.join(_heaviest())}",
    )
    yield _pin()


def _ready_s() -> float:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    environment = os.environ | {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": "1"}
    begun = time.perf_counter()
    server = subprocess.Popen(
        ["bash", ".ci/serve"], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, start_new_session=True
    )
    try:
        while True:
            assert server.poll() is None, "the server ended before it answered"
            assert time.perf_counter() - begun < 120, "the server did not answer within two minutes"
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=60) as answer:
                    if answer.status == 200:
                        return time.perf_counter() - begun
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.02)
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=60)


def _loaded() -> tuple[float, float]:
    """Seconds by the clock without Python's own start, and of one core with it."""
    done = subprocess.run([sys.executable, "-c", LOAD], cwd=ROOT, capture_output=True, text=True, check=True)
    wall, core = json.loads(done.stdout.splitlines()[-1])
    return float(wall), float(core)


def _heaviest() -> list[str]:
    """The three packages that took longest to load, each without what it loads in turn."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", LOAD], cwd=ROOT, capture_output=True, text=True, check=True
    )
    of_package: dict[str, int] = defaultdict(int)
    for own, name in re.findall(r"^import time: +(\d+) \| +\d+ \| +(\S+)$", done.stderr, re.MULTILINE):
        of_package[name.split(".")[0]] += int(own)
    total = sum(of_package.values())
    longest = sorted(of_package, key=lambda name: -of_package[name])[:3]
    return [f"{name} {100 * of_package[name] / total:.0f} %" for name in longest]


def _pin() -> Figure:
    from quality.hashing import ShopArgon2Hasher

    hasher = ShopArgon2Hasher()
    kept = hasher.encode("284917", hasher.salt())
    times = []
    for _ in range(PIN_ROUNDS):
        begun = time.process_time()
        assert hasher.verify("284917", kept)
        times.append((time.process_time() - begun) * 1000)
    cost = f"Argon2id, {hasher.memory_cost // 1024} MiB, t={hasher.time_cost}, p={hasher.parallelism}"
    return Figure(
        "one check of a PIN, of one core",
        PIN_MS,
        statistics.median(times),
        "ms",
        note=f"{cost}; the middle of {PIN_ROUNDS}, the quickest {min(times):.1f} ms",
    )


if __name__ == "__main__":
    sys.exit(run(measure))
