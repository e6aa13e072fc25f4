"""Papers to be made, as files that wait in a folder, and the processes that make them: never the web worker itself.

Whoever wants something made writes a file and sees that somebody works (``wake``). At most two processes do; each holds a
lock on one of two files while it lives, and a lock on what it is making. The kernel lets go of a lock when its process
ends, however it ends: then the next ask finds the work where it was. What was asked for is deleted when it is made.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import IO, Any

from django.conf import settings

logger = logging.getLogger(__name__)
PLACES = 2
# What somebody waits for comes first, the parts of a print before the print.
RANK_PART, RANK_PRINT, RANK_AHEAD = 0, 1, 2
FAILED_S = 600.0  # then it may be asked for again
MOST_TRIES = 3  # what ended its process so often is given up, so that it does not end every next one


@lru_cache
def program() -> str:
    """Stands for the program as this process began it. Another one may lay out, draw or word anything differently.

    Each has a folder of its own, so that after a new version was installed nobody waits for a process of the old one.
    Reading the whole program takes a while. A process that lives long asks when it begins (``wsgi``, ``make_papers``), so
    that this is what it loaded; one that has nothing to do with paper never does.
    """
    base = settings.BASE_DIR
    digest = hashlib.sha256(f"{settings.TIME_ZONE} {version('weasyprint')} {version('pypdf')}".encode())
    packages = [base / name for name in ("routing", "quality", "shopfloor")]
    sources = [path for package in packages for ending in ("py", "mo") for path in package.rglob(f"*.{ending}")]
    for path in sorted(sources):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:20]


_started: list[subprocess.Popen[bytes]] = []


@dataclass(frozen=True, slots=True)
class Ask:
    """Something to be made. Asks with a lower ``rank`` come first; the same name twice is the same ask."""

    rank: int
    name: str
    wanted: Mapping[str, Any]  # JSON

    @property
    def path(self) -> Path:
        return folder("asked") / f"{self.rank}-{self.name}"


def travelers_ahead(order: str, base_url: str) -> Ask:
    """Travelers of an order, before somebody prints them."""
    return Ask(RANK_AHEAD, f"order-{order}", {"do": "order", "order": order, "base_url": base_url})


def folder(name: str) -> Path:
    path: Path = settings.PAPERS / program() / name
    path.mkdir(parents=True, exist_ok=True)
    return path


def write_whole(path: Path, content: bytes) -> None:
    """A reader sees all of it or nothing, whenever the power goes."""
    part = path.with_name(f".{path.name}.{os.getpid()}-{threading.get_ident()}")
    with part.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def put(ask: Ask) -> None:
    """Ask for something, unless it was asked for already or failed just now. Call ``wake`` afterwards."""
    if not ask.path.exists() and not has_failed(ask.name):
        write_whole(ask.path, json.dumps(ask.wanted).encode() + b"\n")


def is_asked(ask: Ask) -> bool:
    """Whether it still waits or is being made."""
    return ask.path.exists()


def has_failed(name: str) -> bool:
    """Whether this could not be made a short while ago."""
    try:
        return time.time() - (folder("failed") / name).stat().st_mtime < FAILED_S
    except FileNotFoundError:
        return False


def waiting() -> list[Path]:
    """What is asked for, most urgent first, the longest wait first."""
    found = []
    for entry in os.scandir(folder("asked")):
        if not entry.name.startswith("."):
            try:
                found.append((entry.name.split("-")[0], entry.stat().st_mtime_ns, Path(entry.path)))
            except FileNotFoundError:
                continue  # made just now
    return [path for _, _, path in sorted(found)]


@contextmanager
def next_ask() -> Iterator[Ask | None]:
    """The most urgent ask that nobody makes, this process's own until the end of the block; None when there is none.

    It is done when the block ends, even by an error: what can't be made is not tried for ever. Where the process ends
    instead, the ask stays.
    """
    for path in waiting():
        with _claimed(path) as file:
            if file is None:
                continue
            ask = _read(path, file)
            if ask is None:
                _give_up(path)
                continue
            try:
                yield ask
            except Exception:
                _give_up(path)
                raise
            path.unlink(missing_ok=True)
            return
    yield None


@contextmanager
def _claimed(path: Path) -> Iterator[IO[bytes] | None]:
    """The file of an ask, locked; None when somebody else has it or made it meanwhile."""
    try:
        file = path.open("r+b")
    except FileNotFoundError:
        yield None
        return
    with file:
        yield file if _locked(file) and _is_still(path, file) else None


def _give_up(path: Path) -> None:
    (folder("failed") / path.name.partition("-")[2]).touch()
    path.unlink(missing_ok=True)


def _read(path: Path, file: IO[bytes]) -> Ask | None:
    """The ask in a file; one more line there for each time that somebody began to make it."""
    first, *tries = file.read().split(b"\n")[:-1] or [b""]
    rank, _, name = path.name.partition("-")
    try:
        ask = Ask(int(rank), name, json.loads(first))
    except ValueError:
        logger.error("%s can't be read and is given up", path)
        return None
    if len(tries) >= MOST_TRIES:
        logger.error("%s ended its process %d times and is given up: %s", path.name, len(tries), first.decode())
        return None
    file.write(b"begun\n")
    file.flush()
    return ask


def _locked(file: IO[Any]) -> bool:
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_still(path: Path, file: IO[bytes]) -> bool:
    """Whether the file that was opened is still the one of that name: somebody may have made it meanwhile."""
    try:
        return path.stat().st_ino == os.fstat(file.fileno()).st_ino
    except FileNotFoundError:
        return False


@contextmanager
def place() -> Iterator[bool]:
    """One of the places to work; False when all are taken."""
    for number in range(PLACES):
        with (folder("places") / str(number)).open("a") as file:
            if _locked(file):
                yield True
                return
    yield False


@contextmanager
def only_me(what: str, numbers: Iterable[int]) -> Iterator[None]:
    """No other process makes those of these numbers meanwhile; who comes second waits. Not nested for one ``what``."""
    with (folder("places") / what).open("a") as file:
        for number in sorted(numbers):  # in one order, so that two can't wait for each other
            fcntl.lockf(file, fcntl.LOCK_EX, 1, number)
        yield


def wake() -> None:
    """See that what is asked for is being made: start as many processes as there is work and room for."""
    _started[:] = [process for process in _started if process.poll() is None]
    _started.extend(_start() for _ in range(_wanting()))


def _start() -> subprocess.Popen[bytes]:
    return subprocess.Popen(  # noqa: S603 (nothing of it comes from outside)
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "make_papers"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        start_new_session=True,  # Ctrl-C at the server is none of its business
        env=os.environ | environment(),
    )


def _wanting() -> int:
    """How many processes could be of use and are not there. Those that wait for work will take some of it."""
    asks = unclaimed = 0
    for path in waiting():
        with _claimed(path) as file:
            unclaimed += file is not None
        asks += 1
    free = 0
    for number in range(PLACES):
        with (folder("places") / str(number)).open("a") as file:
            free += _locked(file)
    idle = max(0, PLACES - free - (asks - unclaimed))
    return max(0, min(free, unclaimed - idle))


def environment() -> dict[str, str]:
    """What such a process must be told beside what this one was told."""
    return {"SHOP_DATA": str(settings.SHOP_DATA)}
