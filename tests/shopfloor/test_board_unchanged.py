"""The refresh that is answered before the headers that guard a page: what it says itself, and what it leaves to others."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.test import Client
from django.urls import reverse

from shopfloor.board import work
from tests.shopfloor.boards import VIEWS, marked, refresh
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("view", VIEWS)
def test_nobody_keeps_the_answer_or_guesses_what_it_is(
    shop: SmallShop, clock: Clock, supervisor: Client, view: str
) -> None:
    shop.released()
    answer = refresh(supervisor, view, marked(supervisor.get(reverse(view)).content.decode()))
    assert answer.status_code == 204 and not answer.content
    assert answer["Cache-Control"] == "no-store"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["X-Request-ID"]


@pytest.mark.parametrize("error", [OperationalError, InterfaceError])
def test_a_database_that_fails_is_the_business_of_the_page(
    shop: SmallShop, supervisor: Client, monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    def fails(now: object) -> str:
        raise error("the connection is lost")

    monkeypatch.setattr(work, "board_version", fails)
    supervisor.raise_request_exception = False
    answer = refresh(supervisor, "board:board", "whatever")
    assert answer.status_code == 500
    assert "script-src" in answer["Content-Security-Policy"]


def test_more_parameters_than_are_read_are_refused_with_the_headers_of_a_page(supervisor: Client) -> None:
    many = {f"p{number}": "1" for number in range((settings.DATA_UPLOAD_MAX_NUMBER_FIELDS or 0) + 1)}
    answer = supervisor.get(reverse("board:board"), many, headers={"HX-Request": "true"})
    assert answer.status_code == 400
    assert "script-src" in answer["Content-Security-Policy"]


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "false"}])
def test_a_page_that_is_opened_is_shown_whatever_its_mark(
    shop: SmallShop, clock: Clock, supervisor: Client, headers: dict[str, str]
) -> None:
    mark = marked(supervisor.get(reverse("board:board")).content.decode())
    answer = supervisor.get(reverse("board:board"), {"version": mark}, headers=headers)
    assert answer.status_code == 200
    assert answer["X-Frame-Options"] == "DENY"
