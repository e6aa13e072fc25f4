"""Statements of the database that took long, in a log of their own: without the values, which may be personal."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created

log = logging.getLogger("shop.slow")
_LONGEST = 2000


def watch(connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
    if note_slow not in connection.execute_wrappers:
        connection.execute_wrappers.append(note_slow)


def note_slow(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    begun = time.perf_counter()
    try:
        return execute(sql, params, many, context)
    finally:
        milliseconds = round((time.perf_counter() - begun) * 1000)
        if milliseconds >= settings.SLOW_QUERY_MS:
            log.warning("%d ms: %s", milliseconds, str(sql)[:_LONGEST], extra={"milliseconds": milliseconds})


connection_created.connect(watch, dispatch_uid="shopfloor.slow_queries")
