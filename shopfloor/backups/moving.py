"""Moving a shop from the embedded database to PostgreSQL: every row, compared on both sides, and every record verified,
before anything counts.

The old database is held for oneself alone meanwhile, and closed for good at the end, so that no tap is ever taken in by
a shop that nobody looks at any more. The photos stay where they are, in SHOP_DATA.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, connections, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from shopfloor.backups.databases import rows_of_tables
from shopfloor.backups.manifest import BackupRefused
from shopfloor.backups.moved_check import MOVED
from shopfloor.backups.taking import EMBEDDED

OLD = "embedded"  # the alias of the database that is left
MADE_BY_MIGRATING = {"django_migrations", "django_content_type", "auth_permission"}
SENTENCE = "this shop has moved to PostgreSQL: start it with DATABASE_URL"
_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Moved:
    tables: int
    rows: int
    verified: str  # what was verified, in lines
    left: Path


def move_to_postgresql() -> Moved:
    """Copy every row into the empty PostgreSQL database of DATABASE_URL. Raises BackupRefused; the old shop works on then."""
    place = Path(settings.SHOP_DATA) / EMBEDDED
    if connection.vendor != "postgresql":
        raise BackupRefused("Set DATABASE_URL to the empty PostgreSQL database that the shop shall move to.")
    if not place.exists():
        raise BackupRefused(f"There is no shop to move: {place} does not exist. Check SHOP_DATA.")
    _reach(place)
    moved = None
    try:
        with transaction.atomic(using=OLD):
            _require_up_to_date()
            tables = list(_tables())
            _require_every_table_known(tables)
            _require_empty_target(tables)
            call_command("migrate", verbosity=0, interactive=False)
            with transaction.atomic():
                rows = _move(tables)
                verified = _verify()
                _close_old_shop()  # counts when the old database's transaction ends, which is after this one
            moved = Moved(len(tables), rows, verified, place)
    except DatabaseError as error:
        said = str(error).strip().splitlines()[0]
        if moved is not None:
            raise BackupRefused(
                f"The move is done: {moved.rows} rows are in PostgreSQL, and every record is verified. But the old database "
                f"could not be closed ({said}), and would still take in what nobody looks at. Put it aside, so that nobody "
                f"opens it by mistake: mv {place} {place}.moved. Start the shop with the same DATABASE_URL from now on, and "
                "do not move again."
            ) from error
        if "locked" in said:
            raise BackupRefused("The shop still runs on the embedded database. Stop it, then move.") from error
        raise BackupRefused(f"{said}. Nothing was moved; the shop works on as before.") from error
    finally:
        connections[OLD].close()
        del connections[OLD]
    return moved


def _reach(place: Path) -> None:
    """The old database for oneself alone: a server that still has it open makes this fail as locked."""
    alone = "PRAGMA locking_mode=EXCLUSIVE; PRAGMA foreign_keys=ON;"
    options = {"transaction_mode": "EXCLUSIVE", "timeout": 3, "init_command": alone}
    wanted = {"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": place, "OPTIONS": options}}
    connections.settings[OLD] = connections.configure_settings(wanted)["default"]


def _require_up_to_date() -> None:
    on_disk = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    if missing := on_disk - set(MigrationRecorder(connections[OLD]).applied_migrations()):
        raise BackupRefused(
            f"The embedded database is older than the program ({len(missing)} migrations are missing). Without "
            "DATABASE_URL run manage.py migrate, then move."
        )


def _require_empty_target(tables: list[type[models.Model]]) -> None:
    """Nothing of anybody's there; what an earlier try left behind, tables without rows, is no hindrance."""
    own = {model._meta.db_table for model in tables}
    for name, rows in rows_of_tables().items():
        if name not in own or (rows and name not in MADE_BY_MIGRATING):
            what = f"{name} has rows" if name in own else f"it has a table {name}"
            raise BackupRefused(
                f"The PostgreSQL database is not empty: {what}. Nothing was touched. Make a new, empty database, set "
                "DATABASE_URL to it and move again."
            )


def _tables() -> Iterator[type[models.Model]]:
    yield MigrationRecorder(connection).Migration
    for model in apps.get_models(include_auto_created=True):
        if model._meta.managed and not model._meta.proxy:
            yield model


