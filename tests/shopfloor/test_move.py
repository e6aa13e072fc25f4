"""From the embedded database to PostgreSQL with everything kept. Always from SQLite; the target needs PostgreSQL."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from tests import database
from tests.places import ROOT, Place, postgres_database

# A shop with signatures, a withdrawal, a problem, and an order that was deleted again.
FILL = """
import json, sys
from tests.faults.filling import fill
filled = fill(2)
from django.utils import timezone
from quality.actions import sign_off, withdraw_sign_off
from quality.problems import report_problem
from quality.models import Person, CheckPoint
from routing.history import Stamp
from routing.models import KitOrder
who = Person.objects.get(username="tapper-0")
def stamp(key):
    now = timezone.now()
    return Stamp(who.pk, who.name, now, now, "Tablet 0", key)
answers = {str(point): "100" if point == filled["points"][0] else "12.5" for point in filled["points"]}
for n, serial in enumerate(filled["shared"]):
    sign_off(serial=serial, position=1, person=who, answers=answers, stamp=stamp(f"s{n}"))
withdraw_sign_off(serial=filled["shared"][0], position=1, person=who, reason="wrong – ×", stamp=stamp("w"))
report_problem(serial=filled["shared"][1], position=2, person=who, text="split", stamp=stamp("p"))
order = KitOrder.objects.create(number="K-gone", customer="x", due=timezone.localdate(), created_at=timezone.now())
print("GONE", order.pk)
order.delete()
print("FILLED", json.dumps(filled))
"""


@pytest.fixture(scope="module")
def server() -> str:
    """A PostgreSQL server, whatever database this run is on."""
    given = os.environ.get("DATABASE_URL")
    return given or database._throwaway_server()


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> Place:
    place = Place(tmp_path_factory.mktemp("old"))
    place.must("migrate", "--verbosity", "0")
    said = place.must("shell", "--no-imports", "--command", FILL)
    filled = said.split("FILLED ", 1)[1].splitlines()[0]
    gone = said.split("GONE ", 1)[1].splitlines()[0]
    (place.data / "filled.json").write_text(json.dumps({"filled": json.loads(filled), "gone": int(gone)}))
    return place


@pytest.fixture
def copy(old: Place, tmp_path: Path) -> Path:
    """A folder with a shop of its own, to be moved."""
    with (
        closing(sqlite3.connect(old.data / "shop.sqlite3")) as source,
        closing(sqlite3.connect(tmp_path / "shop.sqlite3")) as own,
    ):
        source.backup(own)
    (tmp_path / "filled.json").write_text((old.data / "filled.json").read_text())
    return tmp_path


@pytest.fixture
def new(server: str, copy: Path) -> Iterator[Place]:
    with postgres_database(server) as url:
        yield Place(copy, url)


def counts(place: Place) -> dict[str, int]:
    names = (
        "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
        if place.url
        else "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    )
    return {table: place.rows(f'SELECT COUNT(*) FROM "{table}"')[0][0] for (table,) in place.rows(names)}


def test_everything_arrives_and_the_work_goes_on(new: Place) -> None:
    before = Place(new.data)
    said = new.must("move")
    assert "7 chains with 12 records hold." in said
    assert counts(new) == counts(before)
    for question in (
        "SELECT id, serial, chain_length, chain_head FROM routing_shell ORDER BY id",
        "SELECT id, shell_id, sequence, kind, person_name, device, tap_key, hash FROM routing_shellrecord ORDER BY id",
        "SELECT id, sign_off_id, check_point_id, value FROM quality_reading ORDER BY id",
        "SELECT id, username, password, pin FROM quality_person ORDER BY id",
        "SELECT app, name FROM django_migrations ORDER BY id",
    ):
        assert new.rows(question) == before.rows(question) != []
    # Numbers go on after the highest that was ever given, also where the row is gone.
    gone = json.loads((new.data / "filled.json").read_text())["gone"]
    assert new.rows("SELECT nextval(pg_get_serial_sequence('routing_kitorder', 'id'))") == [(gone + 1,)]
    last = before.rows("SELECT MAX(id) FROM routing_shellrecord")[0][0]
    assert new.rows("SELECT last_value FROM routing_shellrecord_id_seq") == [(last,)]
    triggers = before.rows("SELECT COUNT(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%_no_delete'")
    assert new.rows("SELECT COUNT(*) FROM pg_trigger WHERE tgname LIKE '%_no_delete' AND tgenabled = 'O'") == triggers
    _tap(new)
    assert "7 chains with 13 records hold." in new.must("verify_records")
    # The old shop is closed, and says so before it is opened by mistake.
    with closing(sqlite3.connect(new.data / "shop.sqlite3")) as left:
        for change in (
            "UPDATE routing_shell SET state = 'packed'",
            "INSERT INTO routing_closure (reason) VALUES ('x')",
        ):
            with pytest.raises(sqlite3.IntegrityError, match="has moved to PostgreSQL"):
                left.execute(change)
    opened = before.manage("migrate")
    assert opened.returncode != 0
    assert "This shop has moved to PostgreSQL" in opened.stderr


def _tap(place: Place) -> None:
    """Sign one more step there, as a tablet does, with the cookies it had before the move."""
    filled = json.loads((place.data / "filled.json").read_text())["filled"]
    form = {"position": "1", "tap_key": "after the move", "note": "first in PostgreSQL"}
    form |= {f"check-{point}": "12.5" for point in filled["points"]}
    tablet = filled["tablets"][0]
    script = f"""
