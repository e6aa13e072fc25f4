"""Passwords of the office: what wrong ones cost, so that guessing is slow and nobody can lock the shop out of itself.

Wrong tries are counted in three places. A browser in which somebody signed in before is *known* for that account and has
a count of its own: whoever guesses elsewhere never makes the owner of the account wait at their own desk. Tries from all
other browsers count for the account and for the address they come from. Waits grow and end by themselves; a supervisor
can lift each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address, ip_network

from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import Person, TriesOf, WrongTries
from quality.waits import wait_in_words
from routing.turnstile import writing

FREE_TRIES = 4
LONGEST_WAIT = timedelta(minutes=15)
# NIST SP 800-63B, section 5.2.2, allows 100 wrong ones in a row at most.
MOST_IN_A_ROW = 100
FREE_TRIES_OF_ADDRESS = 20
LONGEST_WAIT_OF_ADDRESS = timedelta(hours=1)
FORGOTTEN_AFTER = timedelta(days=1)
ADDRESS_FORGOTTEN_AFTER = timedelta(hours=1)
_FOR_GOOD = timedelta(days=36500)


class MustWait(QualityError):
    """No try is looked at now; the sentence says for how long and who can help."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__("wait", message)
        self.seconds = seconds


def account_wait(failures: int) -> timedelta:
    """What so many wrong passwords in a row cost: four nothing, then 30 s doubling to 15 min, at 100 until it is lifted."""
    if failures >= MOST_IN_A_ROW:
        return _FOR_GOOD
    if failures <= FREE_TRIES:
        return timedelta(0)
    return min(timedelta(seconds=30 * 2 ** min(failures - FREE_TRIES - 1, 10)), LONGEST_WAIT)


def address_wait(failures: int) -> timedelta:
    """An office of people behind one address has twenty; from then on a minute, doubling to an hour."""
    if failures < FREE_TRIES_OF_ADDRESS:
        return timedelta(0)
    return min(timedelta(minutes=2 ** min(failures - FREE_TRIES_OF_ADDRESS, 10)), LONGEST_WAIT_OF_ADDRESS)


@contextmanager
def one_try(
    *, username: str, address: str, browser: str, at: datetime, wrong: str = ""
) -> Iterator[Callable[[], None]]:
    """Count a try before the password is looked at; the body calls what it is given when the password was right.

    ``browser`` is the mark of a browser that is known for this account, else empty. Raises MustWait instead of running
    the body when a wait has not passed, and after it when this very try began one, then with ``wrong`` before it. Guesses sent side by side are counted
    one after the other.
    """
    account = _hash(username)
    with writing():
        _tidy(at)
        if browser:
            rows = [_claim(TriesOf.BROWSER, f"{account[:32]} {browser}"[:80], account, account_wait, at)]
        else:
            rows = [
                _claim(TriesOf.ACCOUNT, account, account, account_wait, at),
                _claim(TriesOf.ADDRESS, bucket(address), "", address_wait, at),
            ]
    was_right = False

    def right() -> None:
        nonlocal was_right
        was_right = True

    yield right
    if was_right:
        _forget_right(rows)
        return
    for row in rows:
        if row.locked_until is not None and row.locked_until > at:
            before = wrong or _("User name and password do not fit.")
            raise _must_wait(row, at, f"{before} ")


def _forget_right(rows: list[WrongTries]) -> None:
    """The account's own count ends; an address is given back this one try only, or its owner could start anew at will.

    Others from that address may have tried meanwhile: what they were counted for, and a wait that they began, stays.
    """
    with writing():
        for row in rows:
            if row.counts != TriesOf.ADDRESS:
                WrongTries.objects.filter(pk=row.pk).delete()
                continue
            now = WrongTries.objects.select_for_update().filter(pk=row.pk, failed__gt=0).first()
            if now is None:
                continue
            now.failed -= 1
            if now.locked_until == row.locked_until:
                now.locked_until = None
            now.save(update_fields=["failed", "locked_until"])


def card_asked_in_vain(*, address: str, at: datetime) -> None:
    """Count that somebody asked for a card with an address that is none. Raises MustWait when they have to wait."""
    with writing():
        _tidy(at)
        _claim(TriesOf.CARDS, bucket(address), "", address_wait, at)


