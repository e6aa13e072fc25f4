"""A kept connection to PostgreSQL: asked nothing before it is used again, and made anew when the server has ended it."""

from __future__ import annotations

import time
from typing import Any

import psycopg
import pytest
from django.db import close_old_connections, connection, connections
from django.db.utils import OperationalError, ProgrammingError

from routing.models import Shop
from tests.small_shop import SmallShop

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL only"),
]


@pytest.fixture(autouse=True)
def between_requests(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(connection.settings_dict, "CONN_HEALTH_CHECKS", True)


def end_its_session() -> None:
    """What a server does that stops, seen from one connection."""
    connection.ensure_connection()
    number = connection.connection.info.backend_pid
    other = connections.create_connection("default")
    try:
        with other.cursor() as cursor:
            cursor.execute("SELECT pg_terminate_backend(%s, 5000)", [number])
            assert cursor.fetchone() == (True,)
    finally:
        other.close()


def test_the_next_request_is_answered_over_a_new_connection(shop: SmallShop) -> None:
    before = Shop.objects.get()
    end_its_session()
    assert not connection.is_usable()
    close_old_connections()
    assert Shop.objects.get() == before


class Line:
    """Between the program and its kept connection: counts what is asked, and can go dead without a word."""

    def __init__(self) -> None:
        connection.ensure_connection()
        self.raw = connection.connection
        self.cursor = self.raw.cursor
        self.asked = 0
        self.dead = False

    def ask(self, *args: Any, **named: Any) -> Any:
        self.asked += 1
        if self.dead:
            raise psycopg.OperationalError("timed out")
        return self.cursor(*args, **named)


@pytest.fixture
def line(monkeypatch: pytest.MonkeyPatch) -> Line:
    made = Line()
    monkeypatch.setattr(made.raw, "cursor", made.ask)
    return made


def later(monkeypatch: pytest.MonkeyPatch, seconds: float) -> None:
    begun = time.monotonic()
    monkeypatch.setattr("shopfloor.postgresql.base.monotonic", lambda: begun + seconds)


def test_one_that_is_there_is_asked_nothing(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    for seconds in (50, 100, 150):  # three requests; what counts is how long none came
        later(monkeypatch, seconds)
        assert connection.is_usable()
    assert line.asked == 0


def test_one_that_was_idle_for_more_than_a_minute_is_asked(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    later(monkeypatch, 61)
    assert connection.is_usable()
    assert line.asked == 1
    assert connection.is_usable()
    assert line.asked == 1


def test_a_server_that_is_gone_without_a_word_is_found_out_by_asking(
    shop: SmallShop, line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = Shop.objects.get()
    line.dead = True
    later(monkeypatch, 61)
    close_old_connections()
    assert Shop.objects.get() == before
    assert connection.connection is not line.raw


def test_after_an_error_it_is_asked_however_fresh_it_is(shop: SmallShop, line: Line) -> None:
    with pytest.raises(ProgrammingError), connection.cursor() as cursor:
        cursor.execute("SELECT nothing_of_this_name()")
    asked = line.asked
    close_old_connections()
    assert line.asked == asked + 1
    assert connection.connection is line.raw


def test_the_system_looks_after_an_idle_connection() -> None:
    connection.ensure_connection()
    said = connection.connection.info.get_parameters()
    assert (said["keepalives_idle"], said["keepalives_interval"], said["keepalives_count"]) == ("30", "10", "3")
    assert said["tcp_user_timeout"] == "30000"


def test_in_the_middle_of_a_request_it_is_an_error_as_ever(shop: SmallShop) -> None:
    connection.ensure_connection()
    request: Any = connection
    request.health_check_done = True
    end_its_session()
    with pytest.raises(OperationalError):
        Shop.objects.get()
    close_old_connections()
    assert Shop.objects.get()
