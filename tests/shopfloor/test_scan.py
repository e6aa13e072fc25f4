"""Scanning or typing a serial number: at a station the step opens, at a desk the story."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import Tablet as ShopTablet
from quality.tablets import revoke
from routing.specs.check_character import check_character
from shopfloor.qr import traveler_address
from shopfloor.tablet_station import STATION_COOKIE
from tests.shopfloor.tablets import Tablet, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def scanned(client: Client, address: str) -> str:
    """Where a scan of this address ends up."""
    answer = client.get(address)
    assert answer.status_code == 302
    return str(answer["Location"])


def typed(client: Client, words: str, **more: str) -> str:
    answer = client.get(reverse("scan:scan"), {"q": words} | more)
    assert answer.status_code == 302
    return str(answer["Location"])


def test_a_scan_at_a_tablet_opens_the_step_there_and_keeps_the_revision(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    opened = scanned(cut.client, traveler_address(shell.serial, 1, ""))
    assert opened == cut.url("step", shell.serial) + "?r=1"
    assert cut.client.get(opened).status_code == 200


def test_a_scan_at_a_desk_opens_the_story(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    story = reverse("trace:shell", args=[shell.serial])
    assert scanned(office, traveler_address(shell.serial, 1, "")) == story
    assert office.get(story).status_code == 200


def test_a_desk_at_which_a_station_was_looked_at_stays_a_desk(shop: SmallShop, supervisor: Client) -> None:
    (shell,) = shop.released()
    cut = Tablet("cut", supervisor)
    assert cut.get("sign_in").status_code == 200
    assert typed(supervisor, shell.serial) == reverse("trace:shell", args=[shell.serial])
    assert typed(supervisor, shell.serial, at="cut") == cut.url("step", shell.serial)


def test_a_browser_that_is_no_tablet_is_a_desk_whatever_it_says(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    stranger = Client()
    stranger.cookies[STATION_COOKIE] = "cut"
    for browser in (office, stranger):
        assert typed(browser, shell.serial, at="cut") == reverse("trace:shell", args=[shell.serial])


def test_a_tablet_with_one_station_is_there_without_being_told(shop: SmallShop) -> None:
    (shell,) = shop.released()
    cut = Tablet("cut", stations=["cut"])
    assert typed(cut.client, shell.serial) == cut.url("step", shell.serial)
    assert typed(cut.client, shell.serial, at="edge") == reverse("trace:shell", args=[shell.serial])
    revoke(tablet=ShopTablet.objects.get(), by=shop.supervisor, at=shop.clock)
    assert typed(cut.client, shell.serial) == reverse("trace:shell", args=[shell.serial])


@pytest.mark.parametrize("write", [str, str.lower, lambda serial: f"  {serial} ", lambda serial: f"{serial}\n"])
def test_a_serial_is_read_as_people_and_scanners_type_it(shop: SmallShop, cut: Tablet, write: type[str]) -> None:
    (shell,) = shop.released()
    assert typed(cut.client, write(shell.serial)) == cut.url("step", shell.serial)


@pytest.mark.parametrize("base", ["https://floor.example", "http://192.168.1.20:8000", ""])
def test_a_scanner_that_types_the_whole_address_is_understood(shop: SmallShop, cut: Tablet, base: str) -> None:
    (shell,) = shop.released()
    assert typed(cut.client, traveler_address(shell.serial, 1, base)) == cut.url("step", shell.serial) + "?r=1"


def test_a_mistyped_serial_is_told_from_an_unknown_one(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    wrong_character = shell.serial[:-1] + ("A" if shell.serial[-1] != "A" else "B")
    assert typed(cut.client, wrong_character) == cut.url("queue")
    assert "its last character does not fit the others" in page(cut.get("queue"))
    unknown = "SS2699999" + check_character("SS2699999")
    assert typed(cut.client, unknown) == cut.url("queue")
    assert f"No drum with the serial number {unknown} was made here." in page(cut.get("queue"))


@pytest.mark.parametrize("words", ["", "   ", "?r=1", "////", "no drum", "S" * 5000, "<script>alert(1)</script>"])
def test_words_that_are_no_serial_are_answered_with_a_sentence(shop: SmallShop, cut: Tablet, words: str) -> None:
    assert typed(cut.client, words) == cut.url("queue")
    shown = page(cut.get("queue"))
    assert "message error" in shown
    assert "<script>alert" not in shown


def test_a_desk_without_luck_is_led_to_the_search(shop: SmallShop, office: Client) -> None:
    assert typed(office, "no drum") == reverse("trace:search")


def test_a_revision_that_is_no_number_is_dropped(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    step = cut.url("step", shell.serial)
    assert scanned(cut.client, reverse("scan:shell", args=[shell.serial]) + "?r=//elsewhere.example") == step


def test_an_unknown_station_is_no_station(shop: SmallShop, office: Client) -> None:
    (shell,) = shop.released()
    assert typed(office, shell.serial, at="lathe") == reverse("trace:shell", args=[shell.serial])
    assert typed(office, shell.serial, at="//elsewhere.example") == reverse("trace:shell", args=[shell.serial])


def test_a_stranger_sees_nothing_of_a_drum(shop: SmallShop) -> None:
    (shell,) = shop.released()
    stranger = Client()
    story = scanned(stranger, traveler_address(shell.serial, 1, ""))
    assert scanned(stranger, story).startswith(reverse("signin:office"))


def test_scanning_changes_nothing(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    before = shop.step(shell, 1).state, shell.chain_head
    scanned(cut.client, traveler_address(shell.serial, 1, ""))
    shell.refresh_from_db()
    assert (shop.step(shell, 1).state, shell.chain_head) == before
    assert cut.client.post(reverse("scan:shell", args=[shell.serial])).status_code == 405
    assert cut.client.post(reverse("scan:scan"), {"q": shell.serial}).status_code == 405
