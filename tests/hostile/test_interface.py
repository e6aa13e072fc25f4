"""The reading interface, asked by a program that reads its description and then asks everything else, too."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.core.result import Ok
from schemathesis.specs.openapi import checks

from quality.api_keys import make_key
from quality.models import KeyOpens, Person, Role
from tests.hostile.test_every_form import kept
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

# The key and its clock are written when it is used; nothing else may change by reading.
WRITTEN = {"quality.ApiKey"}
CHECKS = [
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_schema_conformance,
]


@pytest.fixture(autouse=True)
def _one_connection() -> Iterator[None]:
    """The program closes old connections around each request; in a test there is one, with everything in it."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


def test_every_answer_is_one_that_the_description_knows(shop: SmallShop) -> None:
    """Held by schemathesis: status, type and shape of every answer stand in the description, and none is a 500."""
    shop.released(quantity=2)
    shop.order("K-2")
    by = Person.objects.create(username="ada", name="Ada", role=Role.ADMINISTRATOR)
    _, secret = make_key(name="script", opens=KeyOpens.LISTS, by=by, at=shop.clock)
    description = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", get_wsgi_application())
    operations = [found.ok() for found in description.get_all_operations() if isinstance(found, Ok)]
    assert len(operations) >= 7
    before = {label: mark for label, mark in kept().items() if label not in WRITTEN}
    asked: set[int] = set()

    @settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def ask(data: st.DataObject) -> None:
        operation = data.draw(st.sampled_from(operations))
        mode = data.draw(st.sampled_from(schemathesis.GenerationMode))
        case = data.draw(operation.as_strategy(generation_mode=mode))
        case.headers = {"Authorization": f"Bearer {secret}", "Accept-Encoding": "identity"}
        answer = case.call()
        assert answer.status_code < 500, case.as_curl_command()
        case.validate_response(answer, checks=CHECKS)
        asked.add(answer.status_code)

    ask()
    assert {200, 404, 422} <= asked
    after = kept()
    assert [label for label, mark in before.items() if after[label] != mark] == []
