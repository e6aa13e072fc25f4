"""The shop's server, started as ``make run`` starts it, and the ways it can be killed."""

from __future__ import annotations

import contextlib
import os
import random
import re
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

from tests.places import ROOT, Place

PATIENCE_S = 180
_SAID = re.search(r"^WORKERS \?= (\d+)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
assert _SAID is not None, "the Makefile names no number of workers"
WORKERS = int(_SAID[1])


def free_port() -> int:
    """One that the system gives to no caller. A tablet that calls a port where nobody listens may be given that very port
    for its own end, reach itself, and keep the server out.
    """
    lowest = int(Path("/proc/sys/net/ipv4/ip_local_port_range").read_text().split()[0])
    for port in random.sample(range(10_000, lowest), 50):
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    raise AssertionError("no port is free")


class Server:
    """The script ``.ci/serve``, below it the server's parent process, below that as many workers as the Makefile says."""

    def __init__(self, place: Place, log: Path) -> None:
        self.place, self.port = place, free_port()
        self.log = log
        self.script: subprocess.Popen[str] | None = None

    def start(self) -> None:
        environment = self.place.environment | {"HOST": "127.0.0.1", "PORT": str(self.port), "WORKERS": str(WORKERS)}
        bash = shutil.which("bash") or "/bin/bash"
        checked = subprocess.run(
            [bash, ".ci/serve", "check"], env=environment, cwd=ROOT, capture_output=True, check=False
        )
        assert checked.returncode == 0, f"the port is not free after the kill: {checked.stderr.decode()}"
        with self.log.open("a") as log:
            self.script = subprocess.Popen(
                [bash, ".ci/serve"],
                env=environment,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                text=True,
                start_new_session=True,
            )
        wait_until(lambda: len(self.workers()) == WORKERS, f"{WORKERS} workers")

    def parent(self) -> int:
        assert self.script is not None
        found = [pid for pid in children(self.script.pid) if b"shopfloor.serve" in command_of(pid)]
        return found[0] if found else 0

    def workers(self) -> list[int]:
        parent = self.parent()
        return [pid for pid in children(parent) if b"shopfloor.serve" in command_of(pid)] if parent else []

    def stop(self) -> None:
        """As Ctrl-C does; what does not end is killed."""
        if self.script is None:
            return
        processes = [self.script.pid, self.parent(), *self.workers()]
        self.script.send_signal(signal.SIGINT)
        try:
            self.script.wait(timeout=60)
        except subprocess.TimeoutExpired:
            for pid in processes:
                kill(pid)
        self.script = None

    # The ways to die. Each returns when the shop is open again.

    def kill_one_worker(self, chance: random.Random) -> None:
        before = self.workers()
        kill(chance.choice(before))
        self._respawned(before, 1)

    def kill_all_workers(self, chance: random.Random) -> None:
        before = self.workers()
        for pid in before:
            kill(pid)
        self._respawned(before, WORKERS)

    def kill_the_parent(self, chance: random.Random) -> None:
        """The script is left: it clears away what is left of the server, says so and ends; then it is started again."""
        assert self.script is not None
        orphans = self.workers()
        kill(self.parent())
        assert self.script.wait(timeout=PATIENCE_S) == 1
        wait_until(lambda: not any(alive(pid) for pid in orphans), "the workers of a killed server to end")
        self.start()

    def kill_everything(self, chance: random.Random) -> None:
        """The script, and the whole group of its server with it."""
        assert self.script is not None
        everyone = [self.script.pid, self.parent(), *self.workers()]
        kill(self.script.pid)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(everyone[1], signal.SIGKILL)
        self.script.wait()
        wait_until(lambda: not any(alive(pid) for pid in everyone), "all of the server to be dead")
        self.start()

    @property
    def ways(self) -> tuple[Callable[[random.Random], None], ...]:
        return (self.kill_one_worker, self.kill_everything, self.kill_all_workers, self.kill_the_parent)

    def _respawned(self, before: list[int], dead: int) -> None:
        wait_until(
            lambda: len(now := set(self.workers())) == WORKERS and len(now & set(before)) == WORKERS - dead,
            "killed workers to be replaced",
        )


def wait_until(there: Callable[[], bool], what: str, patience_s: float = PATIENCE_S) -> None:
    until = time.monotonic() + patience_s
    while not there():
        assert time.monotonic() < until, f"waited {patience_s:.0f} s for {what}"
        time.sleep(0.05)


def kill(pid: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)


def children(parent: int) -> list[int]:
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            pid, _, rest = stat.read_text().partition(" (")
            state, father = rest.rpartition(") ")[2].split()[:2]
            if int(father) == parent and state != "Z":
                found.append(int(pid))
    return sorted(found)


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(") ")[2][0] != "Z"
    except OSError:
        return False


def command_of(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""
