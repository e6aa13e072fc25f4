"""Everybody who works at office screens changes their own password, with the present one."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.accounts import change_own_password, set_password
from quality.models import AccountChange, AccountEvent, Person
from quality.passwords import FREE_TRIES, wrong_passwords
from routing.errors import LostRace
from shopfloor.signin import views
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
        (OLD, OLD, OLD, "This is the present one; choose another."),
    ],
)
def test_what_is_not_right_changes_nothing(
    shop: SmallShop, worker: Client, present: str, new: str, again: str, says: str
) -> None:
    before = Person.objects.get(pk=shop.worker.pk).password
    status, page = change(worker, present, new, again)
    assert status == 422 and says in page
    assert not any(word in page for word in (NEW, OLD))
    assert Person.objects.get(pk=shop.worker.pk).password == before
    assert worker.get(reverse("board:board")).status_code == 200


def test_tries_here_and_at_the_sign_in_are_counted_together(shop: SmallShop, worker: Client) -> None:
    answers = [change(worker, f"guess {n} of many", NEW) for n in range(FREE_TRIES + 1)]
    assert [status for status, _ in answers] == [422] * FREE_TRIES + [429]
    assert "This is not your present password. 5 wrong passwords in a row" in answers[-1][1]
    assert wrong_passwords(shop.worker) == FREE_TRIES + 1
    status, page = change(worker, OLD, NEW)
    assert status == 429 and "wrong passwords in a row" in page
    refused = Client().post(reverse("signin:office"), {"username": shop.worker.username, "password": OLD})
    assert refused.status_code == 429 and int(refused["Retry-After"]) > 0


def test_a_browser_that_is_known_has_a_count_of_its_own(shop: SmallShop, worker: Client) -> None:
    known = Client()
    known.post(reverse("signin:office"), {"username": shop.worker.username, "password": OLD})
    for n in range(FREE_TRIES + 1):
        change(worker, f"guess {n} of many", NEW)
    assert change(worker, OLD, NEW)[0] == 429
    assert change(known, OLD, NEW)[0] == 302
    assert wrong_passwords(shop.worker) == 0


def test_a_wrong_one_is_logged_with_the_name_and_without_the_words(
    shop: SmallShop, worker: Client, caplog: pytest.LogCaptureFixture
) -> None:
    change(worker, "not this one", NEW)
    (line,) = [record.getMessage() for record in caplog.records if record.name == "shop.security"]
    assert line == f"Wrong present password for a new one: {shop.worker.name}"


def test_an_account_that_changed_meanwhile_is_left_as_it_is(shop: SmallShop, worker: Client) -> None:
    """A supervisor was faster: the old password opens nothing any more, and sets nothing."""
    stale = Person.objects.get(pk=shop.worker.pk)
    set_password(person=shop.worker, password="a supervisor's choice", by=shop.supervisor, at=shop.clock)
    now = Person.objects.get(pk=shop.worker.pk).password
    with pytest.raises(LostRace, match="changed meanwhile"):
        change_own_password(person=stale, password=NEW, at=shop.clock)
    fresh = Person.objects.get(pk=shop.worker.pk)
    Person.objects.filter(pk=fresh.pk).update(is_active=False)
    with pytest.raises(LostRace):
        change_own_password(person=fresh, password=NEW, at=shop.clock)
    assert Person.objects.get(pk=shop.worker.pk).password == now
    assert AccountChange.objects.filter(person=shop.worker, by=shop.worker).count() == 0


def test_it_is_said_on_the_page_when_somebody_was_faster(
    shop: SmallShop, worker: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def faster(request: object, who: Person, password: str) -> bool:
        Person.objects.filter(pk=who.pk).update(password="another hash")
        return True

    monkeypatch.setattr(views, "_is_theirs", faster)
    status, page = change(worker, OLD, NEW)
    assert status == 409 and "nothing was set. Sign in again." in page
