"""Bags and the shelf in the office: pick lists, labels, shortages, counts and deliveries."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse

from quality.models import Bag, LotKind, Role, StockMove, StockPart
from tests.quality.test_kitting import add_parts, fill, stock, with_bags
from tests.quality.test_materials import lot
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def page(answer: Any) -> str:
    return str(answer.content.decode())


def words_of(pdf: bytes) -> str:
    return "\n".join(sheet.get_textpage().get_text_range() for sheet in pypdfium2.PdfDocument(pdf))


def test_an_order_lists_the_bags_of_its_drums_and_how_far_they_are(shop: SmallShop, office: Client) -> None:
    shell = with_bags(shop)
    assert "0 of 2" in page(office.get(reverse("packing:list")))
    shown = page(office.get(reverse("packing:order", args=["K-1"])))
    for said in (shell.serial, "tension rod", "lug washer", "Loose parts", "2 bags still to fill or check"):
        assert said in shown
    pdf = office.get(reverse("packing:order_list", args=["K-1"]))
    assert pdf["Content-Type"] == "application/pdf"
    for said in (shell.serial, "rods", "338.4", "lug screw", "batter head", "K-1"):
        assert said in words_of(pdf.content)
    assert shell.serial in words_of(office.get(reverse("packing:drum_list", args=[shell.serial])).content)


def test_the_office_reads_and_a_worker_fills_with_the_same_buttons(
    shop: SmallShop, office: Client, signed_in: Callable[[Role], Client]
) -> None:
    shell = with_bags(shop)
    drum, bag = reverse("packing:drum", args=[shell.serial]), reverse("packing:bag", args=[shell.serial])
    form = {"bag": "rods", "do": "fill", "tap_key": "k"}
    assert "Filled by this list" not in page(office.get(drum))
    assert office.post(bag, form).status_code == 403
    worker = signed_in(Role.WORKER)
    assert "by this list, as Wanda Worker" in page(worker.get(drum))
    assert worker.post(bag, form).status_code == worker.post(bag, form).status_code == 302
    assert Bag.objects.count() == 1
    assert signed_in(Role.SUPERVISOR).post(bag, form | {"tap_key": "other"}).status_code == 409
    refused = worker.post(bag, {"bag": "rods", "do": "weigh", "weight": "323"})
    assert refused.status_code == 422 and "338.4 to 341.6 g" in page(refused)
    assert worker.post(bag, {}).status_code == 422
    assert worker.get(bag).status_code == 405
    assert office.get(reverse("packing:label", args=[shell.serial, 1])).status_code == 200
    assert office.get(reverse("packing:label", args=[shell.serial, 2])).status_code == 409
    assert office.get(reverse("packing:label", args=[shell.serial, 8])).status_code == 404


def test_shortages_name_the_order_the_day_and_what_to_buy(shop: SmallShop, office: Client) -> None:
    with_bags(shop)
    stock(shop, "tension rod", 12)
    shown = page(office.get(reverse("packing:shortages")))
    for said in ("tension rod", "2026-12-18", "8 of 20", "Not counted", "lug washer"):
        assert said in shown
    stock_page = page(office.get(reverse("packing:shelf"), {"part": "lug washer"}))
    assert "not counted" in stock_page and 'value="lug washer"' in stock_page


def test_the_office_counts_and_receives_and_a_worker_does_not(
    shop: SmallShop, office: Client, signed_in: Callable[[Role], Client]
) -> None:
    count, receive = reverse("packing:count"), reverse("packing:receive")
    first = {"name": "tension rod", "pieces": "40", "reorder_at": "20", "place": "B 3", "tap_key": "a"}
    assert office.post(receive, {"name": "tension rod", "pieces": "5"}).status_code == 422
    assert office.post(count, first).status_code == office.post(count, first).status_code == 302
    assert office.post(receive, {"name": "tension rod", "pieces": "60", "tap_key": "b"}).status_code == 302
    part = StockPart.objects.get()
    assert (part.on_hand, part.reorder_at, part.place) == (100, 20, "B 3")
    again = {"name": "tension rod", "pieces": "99", "reason": "counted"}
    stale = office.post(count, again | {"shown": f"shown:all {part.pk}:40"})
    assert stale.status_code == 409 and "stood at 40 when you began; it is 100 now" in page(stale)
    assert 'value="99"' in page(stale) and office.post(count, again | {"shown": "shown:all"}).status_code == 409
    for wrong in ({}, {"name": "tension rod", "pieces": "many", "reason": "x"}, {"name": "tension rod", "pieces": "9"}):
        assert office.post(count, wrong).status_code == 422
    shown_now = re.search(r'name="shown" value="([^"]*)"', page(stale))
    assert shown_now is not None and shown_now[1] == f"shown:all {part.pk}:100"
    assert office.post(count, again | {"shown": shown_now[1]}).status_code == 302
    shown = page(office.get(reverse("packing:shelf")))
    assert "counted" in shown and "+60" in shown
    worker = signed_in(Role.WORKER)
    assert worker.post(count, again).status_code == worker.post(receive, again).status_code == 403
    assert "Enter the count" not in page(worker.get(reverse("packing:shelf")))
    assert StockMove.objects.count() == 3


def test_a_delivery_of_a_lot_leads_to_where_its_parts_went(shop: SmallShop, office: Client) -> None:
    shell = with_bags(shop)
    stock(shop, "tension rod", 0)
    rods = lot(shop, "R-7", LotKind.HARDWARE, "tension rod")
    came = {"name": "tension rod", "pieces": "60", "lot": "R-8", "reason": "note 12"}
    refused = office.post(reverse("packing:receive"), came)
    assert refused.status_code == 422 and "No lot has the code R-8" in page(refused)
    for typed in ('value="60"', 'value="R-8"', 'value="note 12"'):
        assert page(refused).count(typed) == 1  # in the form that was sent, and only there
    assert office.post(reverse("packing:receive"), came | {"lot": "R-7"}).status_code == 302
    fill(shop, shell)
    address = reverse("materials:lot", args=[rods.pk])
    assert f'note 12, lot <a href="{address}">R-7</a>' in page(office.get(reverse("packing:shelf")))
    seen = page(office.get(address))
    assert "60 × tension rod onto the shelf" in seen
    assert re.search(rf"<b>20</b> for .*{shell.serial}</a>, rods", seen)


@pytest.mark.parametrize("name", ["list", "shortages", "shelf"])
def test_queries_do_not_grow_with_drums(
    shop: SmallShop, office: Client, django_assert_max_num_queries: Any, name: str
) -> None:
    add_parts(shop)
    shells = shop.released("K-1", quantity=5)
    shop.released("K-2", quantity=3)
    fill(shop, shells[0])
    with django_assert_max_num_queries(11):
        office.get(reverse(f"packing:{name}"))


def test_an_order_costs_the_same_for_many_drums(
    shop: SmallShop, office: Client, django_assert_max_num_queries: Any
) -> None:
    add_parts(shop)
    shop.released("K-1", quantity=6)
    with django_assert_max_num_queries(9):
        shown = page(office.get(reverse("packing:order", args=["K-1"])))
    assert shown.count("Step 1 of 8: cut, ready") == 6  # the ring of each


def test_strangers_and_missing_things(shop: SmallShop, office: Client) -> None:
    shell = with_bags(shop)
    for name, args in [("list", []), ("order", ["K-1"]), ("drum", [shell.serial]), ("shortages", []), ("shelf", [])]:
        assert Client().get(reverse(f"packing:{name}", args=args)).status_code == 302
    for name, args in [("order", ["K-9"]), ("order_list", ["K-9"]), ("drum", ["SS9999999X"])]:
        assert office.get(reverse(f"packing:{name}", args=args)).status_code == 404
    assert office.post(reverse("packing:shelf")).status_code == 405
