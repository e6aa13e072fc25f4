"""How soon the program is there: ``python -m tests.bench.start``. The server from its start to the page that says it is
ready, what a command loads before it does anything, and what one check of a PIN costs beside Argon2id alone.

By the clock on the wall the best of some tries counts, since other programs only ever make a start later.
"""

from __future__ import annotations

import json
import os
import re
import resource
import signal
import socket
import statistics
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

import argon2

from tests.bench.figure import Figure, Options, run

NAME = "start"
DATABASES = ("sqlite",)
TRIES = 5
PIN_ROUNDS = 25
READY_S, LOADED_S, PIN_MS = 3.0, 1.0, 25.0
ROOT = Path(__file__).resolve().parents[2]
WORKERS = int(re.findall(r"^WORKERS \?= (\d+)$", (ROOT / "Makefile").read_text(), re.MULTILINE)[0])
# All pages and all commands of the program: more than any one command needs.
LOAD = """
import json, pkgutil, resource, time
from importlib import import_module
begun = time.perf_counter()
import django
django.setup()
import shopfloor.urls
for package in ("quality.management.commands", "shopfloor.management.commands"):
    for found in pkgutil.iter_modules(import_module(package).__path__):
        import_module(f"{package}.{found.name}")
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps([time.perf_counter() - begun, used.ru_utime + used.ru_stime]))
"""


def measure(options: Options) -> Iterator[Figure]:
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    # As ``.ci/environment`` does before every ``make run``.
    subprocess.run([sys.executable, "-m", "compileall", "-q", "routing", "quality", "shopfloor"], cwd=ROOT, check=True)
    tries = max(1, round(TRIES * options.scale))
    times, first_pages, cores = zip(*[_start() for _ in range(tries)], strict=True)
    yield Figure(
        f"the server with {WORKERS} processes, from its start to its ready page",
        READY_S,
        min(times),
        "s",
        note=f"the folder is prepared; best of {tries}, the slowest {max(times):.1f} s; the start page after "
        f"{min(first_pages):.1f} s; {min(cores):.1f} s of one core until it was stopped",
    )
    loads = [_loaded() for _ in range(tries)]
    yield Figure(
        "everything loaded, all pages and commands, of one core",
        LOADED_S,
        min(core for _, core in loads),
        "s",
        note=f"with Python itself, best of {tries}; {min(wall for wall, _ in loads):.2f} s by the clock without; "
        f"heaviest: {', '.join(_heaviest())}",
    )
    yield _pin()


def _start() -> tuple[float, float, float]:
    """Seconds until the ready page and until the start page, by the clock; of a core for all processes until the end."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    environment = os.environ | {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": str(WORKERS)}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    server = subprocess.Popen(
        ["bash", ".ci/serve"], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, start_new_session=True
    )
    try:
        ready = _answered(server, f"http://127.0.0.1:{port}/health/ready/", begun)
        first_page = _answered(server, f"http://127.0.0.1:{port}/", begun)
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=60)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ready, first_page, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _answered(server: subprocess.Popen[bytes], address: str, begun: float) -> float:
    while True:
        assert server.poll() is None, "the server ended before it answered"
        assert time.perf_counter() - begun < 120, "the server did not answer within two minutes"
        try:
            with urllib.request.urlopen(address, timeout=60) as answer:
                if answer.status == 200:
                    return time.perf_counter() - begun
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.02)


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
    assert not hasher.verify("284918", kept)
    bare_of, bare_hash = argon2.PasswordHasher(), "$" + kept.partition("$")[2]
    times, bare = [], []
    # In turns, so that both have the same company on the machine.
    for _ in range(PIN_ROUNDS):
        bare.append(_ms(lambda: bare_of.verify(bare_hash, "284917")))
        times.append(_ms(lambda: hasher.verify("284917", kept)))
    cost = f"Argon2id, {hasher.memory_cost // 1024} MiB, t={hasher.time_cost}, p={hasher.parallelism}"
    return Figure(
        "one check of a PIN, of one core",
        PIN_MS,
        statistics.median(times),
        "ms",
        note=f"{cost}; the middle of {PIN_ROUNDS}, the quickest {min(times):.1f} ms; argon2-cffi alone, in turns with it: "
        f"the middle {statistics.median(bare):.1f} ms, the quickest {min(bare):.1f} ms",
    )


def _ms(check: Callable[[], bool]) -> float:
    begun = time.process_time()
    assert check()
    return (time.process_time() - begun) * 1000


if __name__ == "__main__":
    sys.exit(run(measure))
