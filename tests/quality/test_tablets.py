"""Tablets: one-time codes, keys, revoking, and what wrong PINs cost the tablet they were entered at."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

import pytest

from quality import tablets
from quality.errors import NotQualified, PinRefused, QualityError
from quality.models import EnrolmentCode, EnrolmentTry, Person, Role, Tablet
from quality.pins import TABLET_LOCKED_AFTER, confirm_pin, is_locked
from quality.tablets import (
    ALPHABET,
    CODE_LIVES,
    as_shown,
    change_tablet,
    enrol,
    enrol_here,
    make_code,
    revoke,
    seen,
    tablet_of,
    unlock_tablet,
)
from tests.quality.test_races import at_once
from tests.small_shop import PIN, SmallShop, person, small_shop

WRONG = "730164"


def code_for(shop: SmallShop, name: str = "Saw bench", at: datetime | None = None) -> str:
    return make_code(name=name, stations=[shop.stations["cut"]], by=shop.supervisor, at=at or shop.clock)


def here(shop: SmallShop, name: str = "Saw bench") -> tuple[Tablet, str]:
    return enrol_here(name=name, stations=shop.stations.values(), by=shop.supervisor, at=shop.clock)


def refusal_of(code: str, at: datetime) -> str:
    with pytest.raises(QualityError) as refused:
        enrol(code=code, at=at)
    return refused.value.code


@pytest.mark.django_db
class TestCodes:
    def test_a_code_makes_one_tablet_for_its_stations(self, shop: SmallShop) -> None:
        code = code_for(shop)
        tablet, key = enrol(code=code, at=shop.clock)
        assert (tablet.name, tablet.enrolled_by, tablet.enrolled_at) == ("Saw bench", shop.supervisor, shop.clock)
        assert list(tablet.stations.all()) == [shop.stations["cut"]]
        assert tablet_of(key) == tablet

    def test_only_hashes_are_stored(self, shop: SmallShop) -> None:
        code = code_for(shop)
        _, key = enrol(code=code, at=shop.clock)
        kept = str(list(EnrolmentCode.objects.values())) + str(list(Tablet.objects.values()))
        assert code not in kept and key not in kept
        assert Tablet.objects.get().key_hash == hashlib.sha256(key.encode()).hexdigest()
        assert len(key) == 43, "32 bytes from the system's source of randomness"
        # A short code could be found by hashing them all, so its hash needs the shop's secret too.
        assert EnrolmentCode.objects.get().code_hash != hashlib.sha256(code.encode()).hexdigest()

    def test_a_code_has_eight_characters_that_are_not_mistaken(self, shop: SmallShop) -> None:
        codes = {code_for(shop, f"T{n}") for n in range(40)}
        assert len(codes) == 40
        assert {len(code) for code in codes} == {8}
        assert set("".join(codes)) <= set(ALPHABET)
        assert not set(ALPHABET) & set("0OQ1IL2Z5S6G8BUV")

    @pytest.mark.parametrize("write", [as_shown, str.lower, lambda code: f" {code[:4]}-{code[4:]}\n"])
    def test_a_code_is_read_as_people_type_it(self, shop: SmallShop, write: type[str]) -> None:
        assert enrol(code=write(code_for(shop)), at=shop.clock)[0].name == "Saw bench"

    def test_a_used_code_is_used_up(self, shop: SmallShop) -> None:
        code = code_for(shop)
        enrol(code=code, at=shop.clock)
        assert refusal_of(code, shop.clock) == "used"
        assert Tablet.objects.count() == 1

    def test_a_code_lives_fifteen_minutes(self, shop: SmallShop) -> None:
        assert timedelta(minutes=15) == CODE_LIVES
        late, timely = code_for(shop, "Late"), code_for(shop, "Timely")
        assert refusal_of(late, shop.clock + CODE_LIVES) == "expired"
        assert enrol(code=timely, at=shop.clock + CODE_LIVES - timedelta(seconds=1))[0].name == "Timely"

    def test_a_newer_code_for_the_same_name_ends_the_older(self, shop: SmallShop) -> None:
        first, second = code_for(shop), code_for(shop, "saw  BENCH")
        assert refusal_of(first, shop.clock) == "expired"
        assert enrol(code=second, at=shop.clock)[0].name == "saw BENCH"

    def test_a_code_of_somebody_who_may_no_longer_is_void(self, shop: SmallShop) -> None:
        code = code_for(shop)
        Person.objects.filter(pk=shop.supervisor.pk).update(role=Role.WORKER)
        assert refusal_of(code, shop.clock) == "expired"

    def test_a_name_that_was_taken_meanwhile_leaves_the_code_usable(self, shop: SmallShop) -> None:
        code = code_for(shop)
        other, _ = here(shop)
        assert refusal_of(code, shop.clock) == "name_taken"
        assert EnrolmentTry.objects.count() == 0, "that was no wrong code"
        revoke(tablet=other, by=shop.supervisor, at=shop.clock)
        assert enrol(code=code, at=shop.clock)[0].name == "Saw bench"

    @pytest.mark.parametrize("typed", ["", "AAAA", "ACDEFHJK", "\x00", "é" * 9000])
    def test_a_mistyped_code_is_none(self, shop: SmallShop, typed: str) -> None:
        code_for(shop)
        assert refusal_of(typed, shop.clock) == "no_code"
        assert not Tablet.objects.exists()

    def test_ten_wrong_codes_in_a_minute_and_none_is_looked_at(self, shop: SmallShop) -> None:
        code = code_for(shop)
        for n in range(10):
            assert refusal_of("AAAAAAAA", shop.clock + timedelta(seconds=n)) == "no_code"
        assert refusal_of(code, shop.clock + timedelta(seconds=59)) == "slow_down"
        assert EnrolmentTry.objects.count() == 10
        assert enrol(code=code, at=shop.clock + timedelta(seconds=60))[0].name == "Saw bench"
        assert EnrolmentTry.objects.count() < 10, "old tries are not kept"

    def test_without_the_right_there_is_no_code(self, shop: SmallShop) -> None:
        office = person("olive-office", Role.OFFICE)
        for who in (shop.worker, shop.checker, office):
            with pytest.raises(NotQualified):
                make_code(name="X", stations=shop.stations.values(), by=who, at=shop.clock)
            with pytest.raises(NotQualified):
                enrol_here(name="X", stations=shop.stations.values(), by=who, at=shop.clock)
        assert not EnrolmentCode.objects.exists() and not Tablet.objects.exists()

    @pytest.mark.parametrize(("name", "refusal"), [("", "bad_name"), ("  ", "bad_name"), ("x" * 41, "bad_name")])
    def test_a_tablet_needs_a_name(self, shop: SmallShop, name: str, refusal: str) -> None:
        with pytest.raises(QualityError) as refused:
            code_for(shop, name)
        assert refused.value.code == refusal

    def test_a_tablet_needs_a_station(self, shop: SmallShop) -> None:
        with pytest.raises(QualityError) as refused:
            make_code(name="X", stations=[], by=shop.supervisor, at=shop.clock)
        assert refused.value.code == "no_station"


@pytest.mark.django_db
class TestTablets:
    def test_a_form_sent_twice_makes_one_tablet_with_the_later_key(self, shop: SmallShop) -> None:
        first, lost = here(shop)
        second, kept = here(shop)
        assert first == second and Tablet.objects.count() == 1
        assert tablet_of(kept) == second and tablet_of(lost) is None

    def test_a_name_in_use_is_not_given_twice(self, shop: SmallShop) -> None:
        tablet, key = here(shop)
        seen(tablet=tablet, at=shop.clock)
        with pytest.raises(QualityError) as refused:
            here(shop, "saw bench")
        assert refused.value.code == "name_taken"
        assert tablet_of(key) == tablet

    def test_revoked_is_revoked_at_once_and_by_whom_it_was_first(self, shop: SmallShop) -> None:
        tablet, key = here(shop)
        revoke(tablet=tablet, by=shop.supervisor, at=shop.clock)
        assert tablet_of(key) is None
        admin = person("ada", Role.ADMINISTRATOR)
        revoke(tablet=tablet, by=admin, at=shop.clock + timedelta(hours=1))
        assert (tablet.revoked_by, tablet.revoked_at) == (shop.supervisor, shop.clock)
        again, other = here(shop)
        assert again != tablet and tablet_of(other) == again, "the name is free again"

    @pytest.mark.parametrize("key", ["", "x", "\x00"])
    def test_a_key_that_is_none_is_nobodys(self, shop: SmallShop, key: str) -> None:
        here(shop)
        assert tablet_of(key) is None

    def test_name_and_stations_are_changed(self, shop: SmallShop) -> None:
        tablet, key = here(shop)
        other, _ = here(shop, "Press")
        change_tablet(tablet=tablet, name="Saw", stations=[shop.stations["edge"]], by=shop.supervisor)
        assert (tablet.name, list(tablet.stations.all())) == ("Saw", [shop.stations["edge"]])
        change_tablet(tablet=tablet, name="SAW", stations=[shop.stations["edge"]], by=shop.supervisor)
        assert tablet_of(key) == tablet
        with pytest.raises(QualityError, match="already"):
            change_tablet(tablet=other, name="saw", stations=[shop.stations["edge"]], by=shop.supervisor)
        revoke(tablet=other, by=shop.supervisor, at=shop.clock)
        with pytest.raises(QualityError, match="revoked"):
            change_tablet(tablet=other, name="Other", stations=[shop.stations["edge"]], by=shop.supervisor)

    def test_only_who_may_changes_unlocks_and_revokes(self, shop: SmallShop) -> None:
        tablet, key = here(shop)
        with pytest.raises(NotQualified):
            revoke(tablet=tablet, by=shop.worker, at=shop.clock)
        with pytest.raises(NotQualified):
            unlock_tablet(tablet=tablet, by=shop.worker)
        with pytest.raises(NotQualified):
            change_tablet(tablet=tablet, name="X", stations=shop.stations.values(), by=shop.worker)
        assert tablet_of(key) == tablet and tablet.name == "Saw bench"

    def test_when_it_was_seen_is_written_once_a_minute(self, shop: SmallShop) -> None:
        tablet, _ = here(shop)
        written = []
        for seconds in (0, 1, 59, 60, 61):
            at = shop.clock + timedelta(seconds=seconds)
            seen(tablet=Tablet.objects.get(pk=tablet.pk), at=at)
            written.append(Tablet.objects.get(pk=tablet.pk).last_seen_at == at)
        assert written == [True, False, False, True, False]

    def test_the_next_name_is_free(self, shop: SmallShop) -> None:
        assert tablets.next_name() == "Tablet 1"
        for name in ("tablet 1", "Tablet 3", "Saw"):
            here(shop, name)
        assert tablets.next_name() == "Tablet 2"


def guess(who: Person, tablet: Tablet, at: datetime, pin: str = WRONG) -> str:
    try:
        confirm_pin(person=who, pin=pin, at=at, tablet=tablet)
    except PinRefused as refused:
        return refused.code
    return "in"


def crew(shop: SmallShop, size: int) -> list[Person]:
    return [person(f"hand-{n}", stations=[shop.stations["cut"]]) for n in range(size)]


@pytest.mark.django_db
class TestWrongPins:
    def test_twenty_wrong_ones_by_whomever_lock_the_tablet_for_everybody(self, shop: SmallShop) -> None:
        tablet, _ = here(shop)
        other, _ = here(shop, "Press")
        hands = crew(shop, TABLET_LOCKED_AFTER // 2)
        for who in [*hands, *hands]:
            last = guess(who, tablet, shop.clock)
        assert last == "tablet_locked"
        with pytest.raises(PinRefused) as refused:
            confirm_pin(person=shop.worker, pin=PIN, at=shop.clock, tablet=tablet)
        assert "Nobody can sign in at Saw bench for 5 minutes" in refused.value.message
        assert "ask a supervisor to unlock it under Tablets" in refused.value.message
        assert Person.objects.get(pk=shop.worker.pk).failed_pins == 0, "a locked tablet locks nobody out elsewhere"
        assert guess(shop.worker, other, shop.clock, PIN) == "in"
        assert guess(hands[0], tablet, shop.clock + timedelta(minutes=5)) == "locked", "his third; it costs him too"
        tablet.refresh_from_db()
        assert tablet.locked_until == shop.clock + timedelta(minutes=15), "the twenty-first doubles the wait"
        assert guess(shop.worker, tablet, shop.clock + timedelta(minutes=15), PIN) == "in"
        free = Tablet.objects.get(pk=tablet.pk)
        assert (free.failed_pins, free.locked_until) == (0, None)

    def test_a_right_pin_in_between_resets_the_count(self, shop: SmallShop) -> None:
        tablet, _ = here(shop)
        for who in crew(shop, TABLET_LOCKED_AFTER - 1):
            assert guess(who, tablet, shop.clock) == "wrong"
        assert guess(shop.worker, tablet, shop.clock, PIN) == "in"
        for n in range(2):
            assert guess(shop.checker, tablet, shop.clock) == "wrong", n

    def test_who_is_locked_costs_the_tablet_nothing(self, shop: SmallShop) -> None:
        tablet, _ = here(shop)
        outcomes = [guess(shop.worker, tablet, shop.clock) for _ in range(30)]
        assert outcomes == ["wrong", "wrong", *["locked"] * 28]
        tablet.refresh_from_db()
        assert tablet.failed_pins == 3 and not is_locked(tablet, shop.clock)

    def test_a_supervisor_unlocks_it(self, shop: SmallShop) -> None:
        tablet, _ = here(shop)
        Tablet.objects.update(failed_pins=30, locked_until=shop.clock + timedelta(hours=8))
        assert guess(shop.worker, tablet, shop.clock, PIN) == "tablet_locked"
        unlock_tablet(tablet=tablet, by=shop.supervisor)
        assert (tablet.failed_pins, tablet.locked_until) == (0, None)
        assert guess(shop.worker, tablet, shop.clock, PIN) == "in"


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    @pytest.fixture
    def rows(self, transactional_db: None) -> SmallShop:
        return small_shop()

    def test_guesses_sent_side_by_side_all_count_for_the_tablet(self, rows: SmallShop) -> None:
        tablet, _ = here(rows)
        hands = crew(rows, 12)
        Tablet.objects.update(failed_pins=TABLET_LOCKED_AFTER - 4)

        def guessing(who: Person) -> None:
            confirm_pin(person=who, pin=WRONG, at=rows.clock, tablet=Tablet.objects.get(pk=tablet.pk))

        outcomes = at_once(*[lambda who=who: guessing(who) for who in hands])
        # Three are wrong, the fourth locks, and the other eight are not looked at: their people stay without a count.
        assert outcomes == {"wrong": 3, "tablet_locked": 9}
        tablet.refresh_from_db()
        assert tablet.failed_pins == TABLET_LOCKED_AFTER
        assert sorted(Person.objects.filter(username__startswith="hand-").values_list("failed_pins", flat=True)) == [
            *[0] * 8,
            *[1] * 4,
        ]

    def test_guesses_at_many_tablets_count_for_one_person(self, rows: SmallShop) -> None:
        made = [here(rows, f"T{n}")[0] for n in range(8)]

        def guessing(tablet: Tablet) -> None:
            who = Person.objects.get(pk=rows.worker.pk)
            confirm_pin(person=who, pin=WRONG, at=rows.clock, tablet=tablet)

        assert at_once(*[lambda tablet=tablet: guessing(tablet) for tablet in made]) == {"wrong": 2, "locked": 6}
        assert Person.objects.get(pk=rows.worker.pk).failed_pins == 3
        assert sum(Tablet.objects.values_list("failed_pins", flat=True)) == 3

    def test_one_code_makes_one_tablet_however_many_bring_it(self, rows: SmallShop) -> None:
        code = code_for(rows)
        assert at_once(*[lambda: enrol(code=code, at=rows.clock)] * 6) == {"done": 1, "used": 5}
        assert Tablet.objects.count() == 1

    def test_wrong_codes_sent_side_by_side_are_no_more_than_ten(self, rows: SmallShop) -> None:
        code_for(rows)
        outcomes = at_once(*[lambda: enrol(code="AAAAAAAA", at=rows.clock)] * 16)
        assert outcomes == {"no_code": 10, "slow_down": 6}

    def test_two_supervisors_give_one_name_once(self, rows: SmallShop) -> None:
        other = person("second-supervisor", Role.SUPERVISOR)

        def adding(by: Person) -> object:
            return enrol_here(name="Saw", stations=rows.stations.values(), by=by, at=rows.clock)

        assert at_once(lambda: adding(rows.supervisor), lambda: adding(other)) == {"done": 1, "name_taken": 1}
        assert Tablet.objects.in_use().count() == 1
