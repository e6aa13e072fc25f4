"""PINs: which ones are taken, what wrong ones cost, and what unlocks."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quality.accounts import unlock
from quality.errors import PinRefused
from quality.models import Person
from quality.pins import (
    LOCKED_FOR_GOOD_AFTER,
    TABLET_LOCKED_AFTER,
    confirm_pin,
    is_easily_guessed,
    is_locked,
    lock_time,
    set_pin,
    tablet_lock_time,
)
from tests.small_shop import PIN, SmallShop

WRONG = "111222"


def fails(shop: SmallShop, times: int, *, between: timedelta = timedelta(hours=1)) -> PinRefused:
    """Wrong PINs one after the other, each after the lock of the one before; the last refusal."""
    for _ in range(times):
        with pytest.raises(PinRefused) as refused:
            confirm_pin(person=fresh(shop.worker), pin=WRONG, at=shop.clock)
        shop.clock += between
    return refused.value


def fresh(person: Person) -> Person:
    return Person.objects.get(pk=person.pk)


@pytest.mark.parametrize(
    ("failures", "seconds"),
    [(0, 0), (1, 0), (2, 0), (3, 30), (4, 60), (5, 120), (6, 240), (7, 480), (8, 900), (9, 900)],
)
def test_the_wait_doubles_from_half_a_minute_to_a_quarter_of_an_hour(failures: int, seconds: int) -> None:
    assert lock_time(failures) == timedelta(seconds=seconds)


def test_ten_wrong_pins_lock_for_good_which_is_stricter_than_the_standard() -> None:
    # NIST SP 800-63B, 5.2.2: no more than 100 failed attempts in a row on one account.
    assert lock_time(LOCKED_FOR_GOOD_AFTER) > timedelta(days=365 * 50)
    assert LOCKED_FOR_GOOD_AFTER == 10 <= 100
    assert TABLET_LOCKED_AFTER == 20 <= 100


@given(st.integers(0, 200))
def test_more_failures_never_mean_a_shorter_wait(failures: int) -> None:
    assert lock_time(failures) <= lock_time(failures + 1)
    assert tablet_lock_time(failures) <= tablet_lock_time(failures + 1)


@pytest.mark.parametrize(
    ("failures", "minutes"), [(0, 0), (19, 0), (20, 5), (21, 10), (22, 20), (26, 320), (27, 480), (32767, 480)]
)
def test_a_tablets_wait_doubles_from_five_minutes_to_a_shift(failures: int, minutes: int) -> None:
    assert tablet_lock_time(failures) == timedelta(minutes=minutes)


@pytest.mark.django_db
class TestConfirming:
    def test_the_right_pin_passes_and_forgets_wrong_ones(self, shop: SmallShop) -> None:
        fails(shop, 2)
        confirm_pin(person=fresh(shop.worker), pin=PIN, at=shop.clock)
        assert fresh(shop.worker).failed_pins == 0
        assert fails(shop, 2).code == "wrong"

    def test_the_third_wrong_one_locks_and_says_how_long(self, shop: SmallShop) -> None:
        refused = fails(shop, 3, between=timedelta(0))
        assert refused.code == "locked"
        assert "Wanda Worker is locked for 30 seconds" in refused.message
        assert is_locked(fresh(shop.worker), shop.clock)

    def test_while_locked_the_right_pin_is_refused_and_nothing_counts(self, shop: SmallShop) -> None:
        fails(shop, 3, between=timedelta(0))
        for pin in (PIN, WRONG):
            with pytest.raises(PinRefused) as refused:
                confirm_pin(person=fresh(shop.worker), pin=pin, at=shop.clock + timedelta(seconds=29))
            assert refused.value.code == "locked"
        assert fresh(shop.worker).failed_pins == 3
        confirm_pin(person=fresh(shop.worker), pin=PIN, at=shop.clock + timedelta(seconds=30))
        assert not is_locked(fresh(shop.worker), shop.clock)

    def test_a_long_wait_is_told_in_minutes(self, shop: SmallShop) -> None:
        assert "is locked for 15 minutes" in fails(shop, 8).message

    def test_after_ten_only_a_supervisor_helps(self, shop: SmallShop) -> None:
        assert "Ask a supervisor to unlock" in fails(shop, LOCKED_FOR_GOOD_AFTER).message
        later = shop.clock + timedelta(days=365)
        with pytest.raises(PinRefused, match="Ask a supervisor to unlock"):
            confirm_pin(person=fresh(shop.worker), pin=PIN, at=later)
        unlock(person=shop.worker, by=shop.supervisor, at=later)
        confirm_pin(person=fresh(shop.worker), pin=PIN, at=later)

    def test_somebody_elses_lock_is_nobody_elses(self, shop: SmallShop) -> None:
        fails(shop, 3, between=timedelta(0))
        confirm_pin(person=fresh(shop.checker), pin=PIN, at=shop.clock)
        assert is_locked(fresh(shop.worker), shop.clock)

    @pytest.mark.parametrize("pin", ["", " ", PIN + " ", PIN[:-1], "４８２９１５"])
    def test_almost_right_is_wrong(self, shop: SmallShop, pin: str) -> None:
        with pytest.raises(PinRefused, match="Wrong PIN"):
            confirm_pin(person=fresh(shop.worker), pin=pin, at=shop.clock)
        assert fresh(shop.worker).failed_pins == 1

    def test_nobody_passes_without_a_pin_or_after_leaving(self, shop: SmallShop) -> None:
        Person.objects.filter(pk=shop.worker.pk).update(pin="")
        Person.objects.filter(pk=shop.checker.pk).update(is_active=False)
        for who, pin in ((shop.worker, ""), (shop.checker, PIN)):
            with pytest.raises(PinRefused) as refused:
                confirm_pin(person=fresh(who), pin=pin, at=shop.clock)
            assert refused.value.code == "no_pin"


@pytest.mark.django_db
class TestSetting:
    def test_a_new_pin_counts_a_version_and_forgets_the_lock(self, shop: SmallShop) -> None:
        fails(shop, 3, between=timedelta(0))
        set_pin(person=shop.worker, pin="730164", by=shop.supervisor, at=shop.clock)
        after = fresh(shop.worker)
        assert (after.pin_version, after.failed_pins, after.locked_until) == (shop.worker.pin_version + 1, 0, None)
        confirm_pin(person=after, pin="730164", at=shop.clock)
        assert "730164" not in after.pin
        with pytest.raises(PinRefused, match="Wrong PIN"):
            confirm_pin(person=after, pin=PIN, at=shop.clock)

    @pytest.mark.parametrize(
        "pin", ["", "48291", "4829154829154", "48291a", "48 915", "-48291", "４８２９１５", "٤٨٢٩١٥", "4829.5"]
    )
    def test_a_pin_has_six_to_twelve_digits(self, shop: SmallShop, pin: str) -> None:
        with pytest.raises(PinRefused) as refused:
            set_pin(person=shop.worker, pin=pin, by=shop.supervisor, at=shop.clock)
        assert refused.value.code == "bad_pin"
        confirm_pin(person=fresh(shop.worker), pin=PIN, at=shop.clock)

    @pytest.mark.parametrize("pin", ["000000", "121212", "123456", "987654", "890123", "112233", "123123", "332211"])
    def test_a_pin_that_people_try_first_is_refused(self, shop: SmallShop, pin: str) -> None:
        with pytest.raises(PinRefused) as refused:
            set_pin(person=shop.worker, pin=pin, by=shop.supervisor, at=shop.clock)
        assert refused.value.code == "weak_pin"
        confirm_pin(person=fresh(shop.worker), pin=PIN, at=shop.clock)

    @pytest.mark.parametrize("pin", ["482915", "730164", "190527", "482915730164"])
    def test_a_pin_without_a_rule_is_taken(self, shop: SmallShop, pin: str) -> None:
        set_pin(person=shop.worker, pin=pin, by=shop.supervisor, at=shop.clock)
        confirm_pin(person=fresh(shop.worker), pin=pin, at=shop.clock)


def test_few_pins_are_lost_to_the_rules() -> None:
    """Refusing guessable ones must not leave so few that guessing gets easier: every seventh six-digit PIN is tried."""
    every = (f"{number:06d}" for number in range(0, 1_000_000, 7))
    lost = sum(is_easily_guessed(pin) for pin in every)
    assert 0 < lost < 0.01 * 1_000_000 / 7
