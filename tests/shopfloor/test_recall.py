"""Which drums, on a page and as files: one way at a time, formulas as text."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from quality.actions import sign_off
from routing.models import Shell
from tests.quality.test_glue_batches import at_press, mix
from tests.quality.test_materials import lot, sign
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def ask(client: Client, name: str = "find", **query: Any) -> Any:
    return client.get(reverse(f"recall:{name}"), query)


@pytest.fixture
def shells(shop: SmallShop) -> list[Shell]:
    """One cut from lot P-1 at the saw, one without a lot at the bench."""
    lot(shop)
    first, second = shop.released(quantity=2)
    sign(shop, first, plate_birch_3_0="P-1")
    stamp = shop.stamp(shop.checker, device="Bench")
    sign_off(serial=second.serial, position=1, person=shop.checker, answers={}, stamp=stamp)
    return [first, second]


def shown(answer: Any, shells: list[Shell]) -> list[bool]:
    assert answer.status_code == 200
    return [shell.serial in answer.content.decode() for shell in shells]


def test_the_trace_leads_here_and_nothing_is_asked_yet(shop: SmallShop, office: Client) -> None:
    assert reverse("recall:find") in office.get(reverse("trace:search")).content.decode()
    page = ask(office)
    assert page.status_code == 200
    assert "drums:" not in page.content.decode()


def test_each_way_finds_its_drums(shop: SmallShop, shells: list[Shell], office: Client) -> None:
    day = "2026-11-02"
    assert shown(ask(office, lot="p-1"), shells) == [True, False]
    assert shown(ask(office, person=shop.checker.pk), shells) == [False, True]
    assert shown(ask(office, tablet="Bench"), shells) == [False, True]
    assert shown(ask(office, station=shop.stations["cut"].pk, first=day), shells) == [True, True]
    assert shown(ask(office, station=shop.stations["cut"].pk, first="2026-11-03"), shells) == [False, False]
    assert shown(ask(office, person=shop.checker.pk, first=day, last=day), shells) == [False, True]
    assert shown(ask(office, person=shop.checker.pk, last="2026-11-01"), shells) == [False, False]


def test_by_glue_batch(shop: SmallShop, office: Client) -> None:
    glued, plain = at_press(shop, 2)
    batch = mix(shop)
    sign(shop, glued, 2, glue=batch.code)
    assert shown(ask(office, glue_batch=batch.code.lower()), [glued, plain]) == [True, False]


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ({"lot": "P-404"}, "No lot has the code"),
        ({"glue_batch": "G-404"}, "No glue batch has the code"),
        ({"lot": "P-1", "tablet": "Bench"}, "Choose one of"),
        ({"first": "2026-11-02"}, "Choose one of"),
        ({"tablet": "Bench", "first": "2026-11-03", "last": "2026-11-02"}, "lies before the first"),
        ({"tablet": "Bench", "first": "yesterday"}, "Enter a day as year-month-day"),
        ({"person": "404"}, "valid choice"),
    ],
)
def test_what_cannot_be_answered_says_why(
    shop: SmallShop, shells: list[Shell], office: Client, query: dict[str, str], sentence: str
) -> None:
    for name in ("find", "csv", "xlsx"):
        answer = ask(office, name, **query)
        assert answer.status_code == 422
        assert sentence in answer.content.decode()


def test_a_station_needs_a_day(shop: SmallShop, office: Client) -> None:
    answer = ask(office, station=shop.stations["cut"].pk)
    assert answer.status_code == 422
    assert "Which day?" in answer.content.decode()


def test_the_files_say_what_the_page_says_and_no_cell_is_a_formula(
    shop: SmallShop, shells: list[Shell], office: Client
) -> None:
    said = ["=1+1", "+49 30 1", "-2", "@home"]
    for n, customer in enumerate(said):
        shell = shop.released(f"K-{n + 5}", customer=customer)[0]
        sign(shop, shell, plate_birch_3_0="P-1")
    table = list(csv.reader(io.StringIO(ask(office, "csv", lot="P-1").content.decode("utf-8-sig"))))
    assert table[0][:5] == ["Serial", "Drum", "Order", "Customer", "State"]
    assert table[1] == [
        shells[0].serial,
        shells[0].drum,
        "K-1",
        "Harrow Lane School",
        "in production",
        "2026-11-02 09:00",
        "2026-11-02 09:00",
        shop.worker.name,
        shop.step(shells[0], 1).title,
        "tablet 1",
    ]
    assert [row[3] for row in table[2:]] == [f"'{words}" for words in said]
    sheet = load_workbook(io.BytesIO(ask(office, "xlsx", lot="P-1").content)).active
    assert sheet is not None
    cells = [sheet.cell(row, 4) for row in range(3, 7)]
    assert [(cell.value, cell.data_type, cell.quotePrefix) for cell in cells] == [(words, "s", True) for words in said]
    assert [[cell.value or "" for cell in row] for row in sheet.iter_rows()] == [
        [cell.removeprefix("'") for cell in row] for row in table
    ]


def test_a_long_list_has_pages_that_keep_the_question(shop: SmallShop, office: Client) -> None:
    lot(shop)
    for shell in shop.released(quantity=2):
        sign(shop, shell, plate_birch_3_0="P-1")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shopfloor.recall.views.ON_A_PAGE", 1)
        page = ask(office, lot="P-1").content.decode()
        second = ask(office, lot="P-1", page="2").content.decode()
    assert "2 drums: lot of material P-1 Birch 3.0" in page
    assert "?lot=P-1&amp;page=2" in page
    assert "drums.csv?lot=P-1" in second


def test_each_drum_has_its_ring_and_more_drums_ask_no_more_of_the_database(
    shop: SmallShop, shells: list[Shell], office: Client, django_assert_num_queries: Any
) -> None:
    cut: dict[str, Any] = {"station": shop.stations["cut"].pk, "first": "2026-11-02"}
    with CaptureQueriesContext(connection) as for_two:
        page = ask(office, **cut)
    assert page.content.decode().count("<title>Step 2 of ") == len(shells)
    for shell in shop.released(quantity=3, number="K-2"):
        sign_off(serial=shell.serial, position=1, person=shop.checker, answers={}, stamp=shop.stamp(shop.checker))
    with django_assert_num_queries(len(for_two)):
        page = ask(office, **cut)
    assert page.content.decode().count("<title>Step 2 of ") == 5
