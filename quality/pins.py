"""PINs: checking one, and what wrong ones cost."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil

from django.contrib.auth.hashers import check_password, make_password
from django.db.models import F, Q

from quality.errors import PinRefused
from quality.models import Person
from routing.turnstile import writing

LOCKED_FOR_GOOD_AFTER = 20
SHORTEST_PIN, LONGEST_PIN = 6, 12


def lock_time(failures: int) -> timedelta:
    """How long a person is locked after so many wrong PINs in a row.

    The first two cost nothing; then the wait doubles from 30 s to 15 min, so that guessing all of a six-digit PIN's
    values would take years; at 20 only a supervisor unlocks. NIST SP 800-63B allows 100 at most.
    """
    if failures >= LOCKED_FOR_GOOD_AFTER:
        return timedelta(days=36500)
    if failures < 3:
        return timedelta(0)
    return min(timedelta(seconds=30 * 2 ** (failures - 3)), timedelta(minutes=15))


def confirm_pin(*, person: Person, pin: str, at: datetime) -> None:
    """Return quietly when ``pin`` is this person's; otherwise the failure stays counted and PinRefused is raised.

    A try is counted, and its wait begun, before the PIN is looked at: guesses sent side by side don't get a free look
    each. The hash is computed outside any lock. A person who is locked is refused without a look at the PIN.
    """
    if not person.is_active or not person.pin:
        raise PinRefused("no_pin", f"{person.name} has no PIN yet; a supervisor can set one.")
    with writing():
        claimed = Person.objects.filter(pk=person.pk).filter(Q(locked_until__isnull=True) | Q(locked_until__lte=at))
        allowed = claimed.update(failed_pins=F("failed_pins") + 1) == 1
        person.refresh_from_db(fields=["failed_pins", "locked_until"])
        wait = lock_time(person.failed_pins)
        if allowed and wait:
            person.locked_until = at + wait
            Person.objects.filter(pk=person.pk).update(locked_until=person.locked_until)
    if not allowed:
        raise PinRefused("locked", _locked_sentence(person, at))
    if check_password(pin, person.pin):
        Person.objects.filter(pk=person.pk).update(failed_pins=0, locked_until=None)
        person.failed_pins, person.locked_until = 0, None
        return
    if wait:
        raise PinRefused("locked", "Wrong PIN. " + _locked_sentence(person, at))
    raise PinRefused("wrong", "Wrong PIN. Try again.")


def _locked_sentence(person: Person, at: datetime) -> str:
    if person.failed_pins >= LOCKED_FOR_GOOD_AFTER:
        return f"{person.name} is locked after {person.failed_pins} wrong PINs. Ask a supervisor to unlock."
    seconds = 0 if person.locked_until is None else ceil((person.locked_until - at).total_seconds())
    wait = f"{seconds} seconds" if seconds < 120 else f"{ceil(seconds / 60)} minutes"
    return f"{person.name} is locked for {wait}. Wait, or ask a supervisor to unlock."


def is_locked(person: Person, at: datetime) -> bool:
    return person.locked_until is not None and person.locked_until > at


def is_easily_guessed(pin: str) -> bool:
    """Whether digits follow a rule that people try first.

    Fewer than three different digits (000000, 121212), a row (123456, 987654, 890123), a row with repeats (112233),
    or one block several times (123123).
    """
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    blocks = any(pin == pin[:size] * (len(pin) // size) for size in range(1, len(pin) // 2 + 1))
    return len(set(pin)) < 3 or steps <= {0, 1} or steps <= {0, 9} or blocks


def set_pin(*, person: Person, pin: str) -> None:
    """Give a person a new PIN. Tablets at which they are signed in ask again; wrong tries are forgotten.

    Raises PinRefused for a PIN that is too short, no number, or easily guessed.
    """
    if not (pin.isascii() and pin.isdecimal() and SHORTEST_PIN <= len(pin) <= LONGEST_PIN):
        raise PinRefused("bad_pin", f"A PIN has {SHORTEST_PIN} to {LONGEST_PIN} digits and nothing else.")
    if is_easily_guessed(pin):
        raise PinRefused("weak_pin", "This PIN is easily guessed; choose one without rows or repeats.")
    hashed = make_password(pin)
    with writing():
        Person.objects.filter(pk=person.pk).update(
            pin=hashed, pin_version=F("pin_version") + 1, failed_pins=0, locked_until=None
        )


def unlock(*, person: Person) -> None:
    """Forget a person's wrong PINs."""
    with writing():
        Person.objects.filter(pk=person.pk).update(failed_pins=0, locked_until=None)
