"""Taking a backup while the shop works, and dropping old ones.

A backup is a folder: the database as one file, what else lies in SHOP_DATA, and a manifest. It gets its name only when
all of it is written, read back and on the disk; what was broken off is cleared away by the next one.
"""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db import connection

from quality.models import Photo
from shopfloor.backups.databases import (
    FILES,
    applied_migrations,
    size_of_database,
    sqlite_place,
    take_out,
)
from shopfloor.backups.manifest import (
    BackupRefused,
    KeptFile,
    Manifest,
    copy_file,
    first_damage,
    hash_of,
    keep_on_disk,
    read_manifest,
    write_manifest,
)

PREFIX = "shop-"
UNFINISHED = ".unfinished-"
BESIDE = "data"  # the folder inside a backup for what lay beside the database
# Made again by itself, or the backups themselves. Whatever else lies in SHOP_DATA is kept.
LEFT_OUT = {"static", "papers", "logs", "backups", "write.lock", "test.sqlite3"}
EMBEDDED = "shop.sqlite3"  # left behind by a shop that moved to PostgreSQL
SPARE_BYTES = 64 * 1024 * 1024  # what a backup leaves free for the shop's own work


@dataclass(frozen=True, slots=True)
class Taken:
    folder: Path
    manifest: Manifest
    kept: int
    dropped: tuple[str, ...]
    damaged: tuple[str, ...]  # older backups that would be refused
    lost_photos: tuple[str, ...]  # named by the record, and missing or changed in the shop itself


