"""Taking a database out as one file while the shop works, and putting it back, for both engines."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from shopfloor.backups.manifest import BackupRefused, keep_on_disk

FILES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
_DEBIAN = Path("/usr/lib/postgresql")  # one folder for each version; only wrappers are on the path


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One moment of the database, as a file."""

    server: str
    tables: dict[str, int]
    migrations: dict[str, list[str]]


def size_of_database() -> int:
    """About how many bytes a copy takes at most."""
    question = {
        "sqlite": "SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()",
        "postgresql": "SELECT pg_database_size(current_database())",
    }
    with connection.cursor() as cursor:
        cursor.execute(question[connection.vendor])
        return int(cursor.fetchone()[0])


def tables_of_database() -> list[str]:
    with connection.cursor() as cursor:
        return sorted(connection.introspection.table_names(cursor))


def rows_of_tables() -> dict[str, int]:
    with connection.cursor() as cursor:
        return {table: _count(cursor, table) for table in tables_of_database()}


def applied_migrations() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for app, name in sorted(MigrationRecorder(connection).applied_migrations()):
        found.setdefault(app, []).append(name)
    return found


def take_out(target: Path) -> Snapshot:
    """Write one moment of the database into ``target`` and read the whole of it back. Nobody waits for it."""
    if connection.vendor == "postgresql":
        return _dump(target)
    return _copy(target)


def put_back(source: Path) -> None:
    """Fill the empty database from what ``take_out`` wrote; all of it or nothing."""
    connection.close()
    if connection.vendor == "postgresql":
        _run(
            *("pg_restore", "--exit-on-error", "--single-transaction", "--no-owner", "--no-privileges"),
            *(f"--dbname={_address()}", str(source)),
        )
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        return
    place = sqlite_place()
    arriving = place.with_name(f".{place.name}.arriving")
    try:
        shutil.copyfile(source, arriving)
        _require_whole(arriving)
        with arriving.open("rb+") as file:
            os.fsync(file.fileno())
        for part in ("wal", "shm"):  # of the empty database that was here
            place.with_name(f"{place.name}-{part}").unlink(missing_ok=True)
        arriving.rename(place)
    except (OSError, BackupRefused):
        arriving.unlink(missing_ok=True)
        raise
    keep_on_disk(place.parent)


def sqlite_place() -> Path:
    return Path(connection.settings_dict["NAME"])


def _require_whole(file: Path) -> None:
    try:
        with closing(sqlite3.connect(file)) as arriving:
            found = arriving.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.DatabaseError as error:
        found = str(error)
    if found != "ok":
        raise BackupRefused(f"The database of this backup can't be used ({found})")


def _copy(target: Path) -> Snapshot:
    """SQLite's online backup, all pages in one step: in its write-ahead mode a reader keeps no writer waiting."""
    connection.ensure_connection()
    with closing(sqlite3.connect(target)) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file that needs no others beside it
        copy.execute("PRAGMA synchronous=FULL")
        found = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if found != "ok":
            raise BackupRefused(f"The database is damaged ({found}). Come back from the last good backup.")
        if strayed := copy.execute("PRAGMA foreign_key_check").fetchone():
            raise BackupRefused(f"The database is damaged (table {strayed[0]}). Come back from the last good backup.")
        names = copy.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        tables = {table: _count(copy, table) for (table,) in sorted(names.fetchall())}
        migrations: dict[str, list[str]] = {}
        for app, name in copy.execute("SELECT app, name FROM django_migrations ORDER BY app, name"):
            migrations.setdefault(app, []).append(name)
        copy.commit()
    return Snapshot(sqlite3.sqlite_version, tables, migrations)


def _dump(target: Path) -> Snapshot:
    """pg_dump, and the rows counted in the very same moment."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot(), current_setting('server_version')")
            moment, server = cursor.fetchone()
        tables, migrations = rows_of_tables(), applied_migrations()
        _run(
            *("pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={moment}"),
            *(f"--file={target}", f"--dbname={_address()}"),
        )
    _run("pg_restore", "--file=/dev/null", str(target))  # reads every part of it
    with target.open("rb+") as file:
        os.fsync(file.fileno())
    return Snapshot(server, tables, migrations)


def _count(cursor: Any, table: str) -> int:
    found = cursor.execute(f'SELECT COUNT(*) FROM "{table}"')  # noqa: S608 - the database names its own tables
    return int((found or cursor).fetchone()[0])


def _address() -> str:
    """How the database's own programs reach it; the password goes another way, for everybody sees a command line."""
    from psycopg import conninfo, pq

    known = {option.keyword.decode() for option in pq.Conninfo.get_defaults()} - {"password", "client_encoding"}
    parameters = connection.get_connection_params()
    return conninfo.make_conninfo(**{name: value for name, value in parameters.items() if name in known})


def _run(program: str, *arguments: str) -> None:
    environment = dict(os.environ)
    if password := connection.settings_dict["PASSWORD"]:
        environment["PGPASSWORD"] = password
    ended = subprocess.run(  # noqa: S603 - a program of the database, no shell between
        [_client(program), *arguments], env=environment, check=False, capture_output=True, text=True
    )
    if ended.returncode:
        said = next(iter(ended.stderr.strip().splitlines()), f"status {ended.returncode}")
        raise BackupRefused(f"{program} could not do it: {re.sub(r'^pg_[a-z]+: (error: )?', '', said)}")


def _client(program: str) -> str:
    """The newest one of this machine: an old pg_dump refuses a newer server, never the other way round."""
    found = sorted(_DEBIAN.glob(f"*/bin/{program}"), key=lambda path: int(path.parts[-3]))
    chosen = str(found[-1]) if found else shutil.which(program)
    if chosen is None:
        raise BackupRefused(f"{program} is not on this machine. Install it: sudo apt-get install postgresql-client")
    return chosen
