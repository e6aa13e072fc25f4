"""A system check: the sign-ins of the demo shop are printed for everybody to read, so no shop opens its door with them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.core import checks
from django.db import connections

from quality.models import Person
from routing.models import Shop
from shopfloor.demo.people import PEOPLE

HINT = (
    "Give yourself an account with “manage.py createsuperuser”, then close those of the demo with “manage.py demo "
    "--close”. Better still, begin with an empty database: set SHOP_DATA to a new folder, or DATABASE_URL."
)


def demo_people_who_can_sign_in() -> list[Person]:
    """Those whose password or PIN is one of the demo's: in a shop that began as the demo, whatever they are called now."""
    found = Person.objects.filter(is_active=True).order_by("username")
    if not Shop.objects.filter(is_demo=True).exists():
        found = found.filter(username__in=[row.username for row in PEOPLE])
    people = list(found)
    # A hash takes 20 ms of a core on purpose, and each account has its own.
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as side_by_side:
        return [person for person, opens in zip(people, side_by_side.map(_opens, people), strict=True) if opens]


def _opens(person: Person) -> bool:
    its_own_first = sorted(PEOPLE, key=lambda row: row.username != person.username)
    passwords = [row.password for row in its_own_first] if person.has_usable_password() else []
    pins = [row.pin for row in its_own_first if row.pin] if person.pin else []
    return any(check_password(secret, person.password) for secret in passwords) or any(
        check_password(secret, person.pin) for secret in pins
    )


@checks.register(checks.Tags.database)
def no_demo_sign_ins(
    app_configs: Sequence[Any] | None, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[checks.CheckMessage]:
    """Refuse to go on with SHOP_HTTPS=1, which says that others reach the shop. Runs with every ``migrate``."""
    if not settings.HTTPS or "default" not in (databases or []):
        return []
    table = Person._meta.db_table
    connection = connections["default"]
    with connection.cursor() as cursor:
        if table not in connection.introspection.table_names(cursor):
            return []
        columns = {column.name for column in connection.introspection.get_table_description(cursor, table)}
    if not columns >= {field.column for field in Person._meta.local_fields}:
        return []  # before the migration that adds the rest; it asks again the next time
    people = demo_people_who_can_sign_in()
    if not people:
        return []
    names = ", ".join(person.username for person in people)
    return [
        checks.Error(
            f"Everybody can read the demo's sign-ins, and they open this shop: {names}.", hint=HINT, id="shopfloor.E001"
        )
    ]
