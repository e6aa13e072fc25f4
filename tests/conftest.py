"""What every test may use."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.db import connection
from django.db.backends.signals import connection_created
from django.test import TransactionTestCase
from pytest_django import Settings

from routing.append_only import protect, protected_tables, unprotect
from shopfloor import paper_queue
from tests.shopfloor.papers_made import work_through
from tests.small_shop import SmallShop, small_shop

# A busy machine is no failure; and what fails on the build machine fails the same way when it is run again.
hypothesis.settings.register_profile(
    "shop", deadline=None, print_blob=True, derandomize=os.environ.get("CI", "").lower() in {"1", "true"}
)
hypothesis.settings.load_profile("shop")

_empty_tables = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _empty_protected_tables(self: Any) -> None:
    """Tests with real transactions empty all tables afterwards; the record tables refuse that, as they should."""
    protected = protected_tables(connection)
    unprotect(connection, protected)
    try:
        _empty_tables(self)
    finally:
        protect(connection, protected)


TransactionTestCase._fixture_teardown = _empty_protected_tables  # type: ignore[attr-defined]


# Who opened which session of PostgreSQL: its process there → the thread and the test here.
_opened: dict[int, str] = {}


def _remember_who_opened(connection: Any, **_: Any) -> None:
    if connection.vendor == "postgresql":
        test = os.environ.get("PYTEST_CURRENT_TEST", "no test")
        _opened[connection.connection.info.backend_pid] = f"{threading.current_thread().name} of {test}"


connection_created.connect(_remember_who_opened)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any, pytestconfig: pytest.Config) -> Iterator[None]:
    """PostgreSQL drops no database that somebody still reads: a session left over is named, then ended."""
    yield
    if connection.vendor != "postgresql":
        return
    aloud = pytestconfig.pluginmanager.getplugin("capturemanager").global_and_fixture_disabled()
    with aloud, django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT pid, state, query, pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
            "WHERE datname = current_database() AND backend_type = 'client backend' AND pid <> pg_backend_pid()"
        )
        for pid, state, query, _ in cursor.fetchall():
            who = _opened.get(pid, "another process")
            print(f"Left in the test database: {who}; {state}, last asked: {query[:200]}", file=sys.stderr)


@pytest.fixture
def shop(db: None) -> SmallShop:
    return small_shop()


@pytest.fixture(autouse=True)
def _nobody_makes_papers(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked for is not made: no test starts processes unawares. See ``papers_made``."""
    monkeypatch.setattr(paper_queue, "wake", lambda: None)


@pytest.fixture
def papers_folder(tmp_path: Path, settings: Settings) -> Path:
    """An empty folder for papers that are made ahead."""
    settings.PAPERS = tmp_path / "papers"
    return tmp_path / "papers"


@pytest.fixture
def papers_made(papers_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked for is made at once, in the process of the test."""
    monkeypatch.setattr(paper_queue, "wake", work_through)


@pytest.fixture(autouse=True)
def _plain_static_files(settings: Any) -> None:
    """Pages name their static files as they are: a test run collects none."""
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
