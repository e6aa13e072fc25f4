"""One writer at a time, in order: the transaction that every action opens.

SQLite lets writers poll for its lock, and under ten tablets the unlucky one waits a second. A lock outside the
database, held around the transaction, makes them queue instead. PostgreSQL needs none: rows are locked there.
"""

from __future__ import annotations

import fcntl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction

from routing.models import Shop

_in_process = threading.RLock()
_held = threading.local()


@contextmanager
def _sqlite_turn() -> Iterator[None]:
    if getattr(_held, "depth", 0):
        _held.depth += 1
        try:
            yield
        finally:
            _held.depth -= 1
        return
    with _in_process, (Path(settings.SHOP_DATA) / "write.lock").open("a") as across_processes:
        fcntl.flock(across_processes, fcntl.LOCK_EX)
        _held.depth = 1
        try:
            yield
        finally:
            _held.depth = 0


@contextmanager
def writing() -> Iterator[None]:
    """A transaction for an action. Nested calls join the outer one as savepoints."""
    if connection.vendor == "sqlite":
        with _sqlite_turn(), transaction.atomic():
            yield
    else:
        with transaction.atomic():
            yield


@contextmanager
def in_turn() -> Iterator[None]:
    """An action that no other of this kind may run beside: it holds the shop's row until it is done.

    For what no single row can guard: the next number of a day, names that must differ, hours that may not overlap.
    """
    with writing():
        Shop.objects.select_for_update().get(pk=Shop.current().pk)
        yield
