"""Tables whose rows the database itself refuses to change or delete, on SQLite and on PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.backends.base.base import BaseDatabaseWrapper

REFUSAL = "records are kept as written: add a new record that names the old one"

_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSAL} (%)', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END $$;
"""


def protect(connection: BaseDatabaseWrapper, tables: Iterable[str]) -> None:
    """Make each table append-only."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        for table in tables:
            for statement in _create(connection.vendor, table):
                cursor.execute(statement)


def unprotect(connection: BaseDatabaseWrapper, tables: Iterable[str]) -> None:
    """Take the protection away: for migrations back and for test databases that are emptied between tests."""
    with connection.cursor() as cursor:
        for table in tables:
            for event in ("update", "delete", "truncate"):
                on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {table}_no_{event}{on_table}")


def protected_tables(connection: BaseDatabaseWrapper) -> list[str]:
    """The append-only tables, as the database itself knows them."""
    triggers = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger",
    }
    with connection.cursor() as cursor:
        cursor.execute(triggers[connection.vendor])
        names = [name for (name,) in cursor.fetchall()]
    return sorted(name.removesuffix("_no_delete") for name in names if name.endswith("_no_delete"))


def _create(vendor: str, table: str) -> list[str]:
    if vendor == "postgresql":
        return [
            f"CREATE TRIGGER {table}_no_{event} BEFORE {event.upper()} ON {table} "
            f"FOR EACH {'STATEMENT' if event == 'truncate' else 'ROW'} EXECUTE FUNCTION refuse_change()"
            for event in ("update", "delete", "truncate")
        ]
    return [
        f"CREATE TRIGGER {table}_no_{event} BEFORE {event.upper()} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL} ({table})'); END"
        for event in ("update", "delete")
    ]
