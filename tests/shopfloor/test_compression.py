"""What travels over the shop's thin link: the station screen with forty shells."""

from __future__ import annotations

import gzip
import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from tests.shopfloor.tablets import Clock, Tablet
from tests.small_shop import SmallShop

FIRST_LOAD = 40_000
REFRESH = 8_000
HEADERS, HEADERS_OF_PAGE = 400, 1_500  # of each answer, as measured at the real server, cookies included
WORDS = ("Harrow", "Saltmarsh", "Quarry", "Brass", "Orchestra", "Lane", "Fellside")
GZIP = {"Accept-Encoding": "gzip"}


@pytest.fixture
def busy(shop: SmallShop, clock: Clock) -> Tablet:
    """The first station with forty shells of twenty kits, all for other people and days, some late."""
    for number in range(20):
        who = f"{WORDS[number % 7]} {WORDS[(number + 3) % 7]} {number * 37} {WORDS[(number * 5) % 7]}"
        day = date(2026, 10, 20) + timedelta(days=number * 3)
        shop.released(f"K-{number * 61 % 97}-{number}", quantity=2, customer=who, due=day)
    tablet = Tablet("cut")
    tablet.sign_in(shop.worker)
    return tablet


def wire(answer: Any) -> int:
    assert answer.headers["Content-Encoding"] == "gzip"
    return len(answer.content)


def static_of(page: str) -> set[str]:
    return set(re.findall(r'(?:src|href)="/static/([^"]+)"', page))


def compressed(path: str) -> int:
    found = finders.find(path)
    assert isinstance(found, str), path
    with open(found, "rb") as file:
        return len(gzip.compress(file.read(), 9))  # as the static files are packed


def test_the_first_load_of_a_busy_station(busy: Tablet) -> None:
    answer = busy.client.get(busy.url("queue"), headers=GZIP)
    page = gzip.decompress(answer.content).decode()
    assert page.count('id="shell-') == 40
    files = static_of(page)
    assert any(path.endswith(".js") for path in files) and any(path.endswith(".css") for path in files)
    total = wire(answer) + sum(compressed(path) + HEADERS for path in files) + HEADERS_OF_PAGE
    assert total <= FIRST_LOAD, f"{total} bytes: page {wire(answer)}, files {sorted((compressed(f), f) for f in files)}"


def test_a_refresh_that_brings_changes(busy: Tablet) -> None:
    answer = busy.client.get(busy.url("queue"), {"version": "an older one"}, headers=GZIP | {"HX-Request": "true"})
    assert answer.status_code == 200
    assert wire(answer) <= REFRESH


def test_nothing_new_is_an_empty_answer(busy: Tablet) -> None:
    page = busy.client.get(busy.url("queue")).content.decode()
    (version,) = re.findall(r"\?version=([^\"&]+)", page)
    answer = busy.refresh(version)
    assert (answer.status_code, answer.content) == (204, b"")


def test_pictures_and_papers_are_left_as_they_are(shop: SmallShop) -> None:
    (shell,) = shop.released()
    office = Client()
    office.force_login(shop.supervisor)
    answer = office.get(reverse("trace:pdf", args=[shell.serial]), headers=GZIP)
    assert answer["Content-Type"] == "application/pdf" and "Content-Encoding" not in answer.headers
    story = office.get(reverse("trace:json", args=[shell.serial]), headers=GZIP)
    assert story.headers["Content-Encoding"] == "gzip"
