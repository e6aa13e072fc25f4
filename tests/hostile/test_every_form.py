"""Every form of every page is found by reading the pages, and sent what it did not ask for.

Whatever comes in: no answer is a failure of the program, and an answer that refuses has changed nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quality.models import Person, Role
from tests.hostile.forms import WORDS, Form, forms_of, sent_to
from tests.shopfloor.tablets import Clock, Tablet, clock_of
from tests.shopfloor.test_access import ADDRESSES, DESK, SCREENS, TABLET, address, rows, things
from tests.small_shop import SmallShop

__all__ = ["things"]
pytestmark = pytest.mark.django_db

# What a refusal may leave behind: counted tries, and who was seen when.
COUNTED = {
    "sessions.Session",
    "quality.Tablet",
    "quality.WrongTries",
}
TRIES = {"failed_pins", "locked_until"}
EXAMPLES = 12
SOME = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)
# Names that pages read out of an address, whether a form of theirs shows them or not.
QUERIES = (
    "q",
    "page",
    "first",
    "last",
    "line",
    "order",
    "state",
    "at",
    "r",
    "version",
    "by",
    "kind",
    "days",
    "size",
    "next",
)


@pytest.fixture
def clock(shop: SmallShop) -> Iterator[Clock]:
    with clock_of(shop) as clock:
        yield clock


def kept() -> dict[str, str]:
    """A mark of everything that each table holds, save what a refusal may count."""
    marks = {}
    with connection.cursor() as cursor:
        for model in apps.get_models():
            if model._meta.label in COUNTED or not model._meta.managed:
                continue
            fields = [field.column for field in model._meta.concrete_fields if field.name not in TRIES]
            columns = ", ".join(connection.ops.quote_name(str(column)) for column in fields)
            cursor.execute(f'SELECT {columns} FROM "{model._meta.db_table}" ORDER BY 1')
            marks[model._meta.label] = hashlib.sha256(repr(cursor.fetchall()).encode()).hexdigest()
    return marks


def pages(table: str, things: dict[str, Any], screen: str) -> list[str]:
    return [
        address(name, things) for method, name, _ in rows(table) if method == "GET" and name.partition(":")[0] == screen
    ]


def posts(table: str, things: dict[str, Any], screen: str) -> list[Form]:
    """Addresses that only take a POST, for those that no page shows at the moment."""
    return [
        Form(address(name, things), "POST")
        for method, name, _ in rows(table)
        if method == "POST" and name.partition(":")[0] == screen
    ]


def found_on(client: Client, pages: list[str]) -> list[Form]:
    found: dict[Any, Form] = {}
    for page in pages:
        answer = client.get(page)
        if answer.status_code == 200 and answer.get("Content-Type", "").startswith("text/html"):
            for form in forms_of(page, answer.content.decode()):
                found.setdefault(form.what, form)
    return list(found.values())


def send(client: Client, form: Form, sent: dict[str, Any], before: dict[str, str]) -> None:
    with transaction.atomic():
        if form.method == "GET":
            answer = client.get(
                form.action, {name: value for name, value in sent.items() if not hasattr(value, "read")}
            )
        else:
            answer = client.post(form.action, sent)
        answer.getvalue()  # what is sent as it is read is read
        assert answer.status_code < 500, f"{form.method} {form.action} {sent}: {answer.status_code}"
        if answer.status_code >= 400 or form.method == "GET":
            after = kept()
            changed = [label for label, mark in before.items() if after[label] != mark]
            assert not changed, f"{form.method} {form.action} {sent} was refused and changed {changed}"
        transaction.set_rollback(True)


def try_all(client: Client, forms: list[Form], draw: st.DataObject, keep: str, before: dict[str, str]) -> None:
    for form in forms:
        send(client, form, draw.draw(sent_to(form)), before)
        client.cookies.load(keep)


@pytest.mark.parametrize("screen", SCREENS)
def test_at_a_desk(shop: SmallShop, things: dict[str, Any], screen: str) -> None:
    ruler = Person.objects.create(username="ada", name="Ada", role=Role.ADMINISTRATOR)
    desk = Client()
    if screen != "signin":
        desk.force_login(ruler)
    asked = pages(DESK, things, screen)
    forms = found_on(desk, asked) + posts(DESK, things, screen)
    keep = desk.cookies.output(header="")
    before = kept()

    @SOME
    @given(st.data())
    def sent(data: st.DataObject) -> None:
        try_all(desk, forms, data, keep, before)
        for page in asked:
            query = {
                name: data.draw(st.sampled_from(WORDS))
                for name in data.draw(st.sets(st.sampled_from(QUERIES), max_size=3))
            }
            send(desk, Form(page, "GET"), query, before)

    sent()


def test_at_a_tablet(shop: SmallShop, things: dict[str, Any], clock: Clock) -> None:
    tablet = Tablet("cut")
    tablet.sign_in(shop.supervisor)
    client = tablet.client
    forms = found_on(client, pages(TABLET, things, "floor")) + posts(TABLET, things, "floor")
    keep = client.cookies.output(header="")
    before = kept()

    @SOME
    @given(st.data())
    def sent(data: st.DataObject) -> None:
        try_all(client, forms, data, keep, before)

    sent()


def test_forms_are_found(shop: SmallShop, things: dict[str, Any]) -> None:
    """Were none found, the tests above would send nothing."""
    supervisor = Client()
    supervisor.force_login(shop.supervisor)
    found = [form for screen in SCREENS for form in found_on(supervisor, pages(DESK, things, screen))]
    assert len(found) > 60 and sum(len(form.fields) for form in found) > 300
    assert {"POST", "GET"} == {form.method for form in found}
    assert {"file", "select", "date"} <= {each.kind for form in found for each in form.fields}
    assert set(ADDRESSES) == {name for _, name, _ in rows(DESK) + rows(TABLET)}
