"""The sign-ins of the demo, which everybody can read, open no shop that others reach."""

from __future__ import annotations

from datetime import UTC, date, datetime
from io import StringIO
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.core.checks import ERROR, run_checks
from django.core.management import CommandError, call_command
from django.test import Client

from quality.accounts import set_password
from quality.models import Person
from quality.pins import set_pin
from routing.models import Shop
from shopfloor import demo_check
from shopfloor.demo.loading import load_demo
from shopfloor.demo.people import PEOPLE
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)


@pytest.fixture
def demo(db: None, settings: Any) -> None:
    load_demo(now=NOW, today=date(2026, 11, 2))
    settings.HTTPS = True


def found(*, databases: list[str] | None = None) -> list[Any]:
    messages = run_checks(tags=["database"], databases=["default"] if databases is None else databases)
    return [message for message in messages if message.id == "shopfloor.E001"]


def test_it_refuses_where_others_reach_the_shop_and_only_there(demo: None, settings: Any) -> None:
    (error,) = found()
    assert error.level == ERROR
    assert all(row.username in error.msg for row in PEOPLE)
    assert "manage.py demo --close" in error.hint
    settings.HTTPS = False
    assert found() == []


def test_a_shop_of_its_own_people_passes(shop: SmallShop, settings: Any) -> None:
    settings.HTTPS = True
    assert found() == []
    assert found(databases=[]) == []


def test_one_secret_that_is_left_is_enough(demo: None) -> None:
    """A name that stayed, with a new password and a new PIN, is nobody's business."""
    Person.objects.exclude(username="bram").update(is_active=False)
    bram = Person.objects.get(username="bram")
    set_password(person=bram, password="three grey herons", by=None, at=NOW)
    assert [message.msg.endswith(": bram.") for message in found()] == [True]
    set_pin(person=bram, pin="730164", by=None, at=NOW)
    assert found() == []


def test_another_name_or_the_secret_of_a_colleague_hides_nobody(demo: None) -> None:
    Person.objects.exclude(username__in=["ada", "bram", "kit"]).update(is_active=False)
    Person.objects.filter(username="ada").update(username="mistress")
    published = {row.username: row for row in PEOPLE}
    set_password(person=Person.objects.get(username="bram"), password=published["greta"].password, by=None, at=NOW)
    set_password(person=Person.objects.get(username="kit"), password="three grey herons", by=None, at=NOW)
    Person.objects.filter(username="kit").update(pin=make_password(published["una"].pin))
    (error,) = found()
    assert error.msg.endswith(": bram, kit, mistress.")
    Person.objects.create_superuser("ruler", "three grey herons")
    out = StringIO()
    call_command("demo", "--close", stdout=out)
    assert out.getvalue().count("Closed:") == 3
    assert found() == []


def test_an_account_without_any_secret_costs_no_hash(demo: None, monkeypatch: pytest.MonkeyPatch) -> None:
    Person.objects.update(is_active=False)
    Person.objects.create_user("new", name="New")

    def hashed(*_: object) -> bool:
        raise AssertionError("a hash was computed")

    monkeypatch.setattr(demo_check, "check_password", hashed)
    assert found() == []


def test_closing_them_needs_an_own_administrator_first(demo: None) -> None:
    with pytest.raises(CommandError, match="createsuperuser"):
        call_command("demo", "--close")
    assert len(found()) == 1
    ruler = Person.objects.create_superuser("ruler", "three grey herons")
    out = StringIO()
    call_command("demo", "--close", stdout=out)
    assert out.getvalue().count("Closed:") == len(PEOPLE)
    assert found() == []
    assert Person.objects.filter(is_active=True).get() == ruler
    again = StringIO()
    call_command("demo", "--close", stdout=again)
    assert "nothing was changed" in again.getvalue()
    answer = Client().post("/sign-in/", {"username": PEOPLE[0].username, "password": PEOPLE[0].password})
    assert answer.status_code == 422


def test_the_demo_is_not_loaded_where_others_reach_the_shop(db: None, settings: Any) -> None:
    settings.HTTPS = True
    call_command("demo", "--if-empty")
    with pytest.raises(CommandError, match="createsuperuser"):
        call_command("demo")
    assert not Person.objects.exists() and not Shop.current().is_demo
