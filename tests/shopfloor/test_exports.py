"""Lists as files: what stands in them, that orders come back in, and that length costs no memory."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from openpyxl import load_workbook

from quality.actions import sign_off, withdraw_sign_off
from quality.models import CheckPoint, Role
from quality.problems import report_problem
from routing.models import KitOrder
from routing.order_book import read_order_book
from shopfloor import lists
from shopfloor.exports.content import ORDERS_HEAD, order_rows
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.OFFICE)


def table(client: Client, address: str) -> list[dict[str, str]]:
    answer = client.get(address)
    assert answer.status_code == 200
    text = b"".join(answer).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_orders_leave_and_come_back(shop: SmallShop, office: Client) -> None:
    order = shop.order("K-1", quantity=3, customer="=Harrow; Lane", customer_reference="A, 1", note="")
    shop.order("K-2")
    rows = table(office, "/files/orders.csv")
    assert [(row["order number"], row["quantity"], row["state"]) for row in rows] == [
        ("K-1", "3", "draft"),
        ("K-2", "1", "draft"),
    ]
    sent = b"".join(office.get("/files/orders.csv"))
    columns = {"state", "entered", "released"}
    back = io.StringIO()
    writer = csv.DictWriter(back, [name for name in rows[0] if name not in columns], extrasaction="ignore")
    writer.writeheader()
    writer.writerows(csv.DictReader(io.StringIO(sent.decode("utf-8-sig"))))
    book = read_order_book(back.getvalue().encode(), today=timezone.localdate(shop.clock))
    assert [known.number for known in book.known] == ["K-1", "K-2"]
    assert book.known[0].customer == order.customer
    KitOrder.objects.all().delete()
    assert len(read_order_book(back.getvalue().encode(), today=timezone.localdate(shop.clock)).new) == 2


def test_shells_where_they_stand(shop: SmallShop, office: Client) -> None:
    first, second, third = shop.released(quantity=3)
    sign_through(shop, first, 2)
    report_problem(serial=second.serial, position=1, person=shop.checker, text="=1+1", stamp=shop.stamp(shop.checker))
    rows = {row["serial"]: row for row in table(office, "/files/shells.csv")}
    assert rows[first.serial]["station"] == "edge"
    assert (rows[second.serial]["state"], rows[second.serial]["held for"]) == ("on hold", "'=1+1")
    assert rows[third.serial]["step"] == "cut"


def test_signatures_with_their_readings_and_what_became_of_them(shop: SmallShop, office: Client) -> None:
    check = CheckPoint.objects.create(
        code="t", station=shop.stations["cut"], text="Thickness", kind="measured", nominal=3.0, minus=0.2, plus=0.2
    )
    (shell,) = shop.released()
    sign_off(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        answers={str(check.pk): "3.1"},
        stamp=shop.stamp(shop.worker),
    )
    withdraw_sign_off(
        serial=shell.serial, position=1, person=shop.worker, reason="wrong", stamp=shop.stamp(shop.worker)
    )
    day = timezone.localdate(shop.clock)
    (row,) = table(office, f"/files/signatures.csv?first={day}&last={day}")
    assert (row["serial"], row["signed by"], row["stands"]) == (shell.serial, shop.worker.name, "withdrawn")
    assert row["measured and seen"].startswith("Thickness: 3")
    assert table(office, "/files/signatures.csv?first=2020-01-01&last=2020-01-31") == []


@pytest.mark.parametrize("what", ["orders", "shells", "signatures"])
def test_the_spreadsheet_says_the_same(shop: SmallShop, office: Client, what: str) -> None:
    shells = shop.released(quantity=2, customer="=1+1")
    sign_through(shop, shells[0], 1)
    day = timezone.localdate(shop.clock)
    answer = office.get(f"/files/{what}.xlsx?first={day}&last={day}")
    sheet = load_workbook(io.BytesIO(b"".join(answer))).active
    assert sheet is not None
    head, *rows = sheet.iter_rows(values_only=True)
    read = table(office, f"/files/{what}.csv?first={day}&last={day}")
    assert list(head) == list(read[0])
    for written, row in zip(rows, read, strict=True):
        assert [value or "" for value in written] == [
            value.removeprefix("'") if value.startswith("'=") else value for value in row.values()
        ]
    assert all(cell.data_type in ("s", "n", "inlineStr") for line in sheet.iter_rows() for cell in line)


def test_a_long_list_is_read_in_parts(shop: SmallShop, office: Client, monkeypatch: Any) -> None:
    shells = shop.released(quantity=5)
    monkeypatch.setattr(lists.in_parts, "__defaults__", (2,))
    assert [row["serial"] for row in table(office, "/files/shells.csv")] == [shell.serial for shell in shells]


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/files/signatures.csv?first=soon", 422),
        ("/files/signatures.csv?first=2026-02-01&last=2026-01-01", 422),
        ("/files/?first=x", 422),
        ("/files/people.csv", 404),
        ("/files/orders.pdf", 404),
    ],
)
def test_what_cannot_be_read(office: Client, address: str, status: int) -> None:
    assert office.get(address).status_code == status


def test_every_row_of_the_orders_is_as_long_as_their_head(shop: SmallShop) -> None:
    """The head follows the columns of the order book; a new one has to be named in the rows, too."""
    shop.released()
    assert {len(row) for row in order_rows()} == {len(ORDERS_HEAD)}
