"""PINs: checking one, and what wrong ones cost."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext as _

from quality.accounts import note_change
from quality.errors import PinRefused
from quality.models import AccountEvent, Person, Tablet
from quality.waits import wait_in_words
from routing.turnstile import writing

log = logging.getLogger("shop.security")

LOCKED_FOR_GOOD_AFTER = 10
TABLET_LOCKED_AFTER = 20
SHORTEST_PIN, LONGEST_PIN = 6, 12


def lock_time(failures: int) -> timedelta:
    """How long a person is locked after so many wrong PINs in a row.

    The first two cost nothing; then the wait doubles from 30 s to 15 min, and at 10 only a supervisor unlocks. NIST SP
    800-63B, section 5.2.2, allows 100 in a row at most.
    """
    if failures >= LOCKED_FOR_GOOD_AFTER:
        return timedelta(days=36500)
    if failures < 3:
        return timedelta(0)
    return min(timedelta(seconds=30 * 2 ** (failures - 3)), timedelta(minutes=15))


def tablet_lock_time(failures: int) -> timedelta:
    """How long nobody can sign in at a tablet after so many wrong PINs in a row, by whomever.

    Twenty cover a crew with a bad morning. From then on each wrong one doubles the wait, from 5 min to a shift of 8 h,
    so that nobody goes through the names of the shop with the same few PINs.
    """
    if failures < TABLET_LOCKED_AFTER:
        return timedelta(0)
    return min(timedelta(minutes=5 * 2 ** min(failures - TABLET_LOCKED_AFTER, 10)), timedelta(hours=8))


def confirm_pin(*, person: Person, pin: str, at: datetime, tablet: Tablet | None = None) -> None:
    """Return quietly when ``pin`` is this person's; otherwise the failure stays counted and PinRefused is raised.

    A try is counted, for the person and for the tablet it came from, and its wait begun, before the PIN is looked at:
    guesses sent side by side don't get a free look each. The hash is computed outside any lock. Who is locked is refused
    without a look at the PIN, and so is everybody at a tablet that is locked; neither counts. The right PIN resets both.
    """
    if not person.is_active or not person.pin:
        raise PinRefused("no_pin", _("{name} has no PIN yet; a supervisor can set one.").format(name=person.name))
    with writing():
        if not _claim(person, lock_time, at):
            raise PinRefused("locked", _locked_sentence(person, at))
        if tablet is not None and not _claim(tablet, tablet_lock_time, at):
            raise PinRefused("tablet_locked", _tablet_locked_sentence(tablet, at))  # and the person's try is undone
    if check_password(pin, person.pin):
        with writing():
            _forget(person)
            if tablet is not None:
                _forget(tablet)
        return
    log.warning("Wrong PIN: %s at %s", person.name, tablet.name if tablet else "no tablet")
    if is_locked(person, at):
        raise PinRefused("locked", _("Wrong PIN.") + " " + _locked_sentence(person, at))
    if tablet is not None and is_locked(tablet, at):
        raise PinRefused("tablet_locked", _("Wrong PIN.") + " " + _tablet_locked_sentence(tablet, at))
    raise PinRefused("wrong", _("Wrong PIN. Try again."))


def _claim(who: Person | Tablet, lock_time_of: Callable[[int], timedelta], at: datetime) -> bool:
    """Count one more try unless ``who`` is locked, and begin the wait that it costs. Rows are locked person first."""
    row = _row(who)
    allowed = row.filter(Q(locked_until__isnull=True) | Q(locked_until__lte=at)).update(
        failed_pins=F("failed_pins") + 1
    )
    who.refresh_from_db(fields=["failed_pins", "locked_until"])
    wait = lock_time_of(who.failed_pins)
    if allowed and wait:
        who.locked_until = at + wait
        row.update(locked_until=who.locked_until)
    return bool(allowed)


def _forget(who: Person | Tablet) -> None:
    _row(who).update(failed_pins=0, locked_until=None)
    who.failed_pins, who.locked_until = 0, None


def _row(who: Person | Tablet) -> QuerySet[Any]:
    return type(who)._default_manager.filter(pk=who.pk)


def _locked_sentence(person: Person, at: datetime) -> str:
    if person.failed_pins >= LOCKED_FOR_GOOD_AFTER:
        times = person.failed_pins
        said = _("{name} is locked after {times} wrong PINs. Ask a supervisor to unlock them under People.")
        return said.format(name=person.name, times=times)
    said = _("{name} is locked for {time}. Wait, or ask a supervisor to unlock them under People.")
    return said.format(name=person.name, time=_wait(person, at))


def _tablet_locked_sentence(tablet: Tablet, at: datetime) -> str:
    return _(
        "Nobody can sign in at {tablet} for {time}: {times} wrong PINs in a row were entered here. Wait, or ask a "
        "supervisor to unlock it under Tablets."
    ).format(tablet=tablet.name, time=_wait(tablet, at), times=tablet.failed_pins)


def _wait(who: Person | Tablet, at: datetime) -> str:
    return wait_in_words(who.locked_until or at, at)


def is_locked(who: Person | Tablet, at: datetime) -> bool:
    return who.locked_until is not None and who.locked_until > at


def is_easily_guessed(pin: str) -> bool:
    """Whether digits follow a rule that people try first.

    Fewer than three different digits (000000, 121212), a row (123456, 987654, 890123), a row with repeats (112233),
    or one block several times (123123).
    """
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    blocks = any(pin == pin[:size] * (len(pin) // size) for size in range(1, len(pin) // 2 + 1))
    return len(set(pin)) < 3 or steps <= {0, 1} or steps <= {0, 9} or blocks


def set_pin(*, person: Person, pin: str, by: Person | None, at: datetime) -> None:
    """Give a person a new PIN. Tablets at which they are signed in ask again; wrong tries are forgotten.

    Raises PinRefused for a PIN that is too short, no number, or easily guessed.
    """
    if not (pin.isascii() and pin.isdecimal() and SHORTEST_PIN <= len(pin) <= LONGEST_PIN):
        raise PinRefused(
            "bad_pin",
            _("A PIN has {shortest_pin} to {longest_pin} digits and nothing else.").format(
                shortest_pin=SHORTEST_PIN, longest_pin=LONGEST_PIN
            ),
        )
    if is_easily_guessed(pin):
        raise PinRefused("weak_pin", _("This PIN is easily guessed; choose one without rows or repeats."))
    hashed = make_password(pin)
    with writing():
        Person.objects.filter(pk=person.pk).update(
            pin=hashed, pin_version=F("pin_version") + 1, failed_pins=0, locked_until=None
        )
        note_change(person, AccountEvent.PIN, by=by, at=at)
