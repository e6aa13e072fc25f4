"""The bags of a drum at a tablet: filled, counted, weighed, opened again, labelled."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from django.urls import reverse

from quality.models import Bag, BagState, Role
from routing.models import Shell, ShellRecord
from tests.quality.test_kitting import fill, with_bags
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(clock: Clock) -> Tablet:
    tablet = Tablet("assemble")
    tablet.sign_in(clock.shop.worker)
    return tablet


def tap(tablet: Tablet, shell: Shell, do: str, bag: str = "rods", *, key: str = "", **typed: str):
    form = {"do": do, "bag": bag, "tap_key": key or f"{do}-{bag}-{ShellRecord.objects.count()}"} | typed
    return tablet.client.post(tablet.url("bags", shell.serial), form)


def words_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(sheet.get_textpage().get_text_range() for sheet in document)


def test_the_step_page_of_assembly_and_packing_leads_to_the_bags(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    address = reverse("floor:bags", args=["assemble", shell.serial])
    assert f'href="{address}">Bags: 0 of 2 checked</a>' in page(bench.get("step", shell.serial))
    pack, cut = Tablet("pack"), Tablet("cut")
    for tablet in (pack, cut):
        tablet.sign_in(shop.worker)
    assert "Bags: 0 of 2 checked" in page(pack.get("step", shell.serial))
    assert "Bags:" not in page(cut.get("step", shell.serial))


def test_a_bag_is_filled_weighed_and_then_shown_as_checked(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    assert tap(bench, shell, "fill").status_code == 302
    shown = page(bench.get("bags", shell.serial))
    assert "Filled by Wanda Worker" in shown and "338.4 to 341.6 g" in shown
    assert tap(bench, shell, "weigh", weight="340,2").status_code == 302
    bag = Bag.objects.get()
    assert (bag.state, bag.weight_g, bag.checked_by) == (BagState.CHECKED, 340.2, shop.worker)
    assert "Weighed, 340.2 g, by Wanda Worker" in page(bench.get("bags", shell.serial))
    assert ShellRecord.objects.filter(shell=shell, kind="bag_check").get().device.startswith("Tablet")


def test_a_bag_that_must_be_counted_says_why_and_a_wrong_count_is_shown_again(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    tap(bench, shell, "fill", "screws")
    shown = page(bench.get("bags", shell.serial))
    assert "find one missing lug washer" in shown
    answer = tap(bench, shell, "count", "screws", **{"count-0": "19", "count-1": "20"})
    assert answer.status_code == 422
    assert "lug screw: 19 counted, 20 belong in it" in page(answer)
    assert re.search(r'name="count-0"[^>]* value="19"', page(answer))
    assert re.search(r'<details class="bag" open id="bag-2">', page(answer))
    assert tap(bench, shell, "count", "screws", **{"count-0": "20", "count-1": "20"}).status_code == 302
    assert Bag.objects.get().counts == [20, 20]


@pytest.mark.parametrize("typed", ["", "ten", "-1", "1.5", "99999999"])
def test_a_count_that_is_no_number_is_refused_and_names_its_line(shop: SmallShop, bench: Tablet, typed: str) -> None:
    shell = with_bags(shop)
    tap(bench, shell, "fill", "screws")
    answer = tap(bench, shell, "count", "screws", **{"count-0": "20", "count-1": typed})
    assert answer.status_code == 422
    assert "lug washer: enter how many counted" in page(answer)


@pytest.mark.parametrize("typed", ["", "heavy", "nan", "-4", "1e9"])
def test_a_weight_that_is_no_weight_is_refused(shop: SmallShop, bench: Tablet, typed: str) -> None:
    shell = with_bags(shop)
    tap(bench, shell, "fill")
    answer = tap(bench, shell, "weigh", weight=typed)
    assert answer.status_code == 422
    assert "Enter what the scale shows in grams" in page(answer)


def test_opened_again_with_a_reason_it_is_filled_anew(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    tap(bench, shell, "fill")
    assert tap(bench, shell, "open", **{"back-0": "19"}).status_code == 422
    answer = tap(bench, shell, "open", reason="one is bent", **{"back-0": "30"})
    assert answer.status_code == 422 and "between 0 and 20 can go back" in page(answer)
    assert tap(bench, shell, "open", reason="one is bent", **{"back-0": "19"}).status_code == 302
    assert tap(bench, shell, "fill").status_code == 302
    assert "attempt 2" in page(bench.get("bags", shell.serial))


def test_bad_forms_are_refused_with_a_sentence(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    empty = bench.client.post(bench.url("bags", shell.serial), {})
    assert empty.status_code == 422 and "Say which bag" in page(empty)
    assert tap(bench, shell, "fill", "claws").status_code == 422
    assert tap(bench, shell, "burn").status_code == 422
    assert tap(bench, shell, "count", **{"count-0": "20"}).status_code == 422  # not filled yet
    assert not Bag.objects.exists()


def test_the_second_person_is_told_who_was_first_and_the_same_tap_is_one(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    assert tap(bench, shell, "fill", key="k1").status_code == 302
    assert tap(bench, shell, "fill", key="k1").status_code == 302
    other = Tablet("pack")
    other.sign_in(shop.supervisor)
    answer = tap(other, shell, "fill", key="k2")
    assert answer.status_code == 409 and "Wanda Worker filled bag “rods”" in page(answer)
    assert Bag.objects.count() == 1


def test_nobody_signed_in_no_tablet_and_no_such_drum(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    stranger = Tablet("assemble")
    assert stranger.get("bags", shell.serial).status_code == 302
    assert tap(stranger, shell, "fill").status_code == 302
    assert bench.client.delete(bench.url("bags", shell.serial)).status_code == 405
    assert bench.client.post(bench.url("bag_label", shell.serial, 1)).status_code == 405
    assert bench.get("bags", "SS9999999X").status_code == 404
    assert bench.get("bag_label", shell.serial, 9).status_code == 404
    assert not Bag.objects.exists()
    mover = person("mo-mover")
    bench.sign_in(mover)
    mover.role = Role.OFFICE
    mover.save()
    assert tap(bench, shell, "fill").status_code == 302  # signed out: who may not sign steps works at no tablet
    assert not Bag.objects.exists()


def test_the_label_says_what_is_in_it_and_who_filled_and_checked_it(shop: SmallShop, bench: Tablet) -> None:
    shell = with_bags(shop)
    early = bench.get("bag_label", shell.serial, 1)
    assert early.status_code == 409 and "is not filled yet" in page(early)
    fill(shop, shell)
    pdf = bench.get("bag_label", shell.serial, 1)
    assert pdf["Content-Type"] == "application/pdf"
    assert "Not checked yet" in words_of(pdf.content)
    tap(bench, shell, "weigh", weight="340")
    words = words_of(bench.get("bag_label", shell.serial, 1).content)
    for said in (shell.serial, "bag 1 of 2", "tension rod", "Wanda Worker", "340.0 g", shell.order.number):
        assert said in words
    fill(shop, shell, "screws")
    every = pypdfium2.PdfDocument(bench.get("bag_label", shell.serial, 0).content)
    assert len(every) == 2
