"""Whether the program answers, and whether it can work: for the proxy and for whatever starts it again.

Anybody may ask, so the answers name no version, no path and no reason; reasons stand in the log.
"""

from __future__ import annotations

import logging
import shutil
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from pkgutil import iter_modules
from tempfile import TemporaryFile

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.loader import MIGRATIONS_MODULE_NAME
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

log = logging.getLogger("shop.health")
# Less than this and the next photos or the database itself may not fit.
LEAST_FREE_BYTES = 200 * 1024 * 1024


@require_safe
@never_cache
def live(request: HttpRequest) -> JsonResponse:
    """The process answers. Touches neither database nor disk."""
    return JsonResponse({"status": "live"})


@require_safe
@never_cache
def ready(request: HttpRequest) -> JsonResponse:
    """Everything that a tap needs is there; 503 when not, and which part it is."""
    parts = {name: _holds(name, check) for name, check in CHECKS.items()}
    well = all(parts.values())
    return JsonResponse({"status": "ready" if well else "not ready", **parts}, status=200 if well else 503)


def _holds(name: str, check: Callable[[], bool]) -> bool:
    try:
        well = check()
    except (DatabaseError, OSError) as error:
        log.error("Not ready, %s: %s", name, error)
        return False
    if not well:
        log.error("Not ready: %s", name)
    return well


def database_answers() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return bool(cursor.fetchone() == (1,))


def tables_are_up_to_date() -> bool:
    return not wanted_migrations() - set(MigrationRecorder(connection).applied_migrations())


@lru_cache
def wanted_migrations() -> frozenset[tuple[str, str]]:
    """By the names of their files: what stands in them is not needed here, and loading all of it takes a while."""
    return frozenset(
        (app.label, found.name)
        for app in apps.get_app_configs()
        for found in iter_modules([str(Path(app.path) / MIGRATIONS_MODULE_NAME)])
        if not found.ispkg and found.name[0] not in "_~"
    )


def disk_can_be_written() -> bool:
    with TemporaryFile(dir=settings.SHOP_DATA) as file:
        file.write(b"ready")
    return shutil.disk_usage(settings.SHOP_DATA).free >= LEAST_FREE_BYTES


CHECKS: dict[str, Callable[[], bool]] = {
    "database": database_answers,
    "tables": tables_are_up_to_date,
    "disk": disk_can_be_written,
}
