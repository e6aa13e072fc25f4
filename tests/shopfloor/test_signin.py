"""Signing in to the office screens, and out again."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import Person, Role
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
