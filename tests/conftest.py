"""What every test may use."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import TransactionTestCase

from routing.append_only import protect, unprotect
from tests.small_shop import SmallShop, small_shop

APPEND_ONLY = [
    "routing_shellrecord",
    "routing_shellspec",
    "quality_signoff",
    "quality_reading",
    "quality_withdrawal",
]

_empty_tables = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]


def _empty_protected_tables(self: Any) -> None:
    """Tests with real transactions empty all tables afterwards; the record tables refuse that, as they should."""
    unprotect(connection, APPEND_ONLY)
    try:
        _empty_tables(self)
    finally:
        protect(connection, APPEND_ONLY)


TransactionTestCase._fixture_teardown = _empty_protected_tables  # type: ignore[attr-defined]


@pytest.fixture
def shop(db: None) -> SmallShop:
    return small_shop()


@pytest.fixture(autouse=True)
def _plain_static_files(settings: Any) -> None:
    """Pages name their static files as they are: a test run collects none."""
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
