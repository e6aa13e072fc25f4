"""PINs and passwords that somebody sets for a person: hashed, not easily guessed, ending what was signed in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.hashers import check_password
from django.test import Client
from django.utils import timezone

from quality.errors import PinRefused
from quality.models import Person, Role
from quality.pins import LOCKED_FOR_GOOD_AFTER, confirm_pin, is_easily_guessed, set_pin
from tests.shopfloor.person_page import GOOD_PIN, OTHER_PIN, PHRASE, address, said
from tests.small_shop import PIN, SmallShop


def test_a_pin_is_set_hashed_and_signs_out_of_the_tablets(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(failed_pins=7, locked_until=timezone.now() + timedelta(hours=1))
    answer = supervisor.post(address(shop.worker, "pin/"), {"pin": GOOD_PIN, "pin_again": GOOD_PIN})
    assert answer["Location"] == address(shop.worker)
    shop.worker.refresh_from_db()
    assert GOOD_PIN not in shop.worker.pin and shop.worker.pin.startswith("argon2")
    assert check_password(GOOD_PIN, shop.worker.pin) and not check_password(PIN, shop.worker.pin)
    assert (shop.worker.pin_version, shop.worker.failed_pins, shop.worker.locked_until) == (2, 0, None)
    confirm_pin(person=shop.worker, pin=GOOD_PIN, at=timezone.now())


def test_the_same_pin_again_ends_tablets_again(supervisor: Client, shop: SmallShop) -> None:
    for version in (2, 3):
        supervisor.post(address(shop.worker, "pin/"), {"pin": GOOD_PIN, "pin_again": GOOD_PIN})
        shop.worker.refresh_from_db()
        assert shop.worker.pin_version == version


@pytest.mark.parametrize(
    ("pin", "again", "sentence"),
    [
        ("", "", "This field is required."),
        ("12a456", "12a456", "6 to 12 digits and nothing else"),
        ("73016", "73016", "6 to 12 digits and nothing else"),
        ("7301649517384", "7301649517384", "6 to 12 digits and nothing else"),
        ("٧٣٠١٦٤", "٧٣٠١٦٤", "6 to 12 digits and nothing else"),  # digits, but not the tablet's
        (" 730164", " 730164", "6 to 12 digits and nothing else"),
        ("000000", "000000", "easily guessed"),
        (GOOD_PIN, OTHER_PIN, "The two are not the same"),
    ],
)
def test_a_bad_pin_is_refused_beside_its_field(
    supervisor: Client, shop: SmallShop, pin: str, again: str, sentence: str
) -> None:
    page = supervisor.post(address(shop.worker, "pin/"), {"pin": pin, "pin_again": again})
    assert page.status_code == 422
    assert sentence in said(page)
    if len(pin) > 4:
        assert pin not in said(page), "a secret is not sent back"
    shop.worker.refresh_from_db()
    assert check_password(PIN, shop.worker.pin) and shop.worker.pin_version == 1


@pytest.mark.parametrize(
    "pin",
    ["000000", "123456", "654321", "890123", "210987", "112233", "332211", "111222", "121212", "123123", "70707070"],
)
def test_rows_and_repeats_are_easily_guessed(pin: str, shop: SmallShop) -> None:
    assert is_easily_guessed(pin)
    with pytest.raises(PinRefused, match="easily guessed"):
        set_pin(person=shop.worker, pin=pin, by=shop.supervisor, at=shop.clock)


@pytest.mark.parametrize("pin", [GOOD_PIN, OTHER_PIN, PIN, "204681", "124578", "31415926"])
def test_other_pins_are_not(pin: str) -> None:
    assert not is_easily_guessed(pin)


def test_few_pins_are_refused() -> None:
    """The rule must leave nearly all of the million, or it helps whoever guesses."""
    sample = range(0, 1_000_000, 29)  # a step that shares no factor with 111 111
    share = sum(is_easily_guessed(f"{number:06}") for number in sample) / len(sample)
    assert 0.001 < share < 0.01


def test_unlocking_forgets_the_wrong_pins_and_can_be_repeated(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(
        failed_pins=LOCKED_FOR_GOOD_AFTER, locked_until=timezone.now() + timedelta(days=36500)
    )
    assert f"{LOCKED_FOR_GOOD_AFTER} wrong PINs in a row: locked" in said(supervisor.get(address(shop.worker)))
    assert "PIN locked" in said(supervisor.get("/people/"))
    for _ in range(2):
        assert supervisor.post(address(shop.worker, "unlock/"))["Location"] == address(shop.worker)
    shop.worker.refresh_from_db()
    confirm_pin(person=shop.worker, pin=PIN, at=timezone.now())
    assert "wrong PIN" not in said(supervisor.get(address(shop.worker)))


def test_a_new_password_signs_its_owner_out_elsewhere(
    supervisor: Client, signed_in: Callable[[Role], Client], shop: SmallShop
) -> None:
    office = signed_in(Role.OFFICE)
    oona = Person.objects.get(role=Role.OFFICE)
    assert office.get("/orders/").status_code == 200
    supervisor.post(address(oona, "password/"), {"password": PHRASE, "password_again": PHRASE})
    assert office.get("/orders/").status_code == 302
    assert Client().login(username=oona.username, password=PHRASE)


def test_ones_own_password_is_not_set_without_the_present_one(supervisor: Client, shop: SmallShop) -> None:
    before = Person.objects.get(pk=shop.supervisor.pk).password
    page = said(supervisor.get(address(shop.supervisor)))
    assert "Change your password" in page and 'name="password"' not in page
    answer = supervisor.post(address(shop.supervisor, "password/"), {"password": PHRASE, "password_again": PHRASE})
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/password/")
    assert Person.objects.get(pk=shop.supervisor.pk).password == before


@pytest.mark.parametrize(
    ("password", "again", "sentence"),
    [
        ("", "", "This field is required."),
        ("short", "short", "at least 10 characters"),
        ("basketball", "basketball", "too common"),
        ("wanda-worker", "wanda-worker", "too similar to the username"),
        (PHRASE, PHRASE + "s", "The two are not the same"),
    ],
)
def test_a_bad_password_is_refused(
    supervisor: Client, shop: SmallShop, password: str, again: str, sentence: str
) -> None:
    page = supervisor.post(address(shop.worker, "password/"), {"password": password, "password_again": again})
    assert page.status_code == 422
    assert sentence in said(page)
    shop.worker.refresh_from_db()
    assert shop.worker.check_password("a long pass phrase")


def test_nobodys_password_is_their_name(supervisor: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(username="seven")
    typed = {"password": shop.worker.name, "password_again": shop.worker.name}
    page = supervisor.post(address(shop.worker, "password/"), typed)
    assert page.status_code == 422 and "too similar to the name" in said(page)