def require_no_wait_for_cards(*, address: str, at: datetime) -> None:
    row = WrongTries.objects.filter(counts=TriesOf.CARDS, key=bucket(address), locked_until__gt=at).first()
    if row is not None:
        raise _must_wait(row, at, "")


def wrong_passwords(person: Person) -> int:
    """How many wrong passwords in a row were typed for a person, at most at one place."""
    counts = WrongTries.objects.filter(account=_hash(person.username)).values_list("failed", flat=True)
    return max(counts, default=0)


def forget_wrong_passwords(person: Person) -> None:
    """Only inside ``writing``."""
    WrongTries.objects.filter(account=_hash(person.username)).delete()


def waiting_addresses(at: datetime) -> list[WrongTries]:
    """Addresses that have to wait before another password is looked at."""
    return list(WrongTries.objects.filter(counts=TriesOf.ADDRESS, locked_until__gt=at).order_by("key"))


def let_address_try(*, pk: int) -> str:
    """Forget the wrong passwords from an address, which is returned; empty when they are forgotten already."""
    with writing():
        row = WrongTries.objects.filter(pk=pk, counts=TriesOf.ADDRESS).first()
        if row is None:
            return ""
        row.delete()
    return row.key


def bucket(address: str) -> str:
    """What counts as one address: of IPv6 the network, because one customer of a provider has billions in it."""
    try:
        ip = ip_address(address)
    except ValueError:
        return "unknown"
    if isinstance(ip, IPv6Address):
        if ip.ipv4_mapped is not None:
            return str(ip.ipv4_mapped)
        return str(ip_network((ip, 64), strict=False))
    return str(ip)


def _claim(counts: TriesOf, key: str, account: str, wait_of: Callable[[int], timedelta], at: datetime) -> WrongTries:
    """Count one more try and begin the wait that it costs. Raises MustWait, and nothing is counted, while one runs."""
    row = _locked(counts, key)
    while row is None:  # a right try beside this one may delete it once more
        new = WrongTries(counts=counts, key=key, account=account, last_at=at)
        WrongTries.objects.bulk_create([new], ignore_conflicts=True)
        row = _locked(counts, key)
    if row.locked_until is not None and row.locked_until > at:
        raise _must_wait(row, at, "")
    if counts in (TriesOf.ADDRESS, TriesOf.CARDS) and row.last_at < at - ADDRESS_FORGOTTEN_AFTER:
        row.failed = 0
    row.failed += 1
    row.last_at = at
    wait = wait_of(row.failed)
    row.locked_until = at + wait if wait else None
    row.save()
    return row


def _locked(counts: TriesOf, key: str) -> WrongTries | None:
    return WrongTries.objects.select_for_update().filter(counts=counts, key=key).first()


def _tidy(at: datetime) -> None:
    """Forget what is a day old, so that made-up names fill no table; but not the accounts that need a supervisor."""
    WrongTries.objects.filter(last_at__lt=at - FORGOTTEN_AFTER, failed__lt=MOST_IN_A_ROW).delete()


def _must_wait(row: WrongTries, at: datetime, before: str) -> MustWait:
    assert row.locked_until is not None
    seconds = int((row.locked_until - at).total_seconds())
    if row.counts == TriesOf.CARDS:
        return MustWait(
            _(
                "Too many addresses without a card were asked for from here. Wait {time}, then scan the code again."
            ).format(time=wait_in_words(row.locked_until, at)),
            seconds,
        )
    if row.counts == TriesOf.ADDRESS:
        who = _("{count} wrong passwords came from this address.")
        lift = _("Wait {time}, or ask a supervisor to let this address try again under People.")
    else:
        who = _("{count} wrong passwords in a row were typed for this user name.")
        lift = _("Ask a supervisor to unlock it under People.")
        if row.failed < MOST_IN_A_ROW:
            lift = _("Wait {time}, or ask a supervisor to unlock it under People.")
    wait = wait_in_words(row.locked_until, at)
    return MustWait(f"{before}{who.format(count=row.failed)} {lift.format(time=wait)}", seconds)


def _hash(username: str) -> str:
    return salted_hmac("quality.passwords", username, algorithm="sha256").hexdigest()