def _require_every_table_known(tables: list[type[models.Model]]) -> None:
    with connections[OLD].cursor() as cursor:
        there = set(connections[OLD].introspection.table_names(cursor))
    if strange := sorted(there - {model._meta.db_table for model in tables}):
        raise BackupRefused(
            f"The program does not know the table {strange[0]}; it would be left behind. Nothing was moved."
        )


def _move(tables: list[type[models.Model]]) -> int:
    """Everything in one transaction: keys that point to each other are looked at when all rows are there."""
    rows = 0
    with connection.cursor() as cursor:
        for name in MADE_BY_MIGRATING:
            cursor.execute(f'DELETE FROM "{name}"')  # noqa: S608 - the three names above
        for model in tables:
            _copy(model)
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for model in tables:
            before, after = _digest(model, OLD), _digest(model, connection.alias)
            if before != after:
                raise BackupRefused(
                    f"The table {model._meta.db_table} would not arrive as it was ({before[0]} rows here, {after[0]} there, "
                    "or one that differs). Nothing was moved; the shop works on as before."
                )
            rows += after[0]
            _set_sequence(model)
        cursor.execute("ANALYZE")
    return rows


def _verify() -> str:
    """Every record, as it stands in PostgreSQL; each row is that of the old database by now."""
    said = io.StringIO()
    try:
        call_command("verify_records", stdout=said)
    except CommandError as error:
        raise BackupRefused(
            f"A record does not hold, here and in the embedded database alike. {str(error).rstrip('.')}. Nothing was moved; "
            "the shop works on as before. Do not mend it by hand: come back from the last backup with which it holds."
        ) from error
    return said.getvalue()


def _copy(model: type[models.Model]) -> None:
    fields = model._meta.concrete_fields
    quote = connection.ops.quote_name
    columns = ", ".join(quote(str(field.column)) for field in fields)
    into = f"COPY {quote(model._meta.db_table)} ({columns}) FROM STDIN"
    with connection.cursor() as cursor, connection.wrap_database_errors, cursor.copy(into) as copy:
        for row in _rows(model, OLD):
            copy.write_row(
                tuple(field.get_db_prep_save(value, connection) for field, value in zip(fields, row, strict=True))
            )


def _rows(model: type[models.Model], alias: str) -> Iterator[tuple[Any, ...]]:
    names = [field.attname for field in model._meta.concrete_fields]
    found = model._base_manager.using(alias).order_by("pk").values_list(*names)
    yield from found.iterator(chunk_size=_AT_ONCE)


def _digest(model: type[models.Model], alias: str) -> tuple[int, str]:
    """How many rows, and a hash over every value of every one, as the program reads it from that database."""
    json_places = [
        place for place, field in enumerate(model._meta.concrete_fields) if isinstance(field, models.JSONField)
    ]
    count, digest = 0, hashlib.sha256()
    for row in _rows(model, alias):
        values = list(row)
        for place in json_places:  # 1.0 and 1 are the same number there
            values[place] = json.loads(json.dumps(values[place]), parse_int=float)
        digest.update(json.dumps(values, sort_keys=True, default=str).encode())
        count += 1
    return count, digest.hexdigest()


def _set_sequence(model: type[models.Model]) -> None:
    """The next row gets a number that no row ever had, not even one that was deleted."""
    key = model._meta.pk
    if not isinstance(key, models.AutoField):
        return
    table = model._meta.db_table
    with connections[OLD].cursor() as cursor:
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
    last = max(found[0] if found else 0, model._base_manager.aggregate(last=models.Max("pk"))["last"] or 0)
    if last:
        with connection.cursor() as cursor:
            cursor.execute("SELECT setval(pg_get_serial_sequence(%s, %s), %s)", [f'"{table}"', key.column, last])


def _close_old_shop() -> None:
    """Nothing is ever written there again, whoever still has it open."""
    with connections[OLD].cursor() as cursor:
        for table in connections[OLD].introspection.table_names(cursor):
            for event in ("INSERT", "UPDATE", "DELETE"):
                cursor.execute(
                    f'CREATE TRIGGER "{MOVED}_{table}_{event.lower()}" BEFORE {event} ON "{table}" '
                    f"BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END"
                )
