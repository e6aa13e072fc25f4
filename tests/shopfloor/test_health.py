"""Whether the program says truthfully that it lives and can work."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from shopfloor.health import views

pytestmark = pytest.mark.django_db
READY = "/health/ready/"


def test_live_asks_nobody(client: Client, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    with django_assert_num_queries(0):
        answer = client.get("/health/live/")
    assert (answer.status_code, answer.json()) == (200, {"status": "live"})
    assert "no-store" in answer["Cache-Control"]


def test_ready_when_all_is_there(client: Client) -> None:
    answer = client.get(READY)
    assert answer.json() == {"status": "ready", "database": True, "tables": True, "disk": True}
    assert "sessionid" not in answer.cookies


def test_a_database_that_does_not_answer(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> bool:
        raise DatabaseError("password of the server in a message")

    monkeypatch.setitem(views.CHECKS, "database", broken)
    answer = client.get(READY)
    assert answer.status_code == 503 and answer.json()["database"] is False
    assert "password" not in answer.content.decode()


def test_a_table_that_is_still_to_come(client: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'quality' AND name LIKE '0021%%'", [])
    answer = client.get(READY)
    assert answer.status_code == 503
    assert answer.json() == {"status": "not ready", "database": True, "tables": False, "disk": True}


def test_the_names_of_all_migrations_are_known_without_loading_them() -> None:
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    assert views.wanted_migrations() == set(loader.disk_migrations)


def test_a_folder_that_is_gone_and_a_disk_that_is_full(
    client: Client, settings: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    settings.SHOP_DATA = tmp_path / "gone"
    assert client.get(READY).json()["disk"] is False
    settings.SHOP_DATA = tmp_path
    assert client.get(READY).json()["disk"] is True
    usage = shutil.disk_usage(tmp_path)._replace(free=views.LEAST_FREE_BYTES - 1)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    assert client.get(READY).status_code == 503


def test_neither_is_sent_on_to_https(client: Client, settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/health/live/").status_code == 200
    assert client.get("/glossary/").status_code == 301


def test_other_methods_are_refused(client: Client) -> None:
    assert client.post(READY).status_code == client.post("/health/live/").status_code == 405
