"""A shop in a place of its own, for tests of what happens to a whole shop: its folder, its database, its commands."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

ROOT = Path(__file__).resolve().parent.parent
# Every test shop has its own; it is no one's in particular.
SECRET_KEY = "only for tests, never for a shop " * 2
_numbers = count(1)


@dataclass(frozen=True, slots=True)
class Place:
    """``url`` is empty for the embedded database."""

    data: Path
    url: str = ""

    @property
    def environment(self) -> dict[str, str]:
        others = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "SECRET_KEY")}
        here = {"SHOP_DATA": str(self.data), "SECRET_KEY": SECRET_KEY} | (
            {"DATABASE_URL": self.url} if self.url else {}
        )
        return others | here

    def manage(self, *command: str | Path, **more: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "manage.py", *map(str, command)],
            env=self.environment | more,
            cwd=ROOT,
            check=False,
            capture_output=True,
            text=True,
        )

    def must(self, *command: str | Path, **more: str) -> str:
        ended = self.manage(*command, **more)
        assert ended.returncode == 0, ended.stderr
        return ended.stdout

    def rows(self, question: str) -> list[Any]:
        """Ask the database itself, past the program."""
        if self.url:
            import psycopg

            with psycopg.connect(self.url) as connection:
                return connection.execute(question).fetchall()
        with closing(sqlite3.connect(self.data / "shop.sqlite3")) as embedded:
            return embedded.execute(question).fetchall()


@contextmanager
def place_for_test(folder: Path, *, template: str = "") -> Iterator[Place]:
    """An empty place on the database that this test run is on; on PostgreSQL a database of its own, dropped afterwards."""
    folder.mkdir(parents=True, exist_ok=True)
    server = os.environ.get("DATABASE_URL")
    if not server:
        yield Place(folder)
        return
    with postgres_database(server, template=template) as url:
        yield Place(folder, url)


@contextmanager
def postgres_database(server: str, *, template: str = "") -> Iterator[str]:
    """A new database beside that of the given address."""
    import psycopg
    from psycopg import sql

    name = f"place_{os.getpid()}_{next(_numbers)}"
    address = urlsplit(server)
    with psycopg.connect(server, autocommit=True) as connection:
        made = sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name))
        if template:
            made += sql.SQL(" TEMPLATE {}").format(sql.Identifier(template))
        connection.execute(made)
        try:
            yield address._replace(path=f"/{quote(name)}").geturl()
        finally:
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))