from django.test import Client
client = Client(HTTP_HOST="localhost")
for name, value in {tablet["cookies"]!r}.items():
    client.cookies[name] = value
answer = client.post("/floor/cut/shell/{tablet["own"][0]}/sign/", {form!r}, headers={{"Accept": "application/json"}})
print(answer.status_code, answer.content.decode())
"""
    said = place.must("shell", "--no-imports", "--command", script)
    assert '200 {"ok": true' in said, said


class TestRefusals:
    def test_a_target_that_is_not_empty(self, new: Place) -> None:
        with psycopg.connect(new.url) as line:
            line.execute("CREATE TABLE wages (amount integer)")
        ended = new.manage("move")
        assert ended.returncode == 1
        assert "The PostgreSQL database is not empty: it has a table wages. Nothing was touched." in ended.stderr
        assert list(counts(new)) == ["wages"]

    def test_a_shop_that_still_runs(self, new: Place) -> None:
        with closing(sqlite3.connect(new.data / "shop.sqlite3")) as running:
            running.execute("PRAGMA journal_mode=WAL")
            running.execute("SELECT COUNT(*) FROM routing_shell").fetchone()
            ended = new.manage("move")
        assert ended.returncode == 1
        assert "still runs on the embedded database. Stop it" in ended.stderr

    def test_no_postgresql_is_named(self, copy: Path) -> None:
        ended = Place(copy).manage("move")
        assert ended.returncode == 1
        assert "Set DATABASE_URL" in ended.stderr

    def test_what_postgresql_can_not_hold_moves_nothing(self, new: Place) -> None:
        """The embedded database takes any length; the shop works on there afterwards."""
        with closing(sqlite3.connect(new.data / "shop.sqlite3")) as old:
            old.execute("UPDATE routing_kitorder SET customer = ?", ["x" * 5000])
            old.commit()
        ended = new.manage("move")
        assert ended.returncode == 1
        assert "value too long" in ended.stderr
        assert "Nothing was moved; the shop works on as before." in ended.stderr
        assert new.rows("SELECT COUNT(*) FROM routing_shell") == [(0,)]
        with closing(sqlite3.connect(new.data / "shop.sqlite3")) as old:
            old.execute("UPDATE routing_kitorder SET customer = 'short again'")

    def test_a_record_that_does_not_hold_moves_nothing(self, new: Place) -> None:
        """Someone wrote in the table, past the program. The rows arrive as they are, and that is not enough."""
        with closing(sqlite3.connect(new.data / "shop.sqlite3")) as old:
            (guard,) = old.execute(
                "SELECT sql FROM sqlite_master WHERE name = 'routing_shellrecord_no_update'"
            ).fetchone()
            old.execute("DROP TRIGGER routing_shellrecord_no_update")
            old.execute("UPDATE routing_shellrecord SET person_name = 'Somebody Else' WHERE kind = 'signed'")
            old.execute(guard)
            old.commit()
        ended = new.manage("move")
        assert ended.returncode == 1
        assert "A record does not hold, here and in the embedded database alike." in ended.stderr
        assert "Nothing was moved; the shop works on as before." in ended.stderr
        assert new.rows("SELECT COUNT(*) FROM routing_shell") == [(0,)]
        Place(new.data).must("migrate", "--check")
        with closing(sqlite3.connect(new.data / "shop.sqlite3")) as old:
            old.execute("UPDATE routing_kitorder SET customer = 'not closed'")

    def test_an_old_shop_that_can_not_be_closed(self, new: Place) -> None:
        """The disk takes no byte more when the old database shall be closed: by then the shop is in PostgreSQL."""
        move = [sys.executable, "manage.py", "move"]
        ended = subprocess.run(
            ["/bin/sh", "-c", 'ulimit -f 0; exec "$@"', "sh", *move],
            env=new.environment,
            cwd=ROOT,
            check=False,
            capture_output=True,
            text=True,
        )
        assert ended.returncode == 1
        assert "The move is done: " in ended.stderr
        assert "the old database could not be closed" in ended.stderr
        assert f"mv {new.data}/shop.sqlite3 {new.data}/shop.sqlite3.moved" in ended.stderr
        assert "Nothing was moved" not in ended.stderr
        assert "7 chains with 12 records hold." in new.must("verify_records")
