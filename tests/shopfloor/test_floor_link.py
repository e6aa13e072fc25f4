"""Taps that come late: whose they are, when they were made, what they do to a dwell, and how the tablet is answered."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from quality.actions import sign_off, withdraw_sign_off
from quality.models import Person, SignOff
from quality.pins import set_pin
from quality.problems import report_problem, settle_problem
from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import Shell, ShellRecord
from shopfloor.floor.link import mark_for, read_mark
from shopfloor.worker_token import WorkerAtTablet
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def mark(tablet: Tablet, shell: Shell) -> str:
    """The hidden field of the step page."""
    found = re.search(r'name="as" value="([^"]+)"', page(tablet.get("step", shell.serial)))
    assert found is not None
    return found[1]


def late(tablet: Tablet, name: str, shell: Shell, at: datetime, whose: str, **typed: str) -> Any:
    """A tap that was kept on the tablet and is sent by its script."""
    form = {"position": "1", "tap_key": "late tap", "tapped_at": at.isoformat(), "as": whose} | typed
    return tablet.client.post(tablet.url(name, shell.serial), form, headers={"Accept": "application/json"})


def test_the_page_says_whom_it_was_made_for(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    read = read_mark(mark(cut, shell))
    assert read is not None
    assert (read.person_id, read.pin_version, read.since, read.is_fresh) == (shop.worker.pk, 1, shop.clock, True)


def test_a_mark_that_was_changed_is_none(shop: SmallShop, clock: Clock) -> None:
    made = mark_for(WorkerAtTablet(shop.worker, shop.clock), "tablet 1")
    assert read_mark(made) is not None
    assert read_mark(made[:-1] + ("A" if made[-1] != "A" else "B")) is None
    assert read_mark("") is None


def test_a_late_tap_keeps_its_time_and_its_person(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    tapped = shop.clock + timedelta(minutes=5)
    clock.wait(hours=3)  # long after the sign-in went stale
    cut.sign_in(shop.supervisor)
    answer = late(cut, "sign", shell, tapped, whose)
    assert answer.status_code == 200
    assert answer.json() == {"ok": True, "go": cut.url("queue")}
    record = SignOff.objects.get().record
    assert SignOff.objects.get().person == shop.worker
    assert (record.person_name, record.at, record.received_at) == (shop.worker.name, tapped, shop.clock)
    assert "Sam Supervisor" in page(cut.get("queue")), "whoever is signed in stays so"


def test_the_same_late_tap_twice_is_one_signature(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose, tapped = mark(cut, shell), shop.clock
    clock.wait(minutes=30)
    for _ in range(2):
        assert late(cut, "sign", shell, tapped, whose).json()["ok"] is True
    assert SignOff.objects.count() == 1


def test_a_late_tap_is_no_sign_of_a_person(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose, before = mark(cut, shell), cut.client.cookies["floor_worker"].value
    clock.wait(minutes=2)
    late(cut, "sign", shell, shop.clock, whose)
    assert cut.client.cookies["floor_worker"].value == before
    cut.client.get(cut.url("queue"), headers={"X-Ahead": "1"})
    assert cut.client.cookies["floor_worker"].value == before
    cut.get("queue")
    assert cut.client.cookies["floor_worker"].value != before


@pytest.mark.parametrize(
    ("delta", "says"),
    [
        (timedelta(minutes=3), "clock of this tablet is fast"),
        (timedelta(days=-7, minutes=-1), "older than 7 days"),
    ],
)
def test_a_time_that_cannot_be_is_refused(
    shop: SmallShop, clock: Clock, cut: Tablet, delta: timedelta, says: str
) -> None:
    (shell,) = shop.released()
    answer = late(cut, "sign", shell, shop.clock + delta, mark(cut, shell))
    assert answer.status_code == 422
    assert says in answer.json()["refused"]
    assert not SignOff.objects.exists()


@pytest.mark.parametrize("words", ["yesterday", "2026-11-02T08:00:00", "2026-13-45T08:00:00+00:00"])
def test_words_that_are_no_time_are_refused(shop: SmallShop, cut: Tablet, words: str) -> None:
    (shell,) = shop.released()
    form = {"position": "1", "tap_key": "k", "tapped_at": words, "as": mark(cut, shell)}
    for name in ("sign", "start", "problem"):
        answer = cut.client.post(
            cut.url(name, shell.serial), form | {"text": "Split"}, headers={"Accept": "application/json"}
        )
        assert answer.status_code == 422
        assert "did not say when" in answer.json()["refused"]
    assert cut.client.post(cut.url("room"), form | {"temperature_c": "20", "humidity_pct": "50"}).status_code == 422
    assert ShellRecord.objects.filter(shell=shell).count() == 1


def test_a_clock_that_is_a_minute_fast_says_now(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    assert late(cut, "sign", shell, shop.clock + timedelta(minutes=1), mark(cut, shell)).status_code == 200
    assert SignOff.objects.get().at == shop.clock


def test_what_is_sent_at_once_is_of_now_and_of_whoever_is_signed_in(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    clock.wait(minutes=30)
    assert cut.tap("sign", shell, **{"as": whose})["Location"] == cut.url("sign_in")
    cut.sign_in(shop.supervisor)
    refused = cut.tap("sign", shell, **{"as": whose})
    assert refused.status_code == 422
    assert "This page was open for Wanda Worker, and Sam Supervisor is signed in now." in page(refused)
    assert not SignOff.objects.exists()
    cut.sign_in(shop.worker)
    assert cut.tap("sign", shell, **{"as": whose}).status_code == 302
    assert SignOff.objects.get().at == shop.clock


def no_worker(shop: SmallShop, clock: Clock, cut: Tablet, why: str) -> None:
    match why:
        case "a day old":
            clock.wait(hours=24, minutes=1)
        case "after the day":
            clock.wait(hours=13)
        case "new PIN":
            set_pin(person=Person.objects.get(pk=shop.worker.pk), pin="739146", by=None, at=shop.clock)
        case "left":
            Person.objects.filter(pk=shop.worker.pk).update(is_active=False)
        case "office":
            Person.objects.filter(pk=shop.worker.pk).update(role="office")


@pytest.mark.parametrize("why", ["a day old", "after the day", "new PIN"])
def test_a_tap_waits_until_its_person_signs_in_again(shop: SmallShop, clock: Clock, cut: Tablet, why: str) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    no_worker(shop, clock, cut, why)
    cut.sign_in(shop.supervisor)
    tapped = shop.clock
    answer = late(cut, "sign", shell, tapped, whose)
    assert answer.status_code == 403
    assert answer.json()["sign_in"] == (
        "Wanda Worker made this tap and has to sign in on this tablet again; then it is sent."
    )
    assert not SignOff.objects.exists()
    cut.sign_in(shop.worker, pin="739146" if why == "new PIN" else "482915")
    assert late(cut, "sign", shell, tapped, whose).status_code == 200
    assert SignOff.objects.get().person == shop.worker


@pytest.mark.parametrize("why", ["left", "office"])
def test_a_tap_of_somebody_who_may_no_longer_is_refused(shop: SmallShop, clock: Clock, cut: Tablet, why: str) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    no_worker(shop, clock, cut, why)
    answer = late(cut, "sign", shell, shop.clock, whose)
    assert answer.status_code == 422
    assert "Wanda Worker signs no steps any more" in answer.json()["refused"]


def test_a_mark_is_good_on_its_own_tablet_only(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    other = Tablet("cut", Client())
    other.sign_in(shop.supervisor)
    for token in (whose, "", "made up"):
        answer = late(other, "sign", shell, shop.clock, token)
        assert answer.status_code == 422
        assert "does not say who made it on this tablet" in answer.json()["refused"]
    assert not SignOff.objects.exists()


def test_what_is_signed_with_a_pin_never_waited(shop: SmallShop, clock: Clock) -> None:
    (shell,) = shop.released()
    report_problem(serial=shell.serial, position=1, person=shop.worker, text="Split", stamp=shop.stamp(shop.worker))
    tablet = Tablet("cut")
    tablet.sign_in(shop.supervisor)
    whose = mark_for(WorkerAtTablet(shop.supervisor, shop.clock), "tablet")
    clock.wait(minutes=5)
    early = shop.clock - timedelta(minutes=4)
    form = {"pin": "482915", "settlement": "Plate replaced"}
    assert late(tablet, "settle", shell, early, whose, **form).status_code == 200
    assert ShellRecord.objects.get(kind="resumed").at == shop.clock


def test_a_refusal_is_a_sentence(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    (shell,) = shop.released()
    whose = mark(cut, shell)
    sign_off(
        serial=shell.serial, position=1, person=shop.supervisor, answers={}, stamp=shop.stamp(shop.supervisor, key="s")
    )
    answer = late(cut, "sign", shell, shop.clock, whose)
    assert answer.status_code == 409
    assert answer.json()["refused"].startswith(f"Sam Supervisor signed cut of {shell.serial}")


def test_a_rack_answers_for_every_shell(shop: SmallShop, clock: Clock, cut: Tablet) -> None:
    first, second = shop.released(quantity=2)
    found = re.search(r'name="as" value="([^"]+)"', page(cut.get("rack_sign", shell=first.serial)))
    assert found is not None
    tapped = shop.clock
    clock.wait(minutes=30)
    signed(shop, first, 1, shop.clock)
    form: dict[str, Any] = {"tap_key": "rack", "tapped_at": tapped.isoformat(), "as": found[1]}
    form |= {f"position-{shell.serial}": "1" for shell in (first, second)} | {"shell": [first.serial, second.serial]}
    answer = cut.client.post(cut.url("rack_sign"), form, headers={"Accept": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["refused"].startswith(f"1 signed, 1 not. {first.serial}: Wanda Worker signed cut")
    assert SignOff.objects.get(operation__shell=second).at == tapped
    form["shell"] = [second.serial]
    again = cut.client.post(cut.url("rack_sign"), form, headers={"Accept": "application/json"})
    assert (again.status_code, again.json()) == (200, {"ok": True})
    assert SignOff.objects.filter(operation__shell=second).count() == 1
    troubles: list[dict[str, Any]] = [{"shell": []}, {"tapped_at": "yesterday"}]
    for troubled in troubles:
        answer = cut.client.post(cut.url("rack_sign"), form | troubled, headers={"Accept": "application/json"})
        assert answer.status_code == 422
        assert answer.json()["refused"]


def at(shop: SmallShop, who: Person, when: datetime) -> Stamp:
    return Stamp(who.pk, who.name, when, shop.clock, "tablet 1")


def signed(shop: SmallShop, shell: Shell, position: int, when: datetime) -> SignOff:
    stamp = at(shop, shop.worker, when)
    return sign_off(serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=stamp).sign_off


def test_a_dwell_counts_from_the_tap_and_has_to_be_over_at_the_next(shop: SmallShop) -> None:
    (shell,) = shop.released()
    signed(shop, shell, 1, shop.clock)
    shop.wait(hours=5)
    pressed = shop.clock - timedelta(hours=4)
    signed(shop, shell, 2, pressed)
    assert shop.step(shell, 3).not_before == pressed + timedelta(hours=48)
    shop.wait(hours=60)
    with pytest.raises(NotAllowedNow, match="is still"):
        signed(shop, shell, 3, pressed + timedelta(hours=47))
    signed(shop, shell, 3, pressed + timedelta(hours=48))


def test_a_tablet_with_a_fast_clock_ends_no_dwell_early(shop: SmallShop) -> None:
    (shell,) = shop.released()
    signed(shop, shell, 1, shop.clock)
    signed(shop, shell, 2, shop.clock)
    with pytest.raises(NotAllowedNow, match="is still"):
        signed(shop, shell, 3, shop.clock + timedelta(hours=60))


def test_a_tap_older_than_a_hold_starts_the_dwell_at_the_release(shop: SmallShop) -> None:
    (shell,) = shop.released()
    signed(shop, shell, 1, shop.clock)
    shop.wait(hours=1)
    tapped = shop.clock
    shop.wait(hours=1)
    stamp = shop.stamp(shop.supervisor)
    report_problem(serial=shell.serial, position=2, person=shop.supervisor, text="Gap", stamp=stamp)
    shop.wait(hours=1)
    settle_problem(serial=shell.serial, person=shop.supervisor, settlement="None", stamp=shop.stamp(shop.supervisor))
    released = shop.clock
    shop.wait(hours=1)
    made = signed(shop, shell, 2, tapped)
    assert (made.at, made.record.at) == (tapped, tapped)
    assert shop.step(shell, 3).not_before == released + timedelta(hours=48)


def test_a_tap_older_than_a_withdrawal_is_refused(shop: SmallShop) -> None:
    (shell,) = shop.released()
    tapped = shop.clock
    shop.wait(minutes=5)
    signed(shop, shell, 1, shop.clock)
    withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, reason="", stamp=shop.stamp(shop.worker))
    shop.wait(minutes=5)
    with pytest.raises(NotAllowedNow, match="opened again .* after this tap was made"):
        signed(shop, shell, 1, tapped)
    signed(shop, shell, 1, shop.clock)
