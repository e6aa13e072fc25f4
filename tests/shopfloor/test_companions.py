"""A drum to go with an old one: drafted from the recipe that is kept, in the finish and of the line of the old one."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from quality.companions import draft_companion, old_drum
from quality.errors import QualityError
from quality.models import CustomerRequest, LotKind
from routing.errors import LostRace
from routing.models import DrumModel, Finish, FinishCoat, KitLine, KitOrder, ProductLine, Shell
from tests.quality.customer_requests import by, take
from tests.quality.test_materials import lot, sign
from tests.shopfloor.tablets import page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_a_companion_is_drafted_from_the_kept_recipe(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold, kind="companion", said="a tom to go with it", parts={}).number
    where = f"/requests/{number}/companion/"
    assert "today&#x27;s recipes would make the same drum" in page(office.get(where)).replace("’", "&#x27;").replace(
        "today's", "today&#x27;s"
    )
    FinishCoat.objects.filter(name="clear 2").update(wet_film_um=110)
    FinishCoat.objects.create(
        finish=Finish.objects.get(), position=3, name="clear 3", stage="clear", wet_film_um=90, volume_solids_pct=35,
        base_dwell_h=2,
    )  # fmt: skip
    seen = page(office.get(where))
    assert "finish, coats, clear 2: wet film, µm" in seen and "<td>90</td><td><strong>110</strong></td>" in seen
    assert "<td>–</td><td><strong>clear 3</strong></td>" in seen
    asked = {"tap_key": "c1", "model": shop.model.pk, "quantity": "2", "due": "2027-02-01", "customer": "Ines Vogel"}
    made = office.post(where, asked)
    assert made["Location"] == f"/orders/order/{number}/"
    assert office.post(where, asked)["Location"] == made["Location"], "the same tap"
    order, line = KitOrder.objects.get(number=number), KitLine.objects.get(order__number=number)
    assert (order.state, order.customer, order.due) == ("draft", "Ines Vogel", date(2027, 2, 1))
    assert (line.model, line.finish, line.quantity, line.note) == (
        shop.model, shop.finish, 2, f"companion to {sold.serial}",
    )  # fmt: skip
    assert sold.serial in order.note and CustomerRequest.objects.get().companion_order == order
    again = office.post(where, {**asked, "tap_key": "c2"})
    assert again.status_code == 409 and "The companion is order" in page(again)
    order.delete()
    assert office.post(where, {**asked, "tap_key": "c3"}).status_code == 302


def test_a_companion_may_be_of_another_size_but_not_of_another_line(
    sold: Shell, office: Client, shop: SmallShop
) -> None:
    number = take(shop, sold, kind="companion", parts={}).number
    larger = DrumModel.objects.get()
    larger.pk, larger.code, larger.nominal_depth_in = None, "heron-snare-14x6-5", 6.5
    larger.save()
    other = DrumModel.objects.get(pk=shop.model.pk)
    other.pk, other.code, other.line = None, "wren", ProductLine.objects.create(name="Wren", finish_kind="lacquer")
    other.save()
    assert [model.pk for model in old_drum(sold).sizes] == [shop.model.pk, larger.pk]
    given: dict[str, Any] = {"number": number, "quantity": 1, "due": date(2027, 1, 4), "customer": "Ines"}
    office.get(f"/requests/{number}/companion/")
    with CaptureQueriesContext(connection) as before:
        office.get(f"/requests/{number}/companion/")
    for n in range(4):
        larger.pk, larger.code = None, f"heron-snare-{n}"
        larger.save()
    with CaptureQueriesContext(connection) as after:
        office.get(f"/requests/{number}/companion/")
    assert len(before) == len(after)
    with pytest.raises(QualityError, match="same line"):
        draft_companion(model=other, **given, **by(shop))
    fields = {"tap_key": "x", "model": other.pk, "quantity": "1", "due": "2027-01-04", "customer": "Ines"}
    assert office.post(f"/requests/{number}/companion/", fields).status_code == 422
    assert draft_companion(model=larger, **given, **by(shop)).lines.get().model == larger
    with pytest.raises(LostRace):
        draft_companion(model=larger, **given, **by(shop))


def test_a_retired_recipe_makes_no_companion(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold, kind="companion", parts={}).number
    Finish.objects.update(is_active=False)
    assert "Heron satin is retired" in page(office.get(f"/requests/{number}/companion/"))
    fields = {"tap_key": "x", "model": shop.model.pk, "quantity": "1", "due": "2027-01-04", "customer": "Ines"}
    answer = office.post(f"/requests/{number}/companion/", fields)
    assert answer.status_code == 422 and not KitOrder.objects.filter(number=number).exists()


def test_the_lots_of_the_old_drum_are_shown_for_its_colour(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    lot(shop, "C-7", LotKind.COATING, "clear 1", received_on=date(2026, 10, 1))
    plate = lot(shop, "P-7")
    sign(shop, shell, plate_birch_3_0=plate.code)
    number = take(shop, shell, kind="companion", parts={}).number
    seen = page(office.get(f"/requests/{number}/companion/"))
    assert "P-7" in seen and "C-7" not in seen and "on the shelf" in seen


def test_a_draft_that_was_deleted_is_not_made_by_the_same_tap(sold: Shell, office: Client, shop: SmallShop) -> None:
    number = take(shop, sold, kind="companion", parts={}).number
    given: dict[str, Any] = {
        "number": number, "model": shop.model, "quantity": 1, "due": date(2027, 1, 4), "customer": "Ines",
        **by(shop, "once"),
    }  # fmt: skip
    draft_companion(**given).delete()
    with pytest.raises(LostRace, match="deleted again"):
        draft_companion(**given)
    assert draft_companion(**given | by(shop, "anew")).number
