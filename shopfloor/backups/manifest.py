"""What a backup says of itself: what it is of, which files belong to it, and a hash over each and over all of this."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

NAME = "manifest.json"
VERSION = 1
_AT_ONCE = 1024 * 1024


class BackupRefused(Exception):
    """What was asked can't be done; the message says why, and what to do."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


@dataclass(frozen=True, slots=True)
class KeptFile:
    sha256: str
    bytes: int


@dataclass(frozen=True, slots=True)
class Manifest:
    made_at: str  # UTC
    engine: str  # sqlite or postgresql
    server: str  # the version of the database's program
    database: str  # name of the file that holds the database
    migrations: dict[str, list[str]]  # app → names, as applied
    tables: dict[str, int]  # table → rows
    files: dict[str, KeptFile]  # path inside the backup → what it must be; the database's file too

    @property
    def rows(self) -> int:
        return sum(self.tables.values())

    @property
    def bytes(self) -> int:
        return sum(file.bytes for file in self.files.values())


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Write it last: a backup without one was never finished."""
    content: dict[str, Any] = {"version": VERSION, **asdict(manifest)}
    content["sha256"] = _own_hash(content)
    with (folder / NAME).open("w") as file:
        json.dump(content, file, indent=1, sort_keys=True)
        file.flush()
        os.fsync(file.fileno())


def read_manifest(folder: Path) -> Manifest:
    """Raises BackupRefused when the folder is no backup, or what it says of itself was damaged."""
    try:
        content = json.loads((folder / NAME).read_text())
        told = content.pop("sha256")
    except FileNotFoundError as error:
        raise BackupRefused(f"{folder} is no backup, or one that was never finished: it has no {NAME}.") from error
    except (OSError, ValueError, KeyError, AttributeError, TypeError) as error:
        raise BackupRefused(f"The {NAME} of {folder} can't be read. Take another backup.") from error
    if told != _own_hash(content):
        raise BackupRefused(f"The {NAME} of {folder} was changed after it was written. Take another backup.")
    if content.pop("version") != VERSION:
        raise BackupRefused(f"{folder} was written by a newer version of the program; restore it with that version.")
    content["files"] = {path: KeptFile(**file) for path, file in content["files"].items()}
    return Manifest(**content)


def first_damage(folder: Path, manifest: Manifest, *, thoroughly: bool) -> str:
    """What is wrong with the files of a backup, or nothing. ``thoroughly`` reads them all; else the database is read, and
    of the rest only the sizes count, for there may be years of photos; coming back from one reads all of it.
    """
    for path, told in manifest.files.items():
        try:
            size = (folder / path).stat().st_size
            if size != told.bytes:
                return f"{path} has {size} bytes instead of {told.bytes}"
            if (thoroughly or path == manifest.database) and hash_of(folder / path) != told.sha256:
                return f"{path} is not what was written"
        except FileNotFoundError:
            return f"{path} is missing"
        except OSError as error:
            return f"{path} can't be read ({error.strerror})"
    return ""


def hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def copy_file(source: Path, target: Path) -> KeptFile:
    """Copy one file and tell what was read; the copy is on the disk when this returns."""
    digest, size = hashlib.sha256(), 0
    with source.open("rb") as read, target.open("xb") as write:
        for part in _parts(read.read):
            digest.update(part)
            write.write(part)
            size += len(part)
        write.flush()
        os.fsync(write.fileno())
    shutil.copymode(source, target)  # the secret key stays its owner's alone
    return KeptFile(digest.hexdigest(), size)


def keep_on_disk(folder: Path) -> None:
    """Names of files are kept by their folder; it has to reach the disk too."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _parts(read: Callable[[int], bytes]) -> Iterator[bytes]:
    while part := read(_AT_ONCE):
        yield part


def _own_hash(content: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
