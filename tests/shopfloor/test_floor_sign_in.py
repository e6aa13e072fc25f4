"""Signing in at a station: a name, a PIN, and what ends it."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from quality.models import Person, Qualification, Role
from quality.pins import set_pin
from routing.models import Shop
from shopfloor.tablet_station import KEY_COOKIE, STATION_COOKIE
from shopfloor.worker_token import COOKIE, LONGEST
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def cut(clock: Clock) -> Tablet:
    """A tablet at which nobody is signed in."""
    return Tablet("cut")


def is_signed_in(tablet: Tablet) -> bool:
    answer = tablet.get("queue")
    if answer.status_code == 302:
        assert answer["Location"] == tablet.url("sign_in")
        return False
    assert answer.status_code == 200
    return True


def test_a_tablet_asks_which_station_it_is_at(shop: SmallShop, cut: Tablet) -> None:
    shop.stations["pack"].is_active = False
    shop.stations["pack"].save()
    shown = page(cut.client.get(reverse("floor:stations")))
    assert cut.url("queue") in shown
    assert reverse("floor:queue", args=["pack"]) not in shown


def test_nobody_works_without_signing_in(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    assert not is_signed_in(cut)
    assert cut.get("step", shell.serial)["Location"].startswith(cut.url("sign_in"))
    for name in ("sign", "start", "problem", "withdraw", "settle", "thickness"):
        answer = cut.tap(name, shell)
        assert (answer.status_code, answer["Location"]) == (302, cut.url("sign_in")), name
    assert shop.step(shell, 1).state == "ready"


def test_a_name_and_its_pin_open_the_queue(shop: SmallShop, cut: Tablet) -> None:
    shown = page(cut.get("sign_in"))
    assert cut.url("enter_pin", shop.worker.pk) in shown
    assert "Wanda Worker" in page(cut.get("enter_pin", shop.worker.pk))
    answer = cut.sign_in(shop.worker)
    assert (answer.status_code, answer["Location"]) == (302, cut.url("queue"))
    assert "Wanda Worker" in page(cut.get("queue"))


def test_after_signing_in_the_shell_that_was_asked_for_opens(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    asked = cut.client.get(cut.url("step", shell.serial), {"r": "1"}, follow=True)
    address = f"{cut.url('enter_pin', shop.worker.pk)}?shell={shell.serial}&r=1"
    assert escape(address) in page(asked)
    form = page(cut.client.get(address))
    assert f'name="shell" value="{shell.serial}"' in form and 'name="r" value="1"' in form
    assert cut.sign_in(shop.worker, shell=shell.serial, r="1")["Location"] == cut.url("step", shell.serial) + "?r=1"
    assert cut.sign_in(shop.worker, shell=shell.serial)["Location"] == cut.url("step", shell.serial)


def test_a_shell_that_is_none_leads_to_the_queue(shop: SmallShop, cut: Tablet) -> None:
    assert cut.sign_in(shop.worker, shell="//elsewhere.example/")["Location"] == cut.url("queue")


def test_those_who_are_not_qualified_here_are_listed_apart(shop: SmallShop, cut: Tablet) -> None:
    new = person("new-hand", stations=[shop.stations["pack"]])
    expired = person("former-cutter", stations=[shop.stations["cut"]])
    Qualification.objects.filter(person=expired).update(valid_to=date(2026, 10, 31))
    here, apart = page(cut.get("sign_in")).split("Not qualified for cut")
    assert cut.url("enter_pin", shop.worker.pk) in here
    for who in (new, expired):
        assert cut.url("enter_pin", who.pk) in apart
        assert cut.url("enter_pin", who.pk) not in here


def test_a_qualification_begins_with_the_day_of_the_shop_not_of_greenwich(shop: SmallShop, clock: Clock) -> None:
    clock.wait(hours=15, minutes=30)  # 23:30 UTC on the 2nd is 00:30 on the 3rd in Berlin
    Qualification.objects.filter(person=shop.worker).update(valid_from=date(2026, 11, 3))
    cut = Tablet("cut")
    here = page(cut.get("sign_in")).split("Not qualified for cut")[0]
    assert cut.url("enter_pin", shop.worker.pk) in here


def test_only_people_who_sign_steps_and_have_a_pin_are_listed(shop: SmallShop, cut: Tablet) -> None:
    clerk = person("olive-office", Role.OFFICE)
    without = person("no-pin-yet", stations=[shop.stations["cut"]])
    Person.objects.filter(pk=without.pk).update(pin="")
    gone = person("gone", stations=[shop.stations["cut"]])
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    shown = page(cut.get("sign_in"))
    for who in (clerk, without, gone):
        assert cut.url("enter_pin", who.pk) not in shown
    assert cut.sign_in(clerk).status_code == 404
    assert cut.sign_in(gone).status_code == 404
    refused = cut.sign_in(without)
    assert refused.status_code == 422
    assert "has no PIN yet" in page(refused)


def test_a_shop_without_pins_says_who_sets_them(shop: SmallShop, cut: Tablet) -> None:
    Person.objects.update(pin="")
    assert "A supervisor sets PINs" in page(cut.get("sign_in"))


def test_a_wrong_pin_is_refused_and_never_shown_again(shop: SmallShop, cut: Tablet) -> None:
    answer = cut.sign_in(shop.worker, "111222")
    assert answer.status_code == 422
    assert "Wrong PIN. Try again." in page(answer)
    assert "111222" not in page(answer)
    assert not is_signed_in(cut)


def test_three_wrong_pins_lock_for_half_a_minute(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    for _ in range(3):
        refused = cut.sign_in(shop.worker, "111222")
    assert "is locked for" in page(refused)
    assert "is locked for" in page(cut.sign_in(shop.worker))
    assert not is_signed_in(cut)
    clock.wait(seconds=31)
    assert cut.sign_in(shop.worker).status_code == 302
    assert Person.objects.get(pk=shop.worker.pk).failed_pins == 0


def test_a_changed_pin_ends_the_sign_in(shop: SmallShop, cut: Tablet) -> None:
    cut.sign_in(shop.worker)
    assert is_signed_in(cut)
    set_pin(person=shop.worker, pin="730164", by=shop.supervisor, at=shop.clock)
    assert not is_signed_in(cut)


def test_a_closed_account_ends_the_sign_in(shop: SmallShop, cut: Tablet) -> None:
    cut.sign_in(shop.worker)
    Person.objects.filter(pk=shop.worker.pk).update(is_active=False)
    assert not is_signed_in(cut)


def test_idle_time_ends_the_sign_in_and_every_answer_renews_it(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    idle = Shop.current().floor_idle_minutes
    cut.sign_in(shop.worker)
    for _ in range(3):
        clock.wait(minutes=idle - 1)
        assert is_signed_in(cut)
    clock.wait(minutes=idle + 1)
    assert not is_signed_in(cut)


def test_a_queue_that_refreshes_by_itself_keeps_nobody_signed_in(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    idle = Shop.current().floor_idle_minutes
    cut.sign_in(shop.worker)
    clock.wait(minutes=idle - 1)
    assert cut.refresh().status_code == 200
    clock.wait(minutes=2)
    refreshed = cut.refresh()
    # Not a redirect: htmx would follow it and put the sign-in page into the middle of the queue.
    assert (refreshed.status_code, refreshed.headers.get("HX-Redirect")) == (200, cut.url("sign_in"))


def test_a_day_ends_even_without_idle_time(shop: SmallShop, cut: Tablet, clock: Clock) -> None:
    Shop.objects.update(floor_idle_minutes=120)
    cut.sign_in(shop.worker)
    for _ in range(int(LONGEST.total_seconds() // 3600)):
        clock.wait(hours=1)
        signed_in = is_signed_in(cut)
    assert signed_in
    clock.wait(minutes=1)
    assert not is_signed_in(cut)


def test_changing_the_worker_signs_out(shop: SmallShop, cut: Tablet) -> None:
    cut.sign_in(shop.worker)
    assert cut.client.get(cut.url("sign_out")).status_code == 405
    assert is_signed_in(cut)
    assert cut.client.post(cut.url("sign_out"))["Location"] == cut.url("sign_in")
    assert not is_signed_in(cut)
    cut.sign_in(shop.supervisor)
    assert "Sam Supervisor" in page(cut.get("queue"))


def test_the_cookie_is_signed_and_belongs_to_one_tablet(shop: SmallShop, cut: Tablet) -> None:
    cut.sign_in(shop.worker)
    cookie = cut.client.cookies[COOKIE]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"
    other = Tablet("cut", Client())
    other.get("sign_in")
    assert other.client.cookies[KEY_COOKIE].value != cut.client.cookies[KEY_COOKIE].value
    other.client.cookies[COOKIE] = cookie.value
    assert not is_signed_in(other)
    cut.client.cookies[COOKIE] = cookie.value[:-1] + ("A" if cookie.value[-1] != "A" else "B")
    assert not is_signed_in(cut)


def test_the_tablet_remembers_its_station(shop: SmallShop, cut: Tablet) -> None:
    cut.get("sign_in")
    assert cut.client.cookies[STATION_COOKIE].value == "cut"


def test_an_unknown_station_or_person_is_not_found(shop: SmallShop, cut: Tablet) -> None:
    for name in ("queue", "sign_in"):
        assert Tablet("lathe").get(name).status_code == 404
    assert cut.get("enter_pin", 99999).status_code == 404
