"""The pages of cartons, at a desk and at a tablet, and the paper that goes with them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from quality.carton_contents import Packing, packing_of
from quality.models import Carton, Role
from quality.trace import story_of
from routing.models import Finish, KitOrder, OrderState, Shell, Shop
from shopfloor.cartons import papers
from shopfloor.paper import PaperError
from tests.shopfloor.paper import LETTER, pages_of, sizes_of
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

A5_ACROSS = (595, 420)  # points, ISO 216
HALF_LETTER_ACROSS = (612, 396)  # points, 8.5 × 5.5 in


def text_of(pdf: bytes) -> str:
    return " ".join(pages_of(pdf))


@pytest.fixture
def packed(shop: SmallShop, clock: Clock) -> list[Shell]:
    """Two equal snares, packed: they travel in two cartons. Nothing is in their bags yet."""
    shells = shop.released(quantity=2)
    for shell in shells:
        sign_through(shop, shell, 8)
    clock.wait(minutes=1)
    return shells


@pytest.fixture
def worker(signed_in: Callable[[Role], Client]) -> Client:
    return signed_in(Role.WORKER)


def url(name: str = "order", *args: object) -> str:
    return reverse(f"cartons:{name}", args=["K-1", *args])


class TestAtADesk:
    def test_the_page_says_what_is_missing_and_how_it_is_nested(self, packed: list[Shell], worker: Client) -> None:
        shown = page(worker.get(url()))
        assert "0 of 2 closed" in shown
        assert f"Bag “rods” of {packed[0].serial} is not filled." in shown
        assert "40 mm of padding on every side" in shown
        assert shown.count("<figure") == 2
        assert "Caution" in shown
        assert "Close carton 1 as Wanda Worker" in shown

    def test_closing_names_who_closed(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        shop.fill_bags(packed[0])
        answer = worker.post(url("close", 1), {"tap_key": "a", "weighed_kg": "2,5"}, follow=True)
        assert "Carton 1 of 2 is closed by Wanda Worker." in page(answer)
        assert "1 of 2 closed" in page(answer)
        assert Carton.objects.get().weighed_g == 2500
        story = [event.detail for event in story_of(packed[0]).events if event.kind == "carton"]
        assert story == ["Carton 1 of 2 of order K-1, by itself, bags rods; weighed 2.50 kg"]

    def test_a_carton_that_is_short_is_refused_with_all_of_it(self, packed: list[Shell], worker: Client) -> None:
        answer = worker.post(url("close", 1), {"tap_key": "a", "weighed_kg": "2.4"})
        assert answer.status_code == 422
        shown = page(answer)
        assert "Carton 1 of 2 of order K-1 can&#x27;t be closed yet." in shown
        assert shown.count(f"Bag “rods” of {packed[0].serial} is not filled.") == 2  # refused, and in the table
        assert 'value="2.4"' in shown  # what was typed is kept
        assert not Carton.objects.exists()

    def test_a_weight_that_does_not_fit_is_said_and_closes_all_the_same(
        self, shop: SmallShop, packed: list[Shell], worker: Client
    ) -> None:
        shop.fill_bags(packed[0])
        answer = worker.post(url("close", 1), {"tap_key": "a", "weighed_kg": "9"}, follow=True)
        assert "kg more than computed" in page(answer)
        assert "find a missing screw" in page(answer)
        assert Carton.objects.count() == 1

    def test_a_page_of_an_older_plan_closes_nothing(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        shop.fill_bags(packed[0])
        seen = re.search(r'name="seen" value="(1 of 2: [^"]*)"', page(worker.get(url())))
        assert seen is not None and seen[1] == f"1 of 2: {packed[0].serial}"
        for stale in (f"1 of 3: {packed[0].serial}", f"1 of 2: {packed[1].serial}"):
            late = worker.post(url("close", 1), {"tap_key": "a", "seen": stale, "weighed_kg": "2.4"})
            assert late.status_code == 409
            assert f"carton 1 of 2 holds {packed[0].serial}" in page(late) and 'value="2.4"' in page(late)
        assert not Carton.objects.exists()
        assert worker.post(url("close", 1), {"tap_key": "a", "seen": seen[1]}).status_code == 302

    def test_a_label_of_an_older_count_is_said_and_not_printed(
        self, shop: SmallShop, packed: list[Shell], worker: Client
    ) -> None:
        shop.close_cartons()
        Carton.objects.filter(number=1).update(of=3)  # as it was when the order had three
        sentence = "The label of carton 1 says 1 of 3, but the order travels in 2 now."
        shown = page(worker.get(url()))
        assert sentence in shown and "Carton 1 of 3 " in shown and "Carton 2 of 2 " in shown
        assert "can be marked as shipped" not in shown and "can mark the order as shipped" not in shown
        for address in (url("labels"), url("label", 1)):
            refused = worker.get(address)
            assert refused.status_code == 422 and sentence in page(refused)
        assert worker.get(url("label", 2))["Content-Type"] == "application/pdf"

    @pytest.mark.parametrize("weight", ["heavy", "-1", "nan", "1e9"])
    def test_a_weight_that_is_none_is_refused(
        self, shop: SmallShop, packed: list[Shell], worker: Client, weight: str
    ) -> None:
        shop.fill_bags(packed[0])
        answer = worker.post(url("close", 1), {"tap_key": "a", "weighed_kg": weight})
        assert answer.status_code == 422
        assert "weigh again" in page(answer)
        assert not Carton.objects.exists()

    def test_the_same_tap_twice_closes_once(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        shop.fill_bags(packed[0])
        for _ in range(2):
            assert worker.post(url("close", 1), {"tap_key": "a"}).status_code == 302
        assert Carton.objects.count() == 1

    def test_the_second_is_told_who_was_first(
        self, shop: SmallShop, packed: list[Shell], worker: Client, supervisor: Client
    ) -> None:
        shop.fill_bags(packed[0])
        worker.post(url("close", 1), {"tap_key": "a"})
        answer = supervisor.post(url("close", 1), {"tap_key": "b"})
        assert answer.status_code == 409
        assert "Wanda Worker closed carton 1 of K-1" in page(answer)

    def test_opening_wants_a_reason_and_shows_it_afterwards(
        self, shop: SmallShop, packed: list[Shell], worker: Client
    ) -> None:
        shop.close_cartons()
        answer = worker.post(url("open", 1), {"tap_key": "a", "reason": " "})
        assert answer.status_code == 422
        assert "Say why the carton is opened" in page(answer)
        answer = worker.post(url("open", 1), {"tap_key": "a", "reason": "wrong <card>"}, follow=True)
        assert "Carton 1 of 2 is open again" in page(answer)
        assert escape("wrong <card>") in page(answer)
        assert worker.post(url("open", 1), {"tap_key": "a", "reason": "x"}).status_code == 302  # the same tap
        assert worker.post(url("open", 1), {"tap_key": "b", "reason": "x"}).status_code == 409
        story = [event.detail for event in story_of(packed[0]).events if event.kind == "uncartoned"]
        assert story == ["Carton 1 of 2 of order K-1: wrong <card>"]

    def test_who_does_not_pack_sees_and_changes_nothing(
        self, shop: SmallShop, packed: list[Shell], office: Client
    ) -> None:
        shop.fill_bags(packed[0])
        assert "Close carton" not in page(office.get(url()))
        assert office.post(url("close", 1), {"tap_key": "a"}).status_code == 403
        assert not Carton.objects.exists()

    def test_a_stranger_is_sent_to_sign_in(self, packed: list[Shell]) -> None:
        for address in (url(), reverse("cartons:list"), url("packing_list"), url("labels")):
            assert "/sign-in/" in Client().get(address)["Location"]
        assert "/sign-in/" in Client().post(url("close", 1))["Location"]

    def test_an_order_that_is_not_there_and_a_carton_that_is_none(self, packed: list[Shell], worker: Client) -> None:
        assert worker.get(reverse("cartons:order", args=["K-404"])).status_code == 404
        assert worker.post(url("close", 7), {"tap_key": "a"}).status_code == 422
        assert worker.post(url("open", 7), {"tap_key": "a", "reason": "x"}).status_code == 422

    def test_a_draft_has_none(self, shop: SmallShop, worker: Client) -> None:
        shop.order()
        assert "This order has no drums yet" in page(worker.get(url()))
        assert worker.get(url("packing_list")).status_code == 422

    def test_more_drums_take_no_more_queries(self, shop: SmallShop, worker: Client) -> None:
        def queries(number: str) -> int:
            with CaptureQueriesContext(connection) as counted:
                assert worker.get(reverse("cartons:order", args=[number])).status_code == 200
            return len(counted)

        shop.released("K-1", 1)
        shop.released("K-9", 6)
        queries("K-1")
        assert queries("K-1") == queries("K-9")


class TestTheList:
    def test_it_has_what_can_be_packed(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        shop.released("K-2")
        shop.fill_bags(packed[0])
        worker.post(url("close", 1), {"tap_key": "a"})
        shown = worker.get(reverse("cartons:list"))
        (row,) = shown.context["page"].object_list
        assert (row.number, row.drums, row.packed, row.in_cartons) == ("K-1", 2, 2, 1)
        assert "K-2" not in page(shown)

    def test_a_carton_that_was_opened_again_does_not_count(
        self, shop: SmallShop, packed: list[Shell], worker: Client
    ) -> None:
        shop.close_cartons()
        worker.post(url("open", 1), {"tap_key": "a", "reason": "x"})
        (row,) = worker.get(reverse("cartons:list")).context["page"].object_list
        assert row.in_cartons == 1

    def test_nothing_to_pack(self, shop: SmallShop, worker: Client) -> None:
        assert "Nothing is to be packed now" in page(worker.get(reverse("cartons:list")))


class TestAtATablet:
    def test_the_worker_signed_in_there_closes(self, shop: SmallShop, packed: list[Shell]) -> None:
        shop.fill_bags(packed[0])
        tablet = Tablet("pack")
        tablet.sign_in(shop.worker)
        shown = page(tablet.client.get(url()))
        assert 'class="floor"' in shown
        assert "Close carton 1 as Wanda Worker" in shown
        answer = tablet.client.post(url("close", 1), {"tap_key": "a", "as": shop.worker.pk}, follow=True)
        assert "Carton 1 of 2 is closed by Wanda Worker." in page(answer)
        assert Carton.objects.get().drums.get().record.device == "Tablet 1"

    def test_a_page_of_another_worker_closes_nothing(self, shop: SmallShop, packed: list[Shell]) -> None:
        shop.fill_bags(packed[0])
        tablet = Tablet("pack")
        tablet.sign_in(shop.worker)
        answer = tablet.client.post(url("close", 1), {"tap_key": "a", "as": shop.checker.pk})
        assert answer.status_code == 409
        assert "Wanda Worker is signed in now" in page(answer)
        assert not Carton.objects.exists()

    def test_nobody_signed_in_is_sent_to_the_sign_in_of_the_station(self, packed: list[Shell]) -> None:
        tablet = Tablet("pack")
        tablet.client.get(reverse("floor:queue", args=["pack"]))
        assert tablet.client.get(url())["Location"] == reverse("floor:sign_in", args=["pack"])

    def test_bags_are_one_tap_away_on_the_same_tablet(self, shop: SmallShop, packed: list[Shell]) -> None:
        tablet = Tablet("pack")
        tablet.sign_in(shop.worker)
        shown = page(tablet.client.get(url()))
        assert reverse("packing:order", args=["K-1"]) not in shown  # the office's page would ask for another sign-in
        for shell in packed:
            bags = reverse("floor:bags", args=["pack", shell.serial])
            assert f'href="{bags}"' in shown
            assert tablet.client.get(bags).status_code == 200

    def test_the_pack_step_leads_there(self, shop: SmallShop, packed: list[Shell]) -> None:
        tablet = Tablet("pack")
        tablet.sign_in(shop.worker)
        assert url() in page(tablet.get("step", packed[0].serial))


class TestShipping:
    def test_an_open_carton_stops_it_and_is_named(self, packed: list[Shell], supervisor: Client) -> None:
        answer = supervisor.post(reverse("orders:ship", args=["K-1"]))
        assert answer.status_code == 422
        assert f"Carton 1 of 2 ({packed[0].serial}) is not closed." in page(answer)
        assert "packed before cartons were recorded here" in page(answer)
        assert url() in page(answer)
        assert KitOrder.objects.get().state == OrderState.COMPLETE

    def test_closed_it_ships_and_is_left_alone(self, shop: SmallShop, packed: list[Shell], supervisor: Client) -> None:
        shop.close_cartons()
        assert "2 of 2 closed" in page(supervisor.get(reverse("orders:order", args=["K-1"])))
        assert supervisor.post(reverse("orders:ship", args=["K-1"])).status_code == 302
        assert "Open carton" not in page(supervisor.get(url()))
        assert supervisor.post(url("open", 1), {"tap_key": "a", "reason": "x"}).status_code == 422


class TestPaper:
    def test_the_packing_list_has_everything(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        draft = text_of(worker.get(url("packing_list")).content)
        assert "Draft: 0 of 2 cartons are closed" in draft
        shop.close_cartons()
        answer = worker.get(url("packing_list"))
        assert answer["Content-Type"] == "application/pdf"
        said = text_of(answer.content)
        assert "Draft" not in said
        for words in ("K-1", "Harrow Lane School", "Carton 1 of 2", "Carton 2 of 2", "rods", "Wanda Worker"):
            assert words in said
        for shell in packed:
            assert shell.serial in said

    def test_a_label_for_each_closed_carton(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        assert worker.get(url("labels")).status_code == 422
        assert worker.get(url("label", 1)).status_code == 422
        shop.close_cartons()
        answer = worker.get(url("labels"))
        assert sizes_of(answer.content) == {A5_ACROSS}
        assert len(pages_of(answer.content)) == 2
        said = text_of(worker.get(url("label", 2)).content)
        assert "Carton 2 of 2" in said
        assert packed[1].serial in said
        assert packed[0].serial not in said
        assert "two people" not in said  # under 15 kg

    def test_above_15_kg_two_people_lift(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        shop.close_cartons()
        Carton.objects.filter(number=1).update(weighed_g=15_400)
        said = text_of(worker.get(url("label", 1)).content)
        assert "two people lift" in said
        assert "15.4 kg" in said
        assert "two people lift" in text_of(worker.get(url("packing_list")).content)

    def test_where_sheets_are_letter(self, shop: SmallShop, packed: list[Shell], worker: Client) -> None:
        Shop.objects.update(paper_size="Letter")
        shop.close_cartons()
        assert sizes_of(worker.get(url("packing_list")).content) == {LETTER}
        assert sizes_of(worker.get(url("label", 1)).content) == {HALF_LETTER_ACROSS}

    @pytest.mark.parametrize("size", ["A4", "Letter"])
    def test_six_drums_with_long_names_stay_on_one_label(
        self, shop: SmallShop, packed: list[Shell], worker: Client, monkeypatch: pytest.MonkeyPatch, size: str
    ) -> None:
        Shop.objects.update(paper_size=size)
        Finish.objects.update(name="Deep russet burst over natural ash, gloss lacquer")
        shop.close_cartons()
        bags = ("lugs and inserts", "tension rods and washers", "isolation mount", "badge and vent")

        def crowded(order: KitOrder, now: datetime) -> Packing:
            packing = packing_of(order, now)
            assert packing is not None
            drum = replace(packing.cartons[0].drums[0], bags=bags)
            return replace(packing, cartons=(replace(packing.cartons[0], drums=(drum,) * 6),))

        monkeypatch.setattr(papers, "packing_of", crowded)
        (only,) = pages_of(worker.get(url("label", 1)).content)
        assert only.count("bags: lugs and inserts, tension rods and washers, isolation mount, badge and vent") == 6

    def test_a_machine_that_can_not_print_says_so(
        self, shop: SmallShop, packed: list[Shell], worker: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(*args: object, **more: object) -> bytes:
            raise PaperError("A library that printing needs is missing.")

        monkeypatch.setattr(papers, "pdf_from_template", broken)
        answer = worker.get(url("packing_list"))
        assert answer.status_code == 503
        assert "A library that printing needs is missing" in page(answer)
