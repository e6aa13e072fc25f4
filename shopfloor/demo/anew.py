"""The way back to a clean start: the demo shop emptied and loaded anew, in one transaction, so that it is never half done.

The record refuses deletion, in the database itself. Here its guards are taken off and put back within that transaction:
whoever is killed in the middle leaves the shop as it was, guards and all. Only the demo shop under its own name is emptied;
one that was renamed is somebody's own by now.
"""

from __future__ import annotations

import logging
import shutil
from datetime import date, datetime
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import DatabaseError, OperationalError, connection, transaction

from routing.append_only import protect, protected_tables, unprotect
from routing.models import Shop
from routing.turnstile import in_turn
from shopfloor.demo.loading import load_demo
from shopfloor.demo.which_shop import is_the_demo

log = logging.getLogger(__name__)
PHOTOS = "photos"
# What migrations put there themselves, and the shop's one row, which is set back instead.
KEPT = {"django_content_type", "auth_permission", Shop._meta.db_table}


_SOMEBODY_WORKS = "Somebody was working in the shop at this moment; nothing was emptied. Try again in a minute."
_REFUSED = (
    "The database refused it, and nothing was emptied. What it said stands in the logs of the shop: show that to whoever "
    "looks after the program."
)


class NotTheDemo(Exception):
    """Nothing was emptied; the sentence says why."""


def load_demo_anew(*, now: datetime, today: date) -> None:
    """Empty the demo shop and load it as on the first day: all of it or nothing. Raises NotTheDemo."""
    try:
        with in_turn():
            require_the_demo()
            _empty()
            load_demo(now=now, today=today)
            transaction.on_commit(_drop_photos)
    except DatabaseError as error:
        log.exception("The demo shop was not emptied")
        raise NotTheDemo(_SOMEBODY_WORKS if isinstance(error, OperationalError) else _REFUSED) from error


def is_its_name(typed: str) -> bool:
    """Whether somebody typed the name of the shop, to say that they mean it; however it is spaced and written."""
    return " ".join(typed.split()).casefold() == Shop.current().name.casefold()


def require_the_demo() -> None:
    """Raises NotTheDemo where nothing may be emptied."""
    if settings.HTTPS:
        raise NotTheDemo("Others reach this shop (SHOP_HTTPS=1), and it is not emptied. Nothing was changed.")
    shop = Shop.objects.get()
    if not is_the_demo(shop):
        raise NotTheDemo(
            f"{shop.name} is not the demo shop, and only that is ever emptied. Nothing was changed. To look at the demo, set "
            "SHOP_DATA to an empty folder and load it there."
        )


def _empty() -> None:
    """Every row of every table goes, except for what migrations made; numbers of rows are not used again."""
    tables = [
        model._meta.db_table
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.db_table not in KEPT
    ]
    guarded = protected_tables(connection)
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # nothing is left to be looked at when tables are emptied
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        unprotect(connection, guarded)
        if connection.vendor == "postgresql":
            cursor.execute(f"TRUNCATE {', '.join(map(quote, tables))}")
        else:
            for table in tables:
                cursor.execute(f"DELETE FROM {quote(table)}")  # noqa: S608 - our own tables
    protect(connection, guarded)
    Shop(pk=Shop.current().pk).save()


def _drop_photos() -> None:
    """No row names them any more. What can't be deleted lies there and is shown to nobody."""
    shutil.rmtree(Path(default_storage.path(PHOTOS)), ignore_errors=True)
