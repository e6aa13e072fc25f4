"""The same rows without the program: what the database's own driver can take, from ten processes.

``python -m tests.bench.raw_taps JOB``: JOB is a JSON file (see ``Job``); how many taps were written is printed.
"""

from __future__ import annotations

import fcntl
import json
import secrets
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg

ROOT = Path(__file__).resolve().parents[2]
SECONDS_TO_START = 1.5


@dataclass(frozen=True, slots=True)
class Job:
    url: str  # a file of SQLite, or postgres://
    sqlite_setup: str  # the program's own settings
    steps: dict[str, list[int]]  # shell → its steps, in order
    person: int
    person_name: str
    body: str
    readings: list[list[float]]  # check point, value
    starts_at: float
    seconds: float


def raw_rate(job: dict[str, Any], steps: dict[int, list[int]], processes: int) -> float:
    """Taps a second from so many processes at once, each with shells of its own."""
    starts_at = time.time() + SECONDS_TO_START
    every = list(steps.items())
    with tempfile.TemporaryDirectory() as folder:
        running = []
        for number in range(processes):
            own = {str(shell): ids for shell, ids in every[number::processes]}
            path = Path(folder) / f"{number}.json"
            path.write_text(json.dumps(asdict(Job(**job, steps=own, starts_at=starts_at))))
            command = [sys.executable, "-m", "tests.bench.raw_taps", str(path)]
            running.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT))
        written = [int(process.communicate()[0]) for process in running]
        assert all(process.returncode == 0 for process in running)
    return sum(written) / float(job["seconds"])


def _work(job: Job) -> int:
    write = _sqlite(job) if not job.url.startswith("postgres") else _postgres(job)
    time.sleep(max(0.0, job.starts_at - time.time()))
    ends, written = time.monotonic() + job.seconds, 0
    for tap in _taps(job):
        write(tap)
        if time.monotonic() >= ends:
            return written
        written += 1
    return written


@dataclass(frozen=True, slots=True)
class _Tap:
    shell: int
    sequence: int
    attempt: int
    step: int
    following: int | None


def _taps(job: Job) -> Iterator[_Tap]:
    """Every step of every shell, and from the start again as further attempts."""
    sequences = dict.fromkeys(job.steps, 1)
    for attempt in range(1, 10_000):
        for shell, steps in job.steps.items():
            for step, following in zip(steps, [*steps[1:], None], strict=True):
                sequences[shell] += 1
                yield _Tap(int(shell), sequences[shell], attempt, step, following)


_DONE = "UPDATE routing_operation SET state = 'done', done_at = ?, touch_seconds = 0, paused_at = NULL WHERE id = ?"
_READY = "UPDATE routing_operation SET state = 'ready', ready_at = ?, not_before = NULL WHERE id = ?"
_RECORD = (
    "INSERT INTO routing_shellrecord (shell_id, sequence, kind, operation_id, at, received_at, person_id, person_name,"
    " device, body, tap_key, previous_hash, hash) VALUES (?, ?, 'signed', ?, ?, ?, ?, ?, 'Tablet 1', ?, ?, ?, ?)"
    " RETURNING id"
)
_CHAIN = "UPDATE routing_shell SET chain_length = ?, chain_head = ? WHERE id = ?"
_SIGNED = (
    "INSERT INTO quality_signoff (record_id, operation_id, attempt, person_id, at) VALUES (?, ?, ?, ?, ?) RETURNING id"
)
_READINGS = "INSERT INTO quality_reading (sign_off_id, check_point_id, value, passed) VALUES " + ", ".join(
    ["(?, ?, ?, ?)"] * 3
)


def _statements(job: Job, ask: Callable[[str, Sequence[Any]], Any], tap: _Tap, now: Any) -> None:
    """One tap, inside a transaction. ``ask`` gives the id that an INSERT returns."""
    head = secrets.token_hex(32)
    ask(_DONE, (now, tap.step))
    if tap.following is not None:
        ask(_READY, (now, tap.following))
    key = secrets.token_urlsafe(16)
    who = (job.person, job.person_name)
    record = ask(_RECORD, (tap.shell, tap.sequence, tap.step, now, now, *who, job.body, key, head, head))
    ask(_CHAIN, (tap.sequence, head, tap.shell))
    signed = ask(_SIGNED, (record, tap.step, tap.attempt, job.person, now))
    ask(_READINGS, [value for point, read in job.readings for value in (signed, int(point), read, True)])


def _sqlite(job: Job) -> Callable[[_Tap], None]:
    """In turn behind a lock beside the database, as the program does it: left to poll, ten writers are slower."""
    connection = sqlite3.connect(job.url, isolation_level=None, timeout=20)
    connection.executescript(job.sqlite_setup)
    turn = Path(job.url + ".turn").open("w")  # noqa: SIM115 (as long as the process)

    def ask(statement: str, values: Sequence[Any]) -> Any:
        row = connection.execute(statement, values)
        return row.fetchone()[0] if statement.endswith("RETURNING id") else None

    def write(tap: _Tap) -> None:
        fcntl.flock(turn, fcntl.LOCK_EX)
        connection.execute("BEGIN IMMEDIATE")
        _statements(job, ask, tap, datetime.now(UTC).isoformat(sep=" "))
        connection.execute("COMMIT")
        fcntl.flock(turn, fcntl.LOCK_UN)

    return write


def _postgres(job: Job) -> Callable[[_Tap], None]:
    connection = psycopg.connect(job.url)

    def ask(statement: str, values: Sequence[Any]) -> Any:
        row = connection.execute(statement.replace("?", "%s"), values)
        found = row.fetchone() if statement.endswith("RETURNING id") else None
        return found[0] if found else None

    def write(tap: _Tap) -> None:
        with connection.transaction():
            _statements(job, ask, tap, datetime.now(UTC))

    return write


if __name__ == "__main__":
    print(_work(Job(**json.loads(Path(sys.argv[1]).read_text()))))
