"""Coming back from a backup, into an empty place only."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader

from shopfloor.backups.databases import put_back, rows_of_tables, tables_of_database
from shopfloor.backups.manifest import (
    BackupRefused,
    Manifest,
    copy_file,
    first_damage,
    keep_on_disk,
    read_manifest,
)
from shopfloor.backups.taking import BESIDE, backups_in, data_files

ENGINES = {"sqlite": "the embedded database", "postgresql": "PostgreSQL"}
SECRET = "secret_key"  # noqa: S105 - the name of its file


def restore_backup(folder: Path) -> Manifest:
    """Put the whole of a backup into the empty shop; all of it or nothing. Raises BackupRefused."""
    if not (folder / "manifest.json").exists() and (inside := backups_in(folder)):
        names = ", ".join(each.name for each in inside[-5:])
        raise BackupRefused(f"{folder} holds several backups; name the one to come back from. The newest: {names}.")
    manifest = read_manifest(folder)
    if damage := first_damage(folder, manifest, thoroughly=True):
        raise BackupRefused(f"{folder} is damaged: {damage}. Nothing was restored; take another backup.")
    _require_same_engine(manifest)
    _require_known(manifest)
    _require_empty()
    put: list[Path] = []
    try:
        _put_files(folder, manifest, put)
        put_back(folder / manifest.database)
    except (OSError, BackupRefused) as error:
        for path in put:
            path.unlink(missing_ok=True)
        said = error.message if isinstance(error, BackupRefused) else error.strerror or str(error)
        raise BackupRefused(f"{said.rstrip('.')}. Nothing was restored; the place is empty as before.") from error
    if (rows := rows_of_tables()) != manifest.tables:
        wrong = sorted(name for name in rows.keys() | manifest.tables if rows.get(name) != manifest.tables.get(name))
        raise BackupRefused(f"The rows of {', '.join(wrong)} are not those of the backup. Do not work with this shop.")
    call_command("migrate", verbosity=0, interactive=False)
    return manifest


def _require_same_engine(manifest: Manifest) -> None:
    if manifest.engine == connection.vendor:
        return
    of, here = ENGINES[manifest.engine], ENGINES[connection.vendor]
    way = (
        "unset DATABASE_URL and restore; then manage.py move brings it to PostgreSQL"
        if manifest.engine == "sqlite"
        else "set DATABASE_URL to an empty PostgreSQL database and restore there"
    )
    raise BackupRefused(f"This is a backup of {of}, and this shop is set to {here}. To come back: {way}.")


def _require_known(manifest: Manifest) -> None:
    here = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    unknown = [
        f"{app} {name}" for app, names in manifest.migrations.items() for name in names if (app, name) not in here
    ]
    if unknown:
        raise BackupRefused(
            f"This backup was made by a newer program (it knows {unknown[0]}). Bring the program up to date, then restore."
        )


def _require_empty() -> None:
    """Nothing is ever written over. The secret key was made a moment ago, by starting this very command."""
    data = Path(settings.SHOP_DATA)
    try:
        data.mkdir(parents=True, exist_ok=True)  # on a new machine nothing made it before
    except OSError as error:
        raise BackupRefused(
            f"{data} can't be made ({error.strerror or error}). Nothing was restored. Check SHOP_DATA, or make that "
            "folder and give it to whoever runs the shop."
        ) from error
    there = [name for name, _ in data_files() if name != SECRET]
    try:
        tables = tables_of_database()
    except DatabaseError as error:
        connection.close()
        if connection.vendor != "sqlite":
            raise BackupRefused(f"The database does not answer: {str(error).splitlines()[0]}.") from error
        tables = ["what can't be read"]
    if not there and not tables:
        return
    what = f"the database has tables ({tables[0]} …)" if tables else f"{data} holds files ({there[0]} …)"
    move = (
        f"Stop the shop, put the old folder aside (mv {data} {data}.old) and restore again."
        if connection.vendor == "sqlite" or there
        else "Make a new, empty database, set DATABASE_URL to it, and restore again."
    )
    raise BackupRefused(f"A backup is restored into an empty place only, and here {what}. Nothing was touched. {move}")


def _put_files(folder: Path, manifest: Manifest, put: list[Path]) -> None:
    data = Path(settings.SHOP_DATA)
    folders = {data}
    for name, told in manifest.files.items():
        if name == manifest.database:
            continue
        target = data / Path(name).relative_to(BESIDE)
        if not target.resolve().is_relative_to(data.resolve()):
            raise BackupRefused(f"{name} would lie outside of the shop's folder")
        target.parent.mkdir(parents=True, exist_ok=True)
        if target == data / SECRET:
            target.unlink(missing_ok=True)
        put.append(target)
        if copy_file(folder / name, target) != told:
            raise BackupRefused(f"{name} changed while it was read")
        folders.add(target.parent)
    for each in folders:
        keep_on_disk(each)
