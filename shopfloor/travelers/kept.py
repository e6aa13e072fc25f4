"""Travelers that were made ahead, as files: found by shell and by a key of everything that they show.

A sheaf is one file with the drawn pages of several shells; a small file for each shell says where in which sheaf it lies. A
body that many shells share is kept too. Dropped is what nobody printed or asked for in 30 days, a print a day after it
was made, and what another version of the program made when that has not been in use for a day. The folder may be emptied at
any time: what is missing is made again.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from shopfloor.paper_queue import folder, program, write_whole

DAY_S = 24 * 3600
UNUSED_S = 30 * DAY_S
PRINTS_S = DAY_S
AT_ONCE = 10  # shells of one sheaf: what is set for them at once takes memory, and two processes share the sheaves
NOT_YET_NAMED_S = 3600  # a sheaf is written before the shells that name it


@dataclass(frozen=True, slots=True)
class Pages:
    """Where the pages of one shell lie: some of those of a sheaf."""

    sheaf: Path
    first: int
    count: int


def _place(serial: str, key: str) -> Path:
    return folder("shells") / f"{serial}.{key}"


def find(serial: str, key: str) -> Pages | None:
    """Where the traveler of a shell lies that shows just this; None when it is not made yet."""
    try:
        sheaf, first, count = _place(serial, key).read_text().split()
    except (FileNotFoundError, ValueError):
        return None
    found = Pages(folder("sheaves") / sheaf, int(first), int(count))
    return found if found.sheaf.exists() else None


def use(serial: str, key: str) -> None:
    """Somebody wanted it today: it is not dropped for a while."""
    os.utime(_place(serial, key))


def keep(sheaf: bytes, shells: Sequence[tuple[str, str, int]]) -> None:
    """Keep a sheaf; ``shells`` are serial, key and number of pages of each, in its order."""
    path = folder("sheaves") / hashlib.sha256(repr(shells).encode()).hexdigest()[:40]
    write_whole(path, sheaf)
    first = 0
    for serial, key, count in shells:
        write_whole(_place(serial, key), f"{path.name} {first} {count}".encode())
        first += count


def body_path(key: str, paper: str) -> Path:
    return folder("bodies") / f"{key}.{paper}"


def print_path(name: str) -> Path:
    return folder("prints") / f"{name}.pdf"


def drop_old(now: float | None = None) -> int:
    """Delete what nobody needs any more; returns how many files. Another process may do the same at this moment."""
    now = time.time() if now is None else now
    gone = sum(_drop(folder(name), now - UNUSED_S) for name in ("shells", "bodies"))
    gone += sum(_drop(folder(name), now - PRINTS_S) for name in ("prints", "asked", "failed"))
    os.utime(folder("places"), (now, now))  # this version is in use
    for other in settings.PAPERS.iterdir():
        with suppress(FileNotFoundError):
            if other.name != program() and (other / "places").stat().st_mtime < now - DAY_S:
                shutil.rmtree(other, ignore_errors=True)
    return gone + _drop(folder("sheaves"), now - NOT_YET_NAMED_S, frozenset(_named()))


def _named() -> Iterator[str]:
    """The sheaves that a shell lies in."""
    for path in folder("shells").iterdir():
        if not path.name.startswith("."):
            with suppress(FileNotFoundError):
                yield path.read_text().split(" ")[0]


def _drop(where: Path, before: float, but: frozenset[str] = frozenset()) -> int:
    """A name with a dot is a file that is being written, or what a process left that was killed meanwhile."""
    gone = 0
    for entry in os.scandir(where):
        with suppress(FileNotFoundError):  # gone already
            if entry.name not in but and entry.stat().st_mtime < before:
                Path(entry.path).unlink()
                gone += 1
    return gone
