"""Signing in to the office screens, and out again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import Person, Role, WrongTries
from tests.shopfloor.tablets import Clock
from tests.small_shop import SmallShop

SIGN_IN = "/sign-in/"
PASSWORD = "a long pass phrase"


def enter(client: Client, username: str, password: str = PASSWORD, **more: str):
    return client.post(SIGN_IN, {"username": username, "password": password, **more})


def test_a_stranger_sees_the_form_with_what_password_keepers_need(client: Client, shop: SmallShop) -> None:
    page = client.get(SIGN_IN)
    assert page.status_code == 200
    assert b'autocomplete="username"' in page.content
    assert b'autocomplete="current-password"' in page.content


def test_the_right_password_leads_to_the_start_page(client: Client, shop: SmallShop) -> None:
    answer = enter(client, "sam-supervisor")
    assert answer.status_code == 302 and answer["Location"] == reverse("home")
    assert client.get("/board/").status_code == 200


def test_it_leads_back_to_the_page_that_was_asked_for(client: Client, shop: SmallShop) -> None:
    asked = client.get("/people/")
    assert asked["Location"] == "/sign-in/?next=/people/"
    assert b'name="next" value="/people/"' in client.get(asked["Location"]).content
    assert enter(client, "sam-supervisor", next="/people/")["Location"] == "/people/"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example/people/", "javascript:alert(1)"]
)
def test_it_leads_to_no_other_site(client: Client, shop: SmallShop, elsewhere: str) -> None:
    assert enter(client, "sam-supervisor", next=elsewhere)["Location"] == reverse("home")


def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(client: Client, shop: SmallShop) -> None:
    wrong, unknown = enter(client, "sam-supervisor", "not it"), enter(client, "nobody-here")
    assert wrong.status_code == unknown.status_code == 422
    said = "User name and password do not fit."
    assert said in wrong.content.decode() and said in unknown.content.decode()
    assert "_auth_user_id" not in client.session


def test_an_empty_form_says_what_is_missing_beside_the_fields(client: Client, shop: SmallShop) -> None:
    page = client.post(SIGN_IN, {})
    assert page.status_code == 422
    assert page.content.decode().count('class="field-error"') == 2


def test_somebody_who_left_can_not_sign_in(client: Client, shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.supervisor.pk).update(is_active=False)
    assert enter(client, "sam-supervisor").status_code == 422


def test_closing_the_account_ends_the_session(client: Client, shop: SmallShop) -> None:
    enter(client, "sam-supervisor")
    Person.objects.filter(pk=shop.supervisor.pk).update(is_active=False)
    assert client.get("/board/")["Location"].startswith(SIGN_IN)


def test_somebody_signed_in_is_not_asked_again(signed_in: Callable[[Role], Client]) -> None:
    assert signed_in(Role.OFFICE).get(SIGN_IN)["Location"] == reverse("home")


def test_a_page_that_refreshes_itself_is_loaded_anew_when_its_session_ended(client: Client, shop: SmallShop) -> None:
    """Otherwise the sign-in form would be put into the middle of the board."""
    refresh = client.get("/board/?version=0", headers={"HX-Request": "true"})
    answer = client.get(refresh["Location"], headers={"HX-Request": "true"})
    assert answer["HX-Refresh"] == "true" and answer.content == b""


def test_signing_out_takes_a_post_and_can_be_repeated(signed_in: Callable[[Role], Client]) -> None:
    client = signed_in(Role.OFFICE)
    assert client.get("/sign-in/out/").status_code == 405
    assert "_auth_user_id" in client.session
    for _ in range(2):
        answer = client.post("/sign-in/out/")
        assert answer.status_code == 302 and answer["Location"] == reverse("home")
        assert "_auth_user_id" not in client.session


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_other_methods_are_refused(client: Client, shop: SmallShop, method: str) -> None:
    assert getattr(client, method)("/sign-in/out/").status_code == 405
    if method != "put":  # a form's PUT is Django's own synonym for POST
        assert getattr(client, method)(SIGN_IN).status_code == 405


def test_a_form_from_another_site_is_refused_with_what_to_do(shop: SmallShop) -> None:
    answer = Client(enforce_csrf_checks=True).post(SIGN_IN, {"username": "sam-supervisor", "password": PASSWORD})
    assert answer.status_code == 403
    assert "load the page again" in answer.content.decode()


def wrong(client: Client, times: int, username: str = "sam-supervisor", **more: Any) -> Any:
    for _ in range(times):
        answer = client.post(SIGN_IN, {"username": username, "password": "not it"}, **more)
    return answer


def test_after_some_wrong_passwords_none_is_looked_at_for_a_while(shop: SmallShop, clock: Clock) -> None:
    assert wrong(Client(), 4).status_code == 422
    fifth = wrong(Client(), 1)
    assert fifth.status_code == 429 and fifth["Retry-After"] == "30"
    assert "Wait 30 seconds, or ask a supervisor to unlock it under People." in fifth.content.decode()
    locked = enter(Client(), "sam-supervisor")
    assert locked.status_code == 429 and "_auth_user_id" not in locked.client.session
    clock.wait(seconds=31)
    assert enter(Client(), "sam-supervisor").status_code == 302


def test_where_somebody_signed_in_before_they_are_never_locked_out_by_others(shop: SmallShop, clock: Clock) -> None:
    desk = Client()
    enter(desk, "sam-supervisor")
    desk.post("/sign-in/out/")
    assert wrong(Client(), 6).status_code == 429
    assert enter(desk, "sam-supervisor").status_code == 302
    assert desk.cookies["known_browser"]["httponly"] and desk.cookies["known_browser"]["samesite"] == "Lax"


@pytest.mark.parametrize("cookie", ["", "x", "a:b:c", "W10:x:y"])
def test_a_made_up_mark_makes_no_browser_known(shop: SmallShop, clock: Clock, cookie: str) -> None:
    wrong(Client(), 5)
    other = Client()
    other.cookies["known_browser"] = cookie
    assert enter(other, "sam-supervisor").status_code == 429


def test_one_account_makes_no_browser_known_for_another(shop: SmallShop, clock: Clock) -> None:
    browser = Client()
    enter(browser, "wanda-worker")
    browser.post("/sign-in/out/")
    assert wrong(browser, 5).status_code == 429
    assert enter(browser, "wanda-worker").status_code == 302


def test_an_address_that_has_to_wait_is_shown_and_lifted(shop: SmallShop, clock: Clock, supervisor: Client) -> None:
    for n in range(20):
        answer = wrong(Client(), 1, f"name-{n}")
    assert answer.status_code == 429 and "came from this address" in answer.content.decode()
    assert enter(Client(), "wanda-worker").status_code == 429
    assert enter(Client(REMOTE_ADDR="198.51.100.7"), "wanda-worker").status_code == 302
    page = supervisor.get("/people/").content.decode()
    assert "No password from 127.0.0.1 is looked at until" in page
    (row,) = WrongTries.objects.filter(counts="address", key="127.0.0.1")
    for _ in range(2):
        assert supervisor.post(f"/people/addresses/{row.pk}/").status_code == 302
    assert "No password from" not in supervisor.get("/people/").content.decode()
    assert enter(Client(), "wanda-worker").status_code == 302


@pytest.mark.parametrize(
    ("proxies", "forwarded", "counted"),
    [
        (0, "203.0.113.1", "127.0.0.1"),
        (1, "203.0.113.1", "203.0.113.1"),
        (1, "192.0.2.99, 203.0.113.1", "203.0.113.1"),  # the first is what the browser claims
        (2, "203.0.113.1, 10.0.0.1", "203.0.113.1"),
        (2, "203.0.113.1", "127.0.0.1"),
        (1, "", "127.0.0.1"),
    ],
)
def test_only_what_the_shops_own_proxies_say_counts(
    shop: SmallShop, settings: Any, proxies: int, forwarded: str, counted: str
) -> None:
    settings.PROXIES = proxies
    wrong(Client(), 1, headers={"X-Forwarded-For": forwarded})
    assert WrongTries.objects.get(counts="address").key == counted


def test_a_desk_that_nobody_uses_is_signed_out(shop: SmallShop, clock: Clock) -> None:
    desk = Client()
    enter(desk, "sam-supervisor")
    clock.wait(minutes=110)
    assert desk.get("/people/").status_code == 200
    clock.wait(minutes=110)
    assert desk.get("/people/").status_code == 200
    clock.wait(minutes=126)
    led = desk.get("/people/", follow=True)
    assert led.redirect_chain[0][0] == "/sign-in/?next=/people/"
    assert "You were signed out after 2 hours without a click." in led.content.decode()


def test_a_board_that_refreshes_itself_is_no_click_and_the_wall_needs_none(shop: SmallShop, clock: Clock) -> None:
    desks = {where: Client() for where in ("/board/", reverse("board:wall"))}
    for desk in desks.values():
        enter(desk, "sam-supervisor")
    for _ in range(3):
        clock.wait(minutes=60)
        answers = {where: desk.get(where, headers={"HX-Request": "true"}) for where, desk in desks.items()}
    assert [answer.status_code for answer in answers.values()] == [302, 200]


def test_the_rings_that_a_board_fetches_are_no_click_and_know_no_session(shop: SmallShop, clock: Clock) -> None:
    desk = Client()
    enter(desk, "sam-supervisor")
    for minutes in (60, 60, 6):
        clock.wait(minutes=minutes)
        ring = desk.get(reverse("ring", args=["5dr7w"]))
        assert ring.status_code == 200 and not ring.cookies and "Cookie" not in ring.get("Vary", "")
    assert desk.get("/people/").status_code == 302


def test_no_sign_in_outlives_a_shift(shop: SmallShop, clock: Clock) -> None:
    desk = Client()
    enter(desk, "sam-supervisor")
    for _ in range(8):
        clock.wait(minutes=89)
        assert desk.get("/people/").status_code == 200
    clock.wait(minutes=20)
    led = desk.get("/people/", follow=True)
    assert "a sign-in lasts one shift" in led.content.decode()
