"""A shop that was begun with the first version of the program, brought up to date: every record it had still holds.

``upgrades/first_shop.json`` was written by that version itself, table by table: four shells, one finished with its card
printed, one that was on hold and released, one on hold, one untouched; a signature taken back; readings.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from routing.append_only import protected_tables
from routing.models import Shop
from tests.places import Place, place_for_test

FIRST = (("routing", "0002"), ("quality", "0003"))  # the migrations that version had
TABLES: dict[str, dict[str, Any]] = json.loads((Path(__file__).parent / "upgrades" / "first_shop.json").read_text())


@pytest.fixture
def old(tmp_path: Path) -> Iterator[Place]:
    """The tables as they were, with the rows of that time."""
    with place_for_test(tmp_path / "old") as place:
        for app, name in FIRST:
            place.must("migrate", app, name, "--verbosity", "0")
        _fill_postgres(place) if place.url else _fill_sqlite(place)
        yield place


def _fill_sqlite(place: Place) -> None:
    with closing(sqlite3.connect(place.data / "shop.sqlite3")) as line:
        for table, content in TABLES.items():
            marks = ", ".join("?" for _ in content["columns"])
            line.executemany(f"INSERT INTO {table} ({_names(content)}) VALUES ({marks})", content["rows"])
        line.commit()


def _fill_postgres(place: Place) -> None:
    """Truths are whole numbers in the file, times are UTC; the numbers of rows go on after the last."""
    import psycopg

    with psycopg.connect(place.url, options="-c TimeZone=UTC") as line:
        for table, content in TABLES.items():
            kinds: dict[str, str] = dict(
                line.execute(
                    "SELECT column_name, data_type FROM information_schema.columns WHERE table_name = %s", [table]
                ).fetchall()
            )
            truths = {place for place, name in enumerate(content["columns"]) if kinds[name] == "boolean"}
            marks = ", ".join("%s" for _ in content["columns"])
            for row in content["rows"]:
                values = [bool(value) if place in truths else value for place, value in enumerate(row)]
                line.execute(f"INSERT INTO {table} ({_names(content)}) VALUES ({marks})", values)
            if "id" in content["columns"]:
                line.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT MAX(id) FROM {table}))")


def _names(content: dict[str, Any]) -> str:
    return ", ".join(f'"{name}"' for name in content["columns"])


def test_everything_that_was_recorded_holds_after_the_upgrade(old: Place) -> None:
    records = _column("routing_shellrecord", "hash")
    assert len(records) == 21
    old.must("migrate", "--verbosity", "0")
    assert [row for (row,) in old.rows("SELECT hash FROM routing_shellrecord ORDER BY id")] == records
    for table, content in TABLES.items():
        assert old.rows(f"SELECT COUNT(*) FROM {table}")[0][0] == len(content["rows"]), table
    assert "4 chains with 21 records hold." in old.must("verify_records")
    story = json.loads(old.must("trace", _column("routing_shell", "serial")[0], "--json"))
    assert len(story["events"]) >= 12
    assert "wrong shell" in json.dumps(story)


def test_every_record_is_guarded_after_the_upgrade(old: Place, db: None) -> None:
    """Those tables that a new database guards, each by trying to change what was there before."""
    old.must("migrate", "--verbosity", "0")
    guarded = protected_tables(connection)
    filled = [table for table in guarded if table in TABLES and TABLES[table]["rows"]]
    assert len(guarded) > 10 and len(filled) >= 4 and "routing_shellrecord" in filled
    for table in guarded:
        names = _triggers(old, table)
        assert {f"{table}_no_update", f"{table}_no_delete"} <= names, table
    for table in filled:
        for change in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):
            with pytest.raises(Exception, match="records are kept as written"):
                old.rows(change)


def _triggers(place: Place, table: str) -> set[str]:
    asked = (
        f"SELECT tgname FROM pg_trigger WHERE tgrelid = '{table}'::regclass AND tgenabled <> 'D'"
        if place.url
        else f"SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{table}'"
    )
    return {name for (name,) in place.rows(asked)}


def test_the_shops_row_has_what_a_shop_begins_with(old: Place) -> None:
    """It is nobody's demo, no step is skipped, no round is on, and it speaks English."""
    old.must("migrate", "--verbosity", "0")
    fields = ("is_demo", "skipped_steps", "round_order", "round_traced", "language")
    (row,) = old.rows(f"SELECT {', '.join(fields)} FROM routing_shop")
    new = Shop()
    assert (bool(row[0]), *row[1:]) == tuple(getattr(new, field) for field in fields)
    assert (bool(row[0]), *row[1:]) == (False, "", "", "", "en")


def test_the_fixture_can_fail(old: Place) -> None:
    """A record that was changed before the upgrade is found after it."""
    change = "UPDATE routing_shellrecord SET person_name = 'Somebody Else' WHERE id = 5"
    if old.url:
        import psycopg

        with psycopg.connect(old.url) as line:
            line.execute("ALTER TABLE routing_shellrecord DISABLE TRIGGER USER")
            line.execute(change)
            line.execute("ALTER TABLE routing_shellrecord ENABLE TRIGGER USER")
    else:
        with closing(sqlite3.connect(old.data / "shop.sqlite3")) as line:
            line.execute("DROP TRIGGER routing_shellrecord_no_update")
            line.execute(change)
            line.commit()
    old.must("migrate", "--verbosity", "0")
    ended = old.manage("verify_records")
    assert ended.returncode == 1
    assert "its content was changed after it was written" in ended.stderr


def _column(table: str, name: str) -> list[Any]:
    place = TABLES[table]["columns"].index(name)
    return [row[place] for row in TABLES[table]["rows"]]


def test_the_engine_is_that_of_this_run(tmp_path: Path) -> None:
    with place_for_test(tmp_path / "place") as place:
        assert bool(place.url) == (connection.vendor == "postgresql")
