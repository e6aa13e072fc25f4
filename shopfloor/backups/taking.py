"""Taking a backup while the shop works, and dropping old ones.

A backup is a folder: the database as one file, what else lies in SHOP_DATA, and a manifest. It gets its name only when
all of it is written, read back and on the disk; what was broken off is cleared away by the next one.
"""

from __future__ import annotations

import fcntl
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
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
BACKUPS = "backups"  # the one folder in SHOP_DATA that may hold them
_OURS = re.compile(rf"(?P<moment>{PREFIX}\d{{8}}T\d{{6}}Z)(-(?P<number>\d+))?")
BESIDE = "data"  # the folder inside a backup for what lay beside the database
# Made again by itself, or the backups themselves. Whatever else lies in SHOP_DATA is kept.
LEFT_OUT = {"static", "papers", "logs", BACKUPS, "write.lock", "test.sqlite3"}
EMBEDDED = "shop.sqlite3"  # left behind by a shop that moved to PostgreSQL
SPARE_BYTES = 64 * 1024 * 1024  # what a backup leaves free for the shop's own work


@dataclass(frozen=True, slots=True)
class Taken:
    folder: Path
    manifest: Manifest
    kept: int
    dropped: tuple[str, ...]
    dropped_damaged: dict[str, str]  # older than every good one that is kept → what was wrong with it
    undroppable: dict[str, str]  # should go and could not → why
    damaged: dict[str, str]  # older backups that would be refused → what is wrong with them
    lost_photos: tuple[str, ...]  # named by the record, and missing or changed in the shop itself


@dataclass(frozen=True, slots=True)
class _Earlier:
    """A backup that was there before. Without a manifest nobody knows what it is, and it is left alone."""

    folder: Path
    manifest: Manifest | None
    damage: str


def take_backup(folder: Path, *, keep: int, now: datetime) -> Taken:
    """Take one backup into ``folder`` and drop the oldest good ones beyond ``keep``. Raises BackupRefused."""
    if not applied_migrations():
        raise BackupRefused("There is no shop here to back up. Check SHOP_DATA and DATABASE_URL.")
    _require_outside(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            earlier = [_looked_at(each) for each in backups_in(folder)]
            before = next((each for each in reversed(earlier) if not each.damage), None)
            _require_room(folder, before)
            name = _free_name(folder, now)
            unfinished = folder / f"{UNFINISHED}{name}"
            try:
                manifest, lost = _write(unfinished, before, now)
                unfinished.rename(folder / name)
                keep_on_disk(folder)
            except BaseException:
                shutil.rmtree(unfinished, ignore_errors=True)
                raise
            taken = _dropped(Taken(folder / name, manifest, 0, (), {}, {}, {}, tuple(lost)), earlier, keep)
    except OSError as error:
        raise BackupRefused(
            f"The backup could not be written to {folder} ({error.strerror or error}). Nothing was dropped; the backups "
            "that were there are as they were."
        ) from error
    return taken


def backups_in(folder: Path) -> list[Path]:
    """Every finished backup of a folder, oldest first; good or not. Whatever has another name is somebody else's."""
    return sorted(
        (each for each in folder.glob(f"{PREFIX}*") if _OURS.fullmatch(each.name) and each.is_dir()), key=_age
    )


def _age(folder: Path) -> tuple[str, int]:
    named = _OURS.fullmatch(folder.name)
    assert named is not None
    return named["moment"], int(named["number"] or 1)


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
            folders[:] = sorted(each for each in folders if not each.startswith("."))
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
        for left in folder.glob(f"{UNFINISHED}{PREFIX}*"):
            if _OURS.fullmatch(left.name.removeprefix(UNFINISHED)):
                shutil.rmtree(left, ignore_errors=True)
        yield


def _looked_at(folder: Path) -> _Earlier:
    try:
        manifest = read_manifest(folder)
    except BackupRefused as refused:
        return _Earlier(folder, None, refused.message.rstrip("."))
    return _Earlier(folder, manifest, first_damage(folder, manifest, thoroughly=False))


def _require_outside(folder: Path) -> None:
    """A backup that lies in what it copies would copy itself, and the next one both."""
    wanted, data = folder.resolve(), Path(settings.SHOP_DATA).resolve()
    own = data / BACKUPS
    inside = [] if wanted == own or own in wanted.parents else [data]
    if data.exists():  # what is kept on a larger disk is copied too
        inside += [top.resolve() for top in data.iterdir() if top.name not in LEFT_OUT and top.is_symlink()]
    for each in inside:
        if wanted == each or each in wanted.parents:
            raise BackupRefused(
                f"{folder} lies inside of {each}, which is what a backup copies. Nothing was written. Name a folder "
                f"elsewhere, best on another disk, or {data / BACKUPS}."
            )


def _require_room(folder: Path, before: _Earlier | None) -> None:
    """A backup that fills the disk of the shop would stop its work."""
    known = before.manifest.files if before and before.manifest else {}
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


def _write(folder: Path, before: _Earlier | None, now: datetime) -> tuple[Manifest, list[str]]:
    folder.mkdir(mode=0o700)  # hashes of PINs and the secret key are in it
    database = FILES[connection.vendor]
    snapshot = take_out(folder / database)
    # Photos are written before the row that names them and never change: those of that moment are all there by now.
    named = dict(Photo.objects.values_list("file", "sha256"))
    files = {database: KeptFile(hash_of(folder / database), (folder / database).stat().st_size)}
    previous = before.folder if before else None
    known = before.manifest.files if before and before.manifest else {}
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


def _dropped(taken: Taken, earlier: list[_Earlier], keep: int) -> Taken:
    """Drop what is older than the ``keep`` newest good backups. The one just taken was read back, and stays."""
    good = [each.folder for each in earlier if not each.damage]
    old = good[: max(0, len(good) - (keep - 1))]
    oldest = min(_age(each) for each in [*good[len(old) :], taken.folder])
    dropped: list[str] = []
    dropped_damaged: dict[str, str] = {}
    damaged: dict[str, str] = {}
    undroppable: dict[str, str] = {}
    for each in earlier:
        name = each.folder.name
        beyond = len(good) + 1 >= keep and _age(each.folder) < oldest
        overdue = each.folder in old or (each.damage and each.manifest and beyond)
        if not overdue:
            if each.damage:
                damaged[name] = each.damage
        elif why := _delete(each.folder):
            undroppable[name] = why
        else:
            dropped.append(name)
            if each.damage:
                dropped_damaged[name] = each.damage
    kept = 1 + sum(each.exists() for each in good)
    return replace(
        taken,
        kept=kept,
        dropped=tuple(dropped),
        dropped_damaged=dropped_damaged,
        undroppable=undroppable,
        damaged=damaged,
    )


def _delete(folder: Path) -> str:
    """Why it could not be, or nothing. It loses its name first: killed in between, it is cleared away by the next one."""
    nameless = folder.with_name(f"{UNFINISHED}{folder.name}")
    try:
        folder.rename(nameless)
    except OSError as error:
        return error.strerror or str(error)
    shutil.rmtree(nameless, ignore_errors=True)
    return f"parts of it are left in {nameless.name}" if nameless.exists() else ""


def _mb(size: int) -> str:
    return f"{size / 1e6:,.0f} MB"
