"""Everybody who works at office screens changes their own password, with the present one."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.accounts import set_password
from quality.models import AccountChange, AccountEvent, Person
from quality.passwords import FREE_TRIES, wrong_passwords
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

OLD, NEW = "heron on the ridge", "seven quiet mallets"


@pytest.fixture
def worker(shop: SmallShop) -> Client:
    set_password(person=shop.worker, password=OLD, by=shop.supervisor, at=shop.clock)
    client = Client()
    assert client.login(username=shop.worker.username, password=OLD)
    return client


def change(client: Client, present: str, new: str, again: str | None = None) -> tuple[int, str]:
    answer = client.post(
        reverse("signin:password"),
        {"present": present, "password": new, "password_again": new if again is None else again},
    )
    return answer.status_code, answer.content.decode()


def test_a_new_password_holds_and_ends_what_is_open_elsewhere(shop: SmallShop, worker: Client) -> None:
    elsewhere = Client()
    assert elsewhere.login(username=shop.worker.username, password=OLD)
    assert 'autocomplete="current-password"' in worker.get(reverse("signin:password")).content.decode()
    assert change(worker, OLD, NEW)[0] == 302
    assert worker.get(reverse("board:board")).status_code == 200
    assert elsewhere.get(reverse("board:board")).status_code == 302
    assert not Client().login(username=shop.worker.username, password=OLD)
    assert Client().login(username=shop.worker.username, password=NEW)
    noted = AccountChange.objects.filter(person=shop.worker, what=AccountEvent.PASSWORD).latest("pk")
    assert noted.by == shop.worker


@pytest.mark.parametrize(
    ("present", "new", "again", "says"),
    [
        ("not this one", NEW, NEW, "This is not your present password."),
        (OLD, NEW, "seven quiet mullets", "The two are not the same; type both again."),
        (OLD, "short", "short", "at least 10 characters"),
        (OLD, "password123", "password123", "too common"),
        ("", NEW, NEW, "This field is required."),
    ],
)
def test_what_is_not_right_changes_nothing(
    shop: SmallShop, worker: Client, present: str, new: str, again: str, says: str
) -> None:
    before = Person.objects.get(pk=shop.worker.pk).password
    status, page = change(worker, present, new, again)
    assert status == 422 and says in page
    assert NEW not in page and OLD not in page
    assert Person.objects.get(pk=shop.worker.pk).password == before
    assert worker.get(reverse("board:board")).status_code == 200


def test_guessing_the_present_one_at_a_screen_that_was_left_open_costs_waits(shop: SmallShop, worker: Client) -> None:
    answers = [change(worker, f"guess {n} of many", NEW) for n in range(FREE_TRIES + 2)]
    assert [status for status, _ in answers[:FREE_TRIES]] == [422] * FREE_TRIES
    assert answers[-1][0] == 429
    assert wrong_passwords(shop.worker) > FREE_TRIES
    status, page = change(worker, OLD, NEW)
    assert status == 429 and "wrong passwords in a row" in page
    assert Client().login(username=shop.worker.username, password=OLD)
