"""A kept connection to PostgreSQL: asked nothing before it is used again, and made anew when the server has ended it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import close_old_connections, connection, connections
from django.db.utils import OperationalError

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


def test_one_that_is_there_is_asked_nothing(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    connection.ensure_connection()
    monkeypatch.setattr(connection.connection, "cursor", None)
    assert connection.is_usable()


def test_in_the_middle_of_a_request_it_is_an_error_as_ever(shop: SmallShop) -> None:
    connection.ensure_connection()
    request: Any = connection
    request.health_check_done = True
    end_its_session()
    with pytest.raises(OperationalError):
        Shop.objects.get()
    close_old_connections()
    assert Shop.objects.get()
