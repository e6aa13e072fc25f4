"""Accounts keep their own history, and nobody overwrites what somebody else just saved."""

from __future__ import annotations

from datetime import datetime
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, transaction

from quality.accounts import save_person, set_password, unlock
from quality.errors import QualityError
from quality.models import AccountChange, Person, Role
from quality.passwords import FREE_TRIES, one_try, wrong_passwords
from quality.pins import set_pin
from tests.small_shop import SmallShop


def changes(person: Person) -> list[tuple[str, str, str, str]]:
    lines = person.account_changes.order_by("pk")
    return [(line.what, line.before, line.after, line.by_name) for line in lines]


def edited(shop: SmallShop, *, version: int, **fields: object) -> Person:
    person = Person.objects.get(pk=shop.worker.pk)
    for name, value in fields.items():
        setattr(person, name, value)
    return save_person(person=person, version=version, by=shop.supervisor, at=shop.clock)


def test_each_change_says_who_when_and_what(shop: SmallShop) -> None:
    saved = edited(shop, version=0, role=Role.SUPERVISOR, name="Wanda Weaver")
    edited(shop, version=saved.version, is_active=False)
    by = shop.supervisor.name
    assert changes(saved) == [
        ("name", "Wanda Worker", "Wanda Weaver", by),
        ("role", "worker", "supervisor", by),
        ("closed", "works here", "left", by),
    ]
    assert {line.at for line in AccountChange.objects.all()} == {shop.clock}


def test_no_secret_stands_in_it(shop: SmallShop) -> None:
    set_pin(person=shop.worker, pin="730164", by=shop.supervisor, at=shop.clock)
    set_password(person=shop.worker, password="three grey herons", by=None, at=shop.clock)
    assert [line[0] for line in changes(shop.worker)] == ["pin", "password"]
    assert changes(shop.worker)[1][3] == "command line"
    stored = str(list(AccountChange.objects.values_list()))
    fresh = Person.objects.get(pk=shop.worker.pk)
    for secret in ("730164", "herons", fresh.pin, fresh.password):
        assert secret not in stored


def test_unlocking_is_noted_once(shop: SmallShop) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(failed_pins=4)
    for _ in range(2):
        unlock(person=shop.worker, by=shop.supervisor, at=shop.clock)
    assert changes(shop.worker) == [("unlocked", "PINs tried in vain: 4, passwords: 0", "", shop.supervisor.name)]


def test_the_slower_of_two_editors_is_told(shop: SmallShop) -> None:
    edited(shop, version=0, role=Role.FINAL_CHECKER)
    edited(shop, version=0, role=Role.FINAL_CHECKER)  # the same form, twice
    with pytest.raises(QualityError, match="Somebody else changed the account of Wanda Worker") as refused:
        edited(shop, version=0, role=Role.SUPERVISOR)
    assert refused.value.code == "changed"
    assert Person.objects.get(pk=shop.worker.pk).role == Role.FINAL_CHECKER
    assert len(changes(shop.worker)) == 1


def test_a_name_that_somebody_has_is_refused_and_nothing_is_saved(shop: SmallShop) -> None:
    with pytest.raises(QualityError, match="This user name is taken; choose another") as refused:
        edited(shop, version=0, username=shop.supervisor.username, name="Wanda Weaver")
    assert refused.value.code == "username_taken"
    assert Person.objects.get(pk=shop.worker.pk).name == "Wanda Worker"
    assert changes(shop.worker) == []


@pytest.mark.parametrize("fields", [{"role": Role.OFFICE}, {"is_active": False}])
def test_the_last_administrator_stays_one(shop: SmallShop, fields: dict[str, object]) -> None:
    Person.objects.filter(pk=shop.worker.pk).update(role=Role.ADMINISTRATOR)
    gone = Person.objects.create_user("ada", name="Ada", role=Role.ADMINISTRATOR, is_active=False)
    with pytest.raises(QualityError, match="the shop's only administrator. Make somebody else one first"):
        edited(shop, version=0, **fields)
    assert edited(shop, version=0, name="Wanda Weaver").name == "Wanda Weaver"
    Person.objects.filter(pk=gone.pk).update(is_active=True)
    assert edited(shop, version=1, **fields).version == 2


def typing(monkeypatch: pytest.MonkeyPatch, *passwords: str) -> None:
    typed = iter(passwords)
    monkeypatch.setattr("getpass.getpass", lambda prompt="": next(typed))


def tried_in_vain(username: str, at: datetime) -> None:
    for _ in range(FREE_TRIES):
        with one_try(username=username, address="192.0.2.7", browser="", at=at):
            pass


def test_a_password_set_at_the_machine_is_noted_and_wrong_ones_are_forgotten(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried_in_vain(shop.worker.username, shop.clock)
    assert wrong_passwords(shop.worker) == FREE_TRIES
    typing(
        monkeypatch, "three grey herons", "three grey heron", "short", "short", "three grey herons", "three grey herons"
    )
    out, err = StringIO(), StringIO()
    call_command("changepassword", shop.worker.username, stdout=out, stderr=err)
    assert "Wanda Worker has a new password." in out.getvalue()
    assert "not the same" in err.getvalue() and "too short" in err.getvalue()
    assert Person.objects.get(pk=shop.worker.pk).check_password("three grey herons")
    assert changes(shop.worker) == [("password", "", "", "command line")]
    assert wrong_passwords(shop.worker) == 0


def test_a_password_that_is_no_good_changes_nothing(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    before = shop.worker.password
    typing(monkeypatch, *["short"] * 6)
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("changepassword", shop.worker.username, stdout=StringIO(), stderr=StringIO())
    with pytest.raises(CommandError, match="There is no user name “nobody”"):
        call_command("changepassword", "nobody")
    assert Person.objects.get(pk=shop.worker.pk).password == before
    assert changes(shop.worker) == []


def test_an_administrator_made_at_the_machine_has_a_history(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    tried_in_vain("ruler", shop.clock)
    monkeypatch.setenv("DJANGO_SUPERUSER_PASSWORD", "three grey herons")
    call_command("createsuperuser", "--noinput", "--username", "ruler", "--name", "Rula Ruler", stdout=StringIO())
    ruler = Person.objects.get(username="ruler")
    assert (ruler.role, ruler.check_password("three grey herons")) == (Role.ADMINISTRATOR, True)
    assert changes(ruler) == [("made", "", "Rula Ruler, administrator", "command line")]
    assert wrong_passwords(ruler) == 0


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_keeps_the_history_as_it_was_written(shop: SmallShop, change: str) -> None:
    edited(shop, version=0, role=Role.SUPERVISOR)
    lines = AccountChange.objects.all()
    with pytest.raises(DatabaseError, match="records are kept as written"), transaction.atomic():
        if change == "update":
            lines.update(by_name="nobody")
        else:
            lines.delete()
    assert len(changes(shop.worker)) == 1
