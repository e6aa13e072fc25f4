"""What wrong passwords cost, whom, and who can lift it."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest

from quality.models import WrongTries
from quality.passwords import (
    FREE_TRIES,
    FREE_TRIES_OF_ADDRESS,
    LONGEST_WAIT,
    MOST_IN_A_ROW,
    MustWait,
    account_wait,
    address_wait,
    bucket,
    forget_wrong_passwords,
    let_address_try,
    one_try,
    waiting_addresses,
    wrong_passwords,
)
from routing.turnstile import writing
from tests.small_shop import SmallShop

NAME, HERE, THERE = "sam-supervisor", "192.0.2.7", "198.51.100.9"


def attempt(shop: SmallShop, *, name: str = NAME, address: str = HERE, browser: str = "", right: bool = False) -> bool:
    """Whether the password was looked at."""
    looked = False
    with one_try(username=name, address=address, browser=browser, at=shop.clock) as was_right:
        looked = True
        if right:
            was_right()
    return looked


def refused(shop: SmallShop, **more: Any) -> MustWait:
    with pytest.raises(MustWait) as caught:
        attempt(shop, **more)
    return caught.value


def test_waits_grow_and_stay_bearable() -> None:
    waits = [account_wait(n) for n in range(MOST_IN_A_ROW)]
    assert waits[: FREE_TRIES + 1] == [timedelta(0)] * (FREE_TRIES + 1)
    assert waits[FREE_TRIES + 1] == timedelta(seconds=30)
    assert all(a <= b <= LONGEST_WAIT for a, b in pairwise(waits))
    assert account_wait(MOST_IN_A_ROW) > timedelta(days=3650)
    assert address_wait(FREE_TRIES_OF_ADDRESS - 1) == timedelta(0)
    assert address_wait(10_000) == timedelta(hours=1)


def test_a_day_of_guessing_at_one_account_is_a_hundred_guesses(shop: SmallShop) -> None:
    """Whoever waits exactly as long as told gets no further than the standard allows."""
    guesses, ends = 0, shop.clock + timedelta(days=3)
    while shop.clock < ends:
        try:
            attempt(shop, address=f"192.0.2.{guesses}")
            guesses += 1
        except MustWait as wait:
            guesses += 1 if "do not fit" in wait.message else 0
            if wait.seconds > 86400:
                break
            shop.wait(seconds=wait.seconds)
    assert guesses == MOST_IN_A_ROW


def test_the_fifth_wrong_one_begins_a_wait_that_ends(shop: SmallShop) -> None:
    for _ in range(FREE_TRIES):
        assert attempt(shop)
    said = refused(shop).message
    assert said.startswith("User name and password do not fit. 5 wrong passwords in a row")
    assert "Wait 30 seconds, or ask a supervisor to unlock it under People." in said
    before = WrongTries.objects.get(counts="account").failed
    assert not refused(shop).message.startswith("User name")  # refused without a look, and not counted
    assert WrongTries.objects.get(counts="account").failed == before
    shop.wait(seconds=31)
    assert attempt(shop, right=True)
    assert wrong_passwords(shop.supervisor) == 0


def test_the_right_password_ends_the_count(shop: SmallShop) -> None:
    for _ in range(3):
        for _ in range(FREE_TRIES):
            attempt(shop, address=THERE)
        attempt(shop, address=HERE, right=True)
    assert wrong_passwords(shop.supervisor) == 0


def test_a_name_that_nobody_has_costs_the_same(shop: SmallShop) -> None:
    """Otherwise the wait would tell which names exist."""
    for _ in range(FREE_TRIES):
        attempt(shop, name="nobody")
    assert "5 wrong passwords in a row" in refused(shop, name="nobody").message


def test_the_owner_signs_in_at_their_own_desk_while_others_guess(shop: SmallShop) -> None:
    for n in range(40):
        try:
            attempt(shop, address=f"198.51.100.{n}")
        except MustWait:
            shop.wait(minutes=15)
    refused(shop)
    assert attempt(shop, browser="known", right=True)


def test_a_known_browser_is_slowed_down_too(shop: SmallShop) -> None:
    for _ in range(FREE_TRIES):
        attempt(shop, browser="stolen")
    refused(shop, browser="stolen")
    assert attempt(shop, browser="another")
    assert attempt(shop)


def test_an_address_that_goes_through_the_names_has_to_wait_and_no_other_address(shop: SmallShop) -> None:
    for n in range(FREE_TRIES_OF_ADDRESS - 1):
        attempt(shop, name=f"name {n}")
    assert "20 wrong passwords came from this address" in refused(shop, name="one more").message
    refused(shop, name=NAME)
    assert wrong_passwords(shop.supervisor) == 0  # a try that was not looked at counts for nobody
    assert attempt(shop, address=THERE, right=True)
    assert attempt(shop, browser="known", right=True)


def test_signing_in_oneself_does_not_give_an_address_new_tries(shop: SmallShop) -> None:
    for n in range(FREE_TRIES_OF_ADDRESS - 1):
        attempt(shop, name=f"name {n}")
        attempt(shop, name="own", right=True)
    refused(shop, name="one more")


def test_a_right_one_is_given_back_when_another_try_came_meanwhile(shop: SmallShop) -> None:
    """Looking at a password takes a while, and an office shares one address."""
    for _ in range(3):
        with one_try(username="own", address=HERE, browser="", at=shop.clock) as was_right:
            attempt(shop, name="other", right=True)
            was_right()
    assert WrongTries.objects.get(counts="address").failed == 0
    with one_try(username="own", address=HERE, browser="", at=shop.clock) as was_right:
        attempt(shop, name="other")
        was_right()
    assert WrongTries.objects.get(counts="address").failed == 1


def test_a_right_one_ends_its_own_wait_and_none_that_another_began(shop: SmallShop) -> None:
    for n in range(FREE_TRIES_OF_ADDRESS - 1):
        attempt(shop, name=f"name {n}")
    attempt(shop, name="own", right=True)
    assert waiting_addresses(shop.clock) == []
    WrongTries.objects.filter(counts="address").update(failed=FREE_TRIES_OF_ADDRESS - 2)
    with one_try(username="own", address=HERE, browser="", at=shop.clock) as was_right:
        refused(shop, name="other")
        was_right()
    (waits,) = waiting_addresses(shop.clock)
    assert waits.failed == FREE_TRIES_OF_ADDRESS - 1


def test_an_address_is_forgotten_after_an_hour_without_a_wrong_one(shop: SmallShop) -> None:
    for n in range(FREE_TRIES_OF_ADDRESS - 1):
        attempt(shop, name=f"name {n}")
    shop.wait(minutes=61)
    assert attempt(shop, name="one more")
    assert WrongTries.objects.get(counts="address").failed == 1


def test_a_supervisor_lifts_both(shop: SmallShop) -> None:
    for n in range(FREE_TRIES_OF_ADDRESS - 1):
        attempt(shop, name=f"name {n}")
    refused(shop, name="one more")
    (row,) = waiting_addresses(shop.clock)
    assert let_address_try(pk=row.pk) == HERE
    assert let_address_try(pk=row.pk) == ""
    assert waiting_addresses(shop.clock) == []
    for _ in range(FREE_TRIES):
        attempt(shop)
    refused(shop)
    with writing():
        forget_wrong_passwords(shop.supervisor)
    assert attempt(shop)


def test_made_up_names_fill_no_table_and_what_was_typed_is_not_kept(shop: SmallShop) -> None:
    attempt(shop, name="my secret pass phrase")
    assert "secret" not in str(list(WrongTries.objects.values_list("key", "account")))
    shop.wait(days=2)
    attempt(shop, name="other", address=THERE)
    assert WrongTries.objects.count() == 2  # those of today: one account, one address


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("", "unknown"),
        ("<script>", "unknown"),
    ],
)
def test_what_counts_as_one_address(address: str, counted: str) -> None:
    """RFC 4291 gives one host a network of 64 bits to choose from. Addresses: RFC 5737 and RFC 3849."""
    assert bucket(address) == counted
