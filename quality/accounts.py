"""Changes of accounts: each leaves a line of who did what and when, never a secret, and nobody overwrites another's."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.db import IntegrityError, transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.errors import QualityError
from quality.models import AccountChange, AccountEvent, Person, Role
from quality.passwords import forget_wrong_passwords, wrong_passwords
from routing.errors import LostRace
from routing.languages import Language
from routing.turnstile import in_turn, writing

COMMAND_LINE = "command line"
ONLY_ADMINISTRATOR = gettext_noop("This is the shop's only administrator. Make somebody else one first.")
NAME_TAKEN = gettext_noop("This user name is taken; choose another.")

_NO_EDITS = (AccountEvent.PIN, AccountEvent.PASSWORD, AccountEvent.UNLOCKED)


def note_change(
    person: Person, what: AccountEvent, *, by: Person | None, at: datetime, before: str = "", after: str = ""
) -> None:
    """Only inside ``writing``. ``by`` is None for a command typed at the shop's machine.

    Whoever edits what a page about the account showed raises its version, too.
    """
    AccountChange.objects.create(
        person=person,
        what=what,
        before=before[:200],
        after=after[:200],
        by=by,
        by_name=by.name if by else COMMAND_LINE,
        at=at,
    )
    if what not in _NO_EDITS:
        Person.objects.filter(pk=person.pk).update(version=F("version") + 1)


def save_person(
    *, person: Person, version: int, by: Person, at: datetime, also: Callable[[Person], bool] = lambda saved: False
) -> Person:
    """Save name, user name, role and whether somebody works here, as they stand in ``person``, and what belongs to it.

    ``version`` is the one that the editor saw; ``also`` saves the rest and says whether it changed anything. Raises
    QualityError ``changed``, and saves nothing, when somebody else changed the account meanwhile; ``username_taken`` and
    ``only_administrator`` when they were faster with the name or the role. The same form sent twice changes nothing the
    second time and is no such case.
    """
    with in_turn():  # two administrators may take the role from each other
        if not person.pk:
            person.set_unusable_password()
            with _a_free_name():
                person.save()
            note_change(person, AccountEvent.MADE, by=by, at=at, after=f"{person.name}, {person.get_role_display()}")
            also(person)
            return person
        stored = Person.objects.select_for_update().get(pk=person.pk)
        if _rules(stored) and not _rules(person) and not other_administrators(person).exists():
            raise QualityError("only_administrator", _(ONLY_ADMINISTRATOR))
        with _a_free_name():
            Person.objects.filter(pk=person.pk).update(
                name=person.name,
                username=person.username,
                role=person.role,
                language=person.language,
                is_active=person.is_active,
            )
        changes = _differences(stored, person)
        for what, before, after in changes:
            note_change(person, what, by=by, at=at, before=before, after=after)
        if (also(person) or changes) and stored.version != version:
            said = _("Somebody else changed the account of {name} meanwhile. Load the page again and look.")
            raise QualityError("changed", said.format(name=stored.name))
    person.refresh_from_db()
    return person


def make_administrator(*, username: str, name: str, password: str | None, at: datetime) -> Person:
    """For a command typed at the shop's machine: how a shop gets its first one. Raises QualityError ``username_taken``."""
    person = Person(username=username, name=name, role=Role.ADMINISTRATOR, password=make_password(password))
    with writing():
        with _a_free_name():
            person.save()
        forget_wrong_passwords(person)  # typed for the name before it was anybody's
        note_change(person, AccountEvent.MADE, by=None, at=at, after=f"{person.name}, {person.get_role_display()}")
    person.refresh_from_db()
    return person


def other_administrators(person: Person) -> QuerySet[Person]:
    """Who could still give the role: a shop without an administrator could never have one again."""
    return Person.objects.filter(role=Role.ADMINISTRATOR, is_active=True).exclude(pk=person.pk)


def _rules(person: Person) -> bool:
    return person.role == Role.ADMINISTRATOR and person.is_active


@contextmanager
def _a_free_name() -> Iterator[None]:
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        raise QualityError("username_taken", _(NAME_TAKEN)) from error


def _differences(stored: Person, person: Person) -> list[tuple[AccountEvent, str, str]]:
    is_open = AccountEvent.OPENED if person.is_active else AccountEvent.CLOSED
    compared = [
        (AccountEvent.NAME, stored.name, person.name),
        (AccountEvent.USERNAME, stored.username, person.username),
        (AccountEvent.ROLE, Role(stored.role).label, Role(person.role).label),
        (AccountEvent.LANGUAGE, _language(stored), _language(person)),
        (is_open, "works here" if stored.is_active else "left", "works here" if person.is_active else "left"),
    ]
    return [(what, before, after) for what, before, after in compared if before != after]


def _language(person: Person) -> str:
    return Language(person.language).label if person.language else "the shop's"


def set_password(*, person: Person, password: str, by: Person | None, at: datetime) -> None:
    """Give a person a new password for the office; wrong tries are forgotten and their other sessions end."""
    hashed = make_password(password)
    with writing():
        Person.objects.filter(pk=person.pk).update(password=hashed)
        forget_wrong_passwords(person)
        note_change(person, AccountEvent.PASSWORD, by=by, at=at)
    person.password = hashed


def change_own_password(*, person: Person, password: str, at: datetime) -> None:
    """In place of the one in ``person``, which they showed that they know; their other sessions end.

    Raises LostRace, and changes nothing, when that one is no longer theirs or the account was closed meanwhile.
    """
    hashed = make_password(password)
    with writing():
        stored = Person.objects.filter(pk=person.pk, is_active=True, password=person.password)
        if not stored.update(password=hashed):
            raise LostRace("password_changed", _("Your account was changed meanwhile; nothing was set. Sign in again."))
        forget_wrong_passwords(person)
        note_change(person, AccountEvent.PASSWORD, by=person, at=at)
    person.password = hashed


def unlock(*, person: Person, by: Person | None, at: datetime) -> None:
    """Forget a person's wrong PINs and passwords. Sent twice, it is noted once."""
    with writing():
        stored = Person.objects.select_for_update().get(pk=person.pk)
        passwords = wrong_passwords(stored)
        if not stored.failed_pins and not passwords:
            return
        Person.objects.filter(pk=person.pk).update(failed_pins=0, locked_until=None)
        forget_wrong_passwords(stored)
        before = f"PINs tried in vain: {stored.failed_pins}, passwords: {passwords}"
        note_change(stored, AccountEvent.UNLOCKED, by=by, at=at, before=before)


def close_account(*, person: Person, by: Person | None, at: datetime) -> None:
    """Nobody signs in with it any more, at a desk or at a tablet; every signature stays."""
    with writing():
        Person.objects.filter(pk=person.pk).update(
            is_active=False, password=make_password(None), pin="", pin_version=F("pin_version") + 1
        )
        note_change(person, AccountEvent.CLOSED, by=by, at=at, before="works here", after="left")
    person.refresh_from_db()