def take_backup(folder: Path, *, keep: int, now: datetime) -> Taken:
    """Take one backup into ``folder`` and drop the oldest good ones beyond ``keep``. Raises BackupRefused."""
    if not applied_migrations():
        raise BackupRefused("There is no shop here to back up. Check SHOP_DATA and DATABASE_URL.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            before = list(_good(folder))
            _require_room(folder, before)
            name = _free_name(folder, now)
            unfinished = folder / f"{UNFINISHED}{name}"
            try:
                manifest, lost = _write(unfinished, before[-1] if before else None, now)
                unfinished.rename(folder / name)
                keep_on_disk(folder)
            except BaseException:
                shutil.rmtree(unfinished, ignore_errors=True)
                raise
            dropped, damaged = _drop(folder, name, keep)
    except OSError as error:
        raise BackupRefused(
            f"The backup could not be written to {folder} ({error.strerror or error}). Nothing was dropped; the backups "
            "that were there are as they were."
        ) from error
    kept = len(list(_good(folder)))
    return Taken(folder / name, manifest, kept, tuple(dropped), tuple(damaged), tuple(lost))


def backups_in(folder: Path) -> list[Path]:
    """Every finished backup of a folder, oldest first; good or not."""
    return sorted(each for each in folder.glob(f"{PREFIX}*") if each.is_dir())


def data_files() -> Iterator[tuple[str, Path]]:
    """What lies in SHOP_DATA beside the database and can't be made again, with its path there."""
    root = Path(settings.SHOP_DATA)
    left_out = LEFT_OUT | _names_of_database()
    for top in sorted(root.iterdir()):
        if top.name in left_out or top.name.startswith("."):
            continue
        if top.is_file():
            yield top.name, top
        for where, folders, names in os.walk(top.resolve()):  # the photos may live on a larger disk
            folders.sort()
            for name in sorted(names):
                if not name.startswith("."):  # one that is being written
                    path = Path(where) / name
                    yield str(Path(top.name) / path.relative_to(top.resolve())), path


def _names_of_database() -> set[str]:
    names = {EMBEDDED, sqlite_place().name} if connection.vendor == "sqlite" else {EMBEDDED}
    return names | {f"{name}-{part}" for name in names for part in ("wal", "shm", "journal")}


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One backup into a folder at a time; what an earlier one left unfinished goes."""
    with (folder / ".lock").open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise BackupRefused(f"Another backup into {folder} is running; wait until it is done.") from error
        for left in folder.glob(f"{UNFINISHED}*"):
            shutil.rmtree(left, ignore_errors=True)
        yield


def _good(folder: Path) -> Iterator[Path]:
    for each in backups_in(folder):
        try:
            manifest = read_manifest(each)
        except BackupRefused:
            continue
        if not first_damage(each, manifest, thoroughly=False):
            yield each


def _require_room(folder: Path, before: list[Path]) -> None:
    """A backup that fills the disk of the shop would stop its work."""
    known = read_manifest(before[-1]).files if before else {}
    new = sum(path.stat().st_size for name, path in data_files() if f"{BESIDE}/{name}" not in known)
    wanted = size_of_database() + new + SPARE_BYTES
    free = shutil.disk_usage(folder).free
    if free < wanted:
        raise BackupRefused(
            f"{folder} has {_mb(free)} free and the backup may need {_mb(wanted)}. Nothing was written. Make room, "
            "take another disk, or keep fewer backups (--keep)."
        )


def _free_name(folder: Path, now: datetime) -> str:
    name = f"{PREFIX}{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    taken = {each.name for each in folder.iterdir()}
    return next(each for n in range(1, 1000) if (each := name if n == 1 else f"{name}-{n}") not in taken)


def _write(folder: Path, previous: Path | None, now: datetime) -> tuple[Manifest, list[str]]:
    folder.mkdir(mode=0o700)  # hashes of PINs and the secret key are in it
    database = FILES[connection.vendor]
    snapshot = take_out(folder / database)
    # Photos are written before the row that names them and never change: those of that moment are all there by now.
    named = dict(Photo.objects.values_list("file", "sha256"))
    files = {database: KeptFile(hash_of(folder / database), (folder / database).stat().st_size)}
    known = read_manifest(previous).files if previous else {}
    for name, path in data_files():
        place = f"{BESIDE}/{name}"
        try:
            files[place] = _keep(path, folder / place, previous / place if previous else None, known.get(place))
        except FileNotFoundError:  # gone since it was listed: it was no photo
            continue
    manifest = Manifest(
        made_at=now.astimezone(UTC).isoformat(timespec="seconds"),
        engine=connection.vendor,
        server=snapshot.server,
        database=database,
        migrations=snapshot.migrations,
        tables=snapshot.tables,
        files=files,
    )
    if damage := first_damage(folder, manifest, thoroughly=True):
        raise BackupRefused(f"The backup can't be read back: {damage}. The disk may be failing; take another one.")
    write_manifest(folder, manifest)
    for where, _, _ in os.walk(folder):
        keep_on_disk(Path(where))
    media = Path(settings.MEDIA_ROOT).name
    lost = [
        file
        for file, sha in named.items()
        if (kept := files.get(f"{BESIDE}/{media}/{file}")) is None or kept.sha256 != sha
    ]
    return manifest, sorted(lost)


def _keep(source: Path, target: Path, earlier: Path | None, told: KeptFile | None) -> KeptFile:
    """Copy a file, or share it with the backup before when that one still has the very same."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if earlier is not None and told is not None and source.stat().st_size == told.bytes:
        try:
            if hash_of(source) == told.sha256 == hash_of(earlier):
                os.link(earlier, target)
                return told
        except OSError:  # a disk that can't share, or a damaged one: a copy of its own then
            target.unlink(missing_ok=True)
    return copy_file(source, target)


def _drop(folder: Path, newest: str, keep: int) -> tuple[list[str], list[str]]:
    """Drop what is older than the ``keep`` newest good backups. The one just taken was read back, and stays."""
    good = [each for each in _good(folder) if each.name != newest]
    kept = {newest, *(each.name for each in good[len(good) - (keep - 1) :] if keep > 1)}
    dropped = [each.name for each in good if each.name not in kept]
    damaged = [each.name for each in backups_in(folder) if each.name not in kept and each.name not in dropped]
    oldest = min(kept)
    for name in [*dropped, *(each for each in damaged if each < oldest)]:
        shutil.rmtree(folder / name, ignore_errors=True)
    return dropped, [each for each in damaged if (folder / each).exists()]


def _mb(size: int) -> str:
    return f"{size / 1e6:,.0f} MB"
