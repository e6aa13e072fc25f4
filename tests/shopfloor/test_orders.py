"""Entering, changing, releasing and shipping orders."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from routing.models import KitLine, KitOrder, OrderState, RouteTemplate, Shell
from routing.order_book_text import MAX_BYTES
from tests.routing.order_books import file, row
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def entry(shop: SmallShop, **changes: Any) -> dict[str, Any]:
    return {
        "number": "K-7",
        "customer": "Tarn Valley Band",
        "customer_reference": "PO 12",
        "due": "2026-12-24",
        "note": "",
        "lines-TOTAL_FORMS": "2",
        "lines-INITIAL_FORMS": "0",
        "lines-MIN_NUM_FORMS": "0",
        "lines-MAX_NUM_FORMS": "40",
        "lines-0-model": str(shop.model.pk),
        "lines-0-finish": str(shop.finish.pk),
        "lines-0-quantity": "2",
        "lines-1-quantity": "1",
    } | changes


def test_an_order_is_entered_as_a_draft_and_nothing_is_made(shop: SmallShop, office: Client) -> None:
    assert office.get(reverse("orders:new")).status_code == 200
    answer = office.post(reverse("orders:new"), entry(shop), follow=True)
    assert answer.status_code == 200
    order = KitOrder.objects.get(number="K-7")
    assert (order.state, order.lines.get().quantity) == (OrderState.DRAFT, 2)
    assert "is saved as a draft" in answer.content.decode()
    assert not Shell.objects.exists()


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"number": ""}, "This field is required"),
        ({"number": "K/7"}, "Use letters, digits"),
        ({"due": "tomorrow"}, "Enter a day as year-month-day"),
        ({"due": "2206-12-24"}, "look at the year"),
        ({"lines-0-model": "", "lines-0-finish": "", "lines-0-quantity": "1"}, "Add at least one drum"),
        ({"lines-0-quantity": "0"}, "greater than or equal to 1"),
        ({"lines-0-quantity": "51"}, "less than or equal to 50"),
    ],
)
def test_a_mistake_is_said_beside_what_was_typed(
    shop: SmallShop, office: Client, changes: dict[str, str], says: str
) -> None:
    answer = office.post(reverse("orders:new"), entry(shop, **changes))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert says in page
    assert "Tarn Valley Band" in page
    assert not KitOrder.objects.exists()


def test_a_finish_that_the_line_does_not_come_in_is_refused(shop: SmallShop, office: Client) -> None:
    shop.model.line.finish_kind = "oil"
    shop.model.line.save()
    answer = office.post(reverse("orders:new"), entry(shop))
    assert answer.status_code == 422
    assert "drums are finished with oil; " in answer.content.decode()


def test_a_number_is_taken_once(shop: SmallShop, office: Client) -> None:
    office.post(reverse("orders:new"), entry(shop))
    answer = office.post(reverse("orders:new"), entry(shop))
    assert answer.status_code == 422
    assert "already" in answer.content.decode()
    assert KitOrder.objects.count() == 1


def test_a_draft_changes_and_its_lines_are_numbered_again(shop: SmallShop, office: Client) -> None:
    order = shop.order()
    extra = KitLine.objects.create(order=order, position=2, model=shop.model, finish=shop.finish, quantity=3)
    first = order.lines.get(position=1)
    change = entry(shop, number="K-1", customer="Other") | {
        "lines-INITIAL_FORMS": "2",
        "lines-0-id": str(first.pk),
        "lines-0-DELETE": "on",
        "lines-1-id": str(extra.pk),
        "lines-1-model": str(shop.model.pk),
        "lines-1-finish": str(shop.finish.pk),
        "lines-1-quantity": "4",
    }
    answer = office.post(reverse("orders:edit", args=["K-1"]), change)
    assert answer.status_code == 302
    line = order.lines.get()
    assert (line.pk, line.position, line.quantity) == (extra.pk, 1, 4)


def test_a_released_order_does_not_change(shop: SmallShop, office: Client) -> None:
    shop.released()
    answer = office.post(reverse("orders:edit", args=["K-1"]), entry(shop, number="K-1"))
    assert answer.status_code == 409
    assert "only a draft changes" in answer.content.decode()
    assert office.post(reverse("orders:delete", args=["K-1"])).status_code == 409


def test_a_draft_is_deleted(shop: SmallShop, office: Client) -> None:
    shop.order()
    assert office.post(reverse("orders:delete", args=["K-1"])).status_code == 302
    assert not KitOrder.objects.exists()
    assert office.post(reverse("orders:delete", args=["K-1"])).status_code == 404


def test_a_supervisor_releases_and_the_shells_are_shown(shop: SmallShop, supervisor: Client) -> None:
    shop.order(quantity=2)
    answer = supervisor.post(reverse("orders:release", args=["K-1"]), follow=True)
    page = answer.content.decode()
    assert answer.status_code == 200
    for shell in Shell.objects.all():
        assert shell.serial in page
    again = supervisor.post(reverse("orders:release", args=["K-1"]))
    assert again.status_code == 409
    assert "nothing was changed" in again.content.decode()
    assert Shell.objects.count() == 2


def test_why_an_order_cannot_be_released_is_said_before(shop: SmallShop, supervisor: Client) -> None:
    shop.order()
    RouteTemplate.objects.all().delete()
    assert "There is no route" in supervisor.get(reverse("orders:order", args=["K-1"])).content.decode()
    answer = supervisor.post(reverse("orders:release", args=["K-1"]))
    assert answer.status_code == 422
    assert not Shell.objects.exists()


def test_a_complete_order_ships(shop: SmallShop, supervisor: Client) -> None:
    (shell,) = shop.released()
    assert supervisor.post(reverse("orders:ship", args=["K-1"])).status_code == 409
    sign_through(shop, shell, 8)
    assert supervisor.post(reverse("orders:ship", args=["K-1"])).status_code == 422  # its carton is open
    shop.close_cartons()
    assert supervisor.post(reverse("orders:ship", args=["K-1"])).status_code == 302
    assert KitOrder.objects.get().state == OrderState.SHIPPED


def test_the_list_finds_and_filters(shop: SmallShop, office: Client) -> None:
    shop.order("K-1", customer="Tarn Valley Band")
    shop.released("K-2", customer="Harrow Lane School")
    page = office.get(reverse("orders:list"), {"q": "tarn"}).content.decode()
    assert "K-1" in page
    assert "Harrow Lane" not in page
    page = office.get(reverse("orders:list"), {"state": "released"}).content.decode()
    assert "K-2" in page
    assert "Tarn Valley" not in page
    assert "No order fits" in office.get(reverse("orders:list"), {"q": "nobody"}).content.decode()


def test_a_hostile_customer_name_is_shown_as_text(shop: SmallShop, office: Client) -> None:
    shop.order(customer="<script>alert(1)</script>")
    assert "<script>alert" not in office.get(reverse("orders:list")).content.decode()
    assert "<script>alert" not in office.get(reverse("orders:order", args=["K-1"])).content.decode()


def test_a_kit_shows_its_parts_and_cartons(shop: SmallShop, office: Client) -> None:
    shop.order()
    assert "no shells yet" in office.get(reverse("orders:kit", args=["K-1"])).content.decode()
    shells = shop.released("K-2", quantity=2)
    page = office.get(reverse("orders:kit", args=["K-2"])).content.decode()
    # Two equal snares never go into each other: two cartons; 20 rods each.
    assert "2 of 2" in page
    assert all(shell.serial in page for shell in shells)
    assert ">40<" in page


def test_a_book_that_is_too_large_is_refused_as_such(shop: SmallShop, office: Client) -> None:
    """It is never cut and read as if it ended there."""
    line = f"K-7,Tarn Valley Band,,2026-12-24,{shop.model.code},{shop.finish.name},1,\n"
    book = SimpleUploadedFile("book.csv", (line * (MAX_BYTES // len(line) + 1)).encode())
    answer = office.post(reverse("orders:import"), {"book": book})
    assert answer.status_code == 422
    assert "at most 2 are read" in answer.content.decode()


def test_what_was_imported_is_said_in_one_or_many(shop: SmallShop, office: Client) -> None:
    drum = {"due": "2099-12-24", "drum": shop.model.code, "finish": shop.finish.name}
    first = row(number="K-7", **drum)
    said = []
    for rows in ([first], [first, *(row(number=number, quantity="2", **drum) for number in ("K-8", "K-9"))]):
        answer = office.post(reverse("orders:confirm_import"), {"book": file(*rows)}, follow=True)
        said += [str(message) for message in answer.context["messages"]]
    assert said == [
        "1 order with 1 drum is imported as a draft.",
        "2 orders with 4 drums are imported as drafts. 1 was here already, unchanged.",
    ]
