"""Tablets that belong to the shop: enrolled by a supervisor for their stations, revoked at once.

A browser that is a tablet keeps a key; the database keeps only the key's hash, so that a stolen copy of the database
opens no floor. A key comes from a one-time code that is typed or scanned at the tablet, or from a supervisor who makes
the very browser they sit at a tablet.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError
from django.db.models import Q, Subquery
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.errors import QualityError
from quality.models import EnrolmentCode, EnrolmentTry, Person, Tablet
from quality.rights import Right, has_right, require_right
from routing.models import Shop, Station
from routing.prepared import Prepared
from routing.turnstile import in_turn, writing

# Nothing that is mistaken for something else when read aloud or from a screen: no 0 O Q, 1 I L, 2 Z, 5 S, 6 G, 8 B, U V.
ALPHABET = "3479ACDEFHJKMNPRTWXY"
CODE_LENGTH = 8  # 20^8 = 2.6e10 codes; at ten wrong ones a minute a guess within a code's life is one in 170 million
CODE_LIVES = timedelta(minutes=15)
TRIES, TRIES_WITHIN = 10, timedelta(minutes=1)
SENT_TWICE_WITHIN = timedelta(minutes=1)
SEEN_EVERY = timedelta(minutes=1)
LONGEST_NAME = 40

_NO_CODE = gettext_noop(
    "This is no code of this shop. Compare it with the one under Tablets in the office and enter it again."
)
_USED = gettext_noop("This code has been used already. Ask a supervisor for a new one under Tablets in the office.")
_EXPIRED = gettext_noop("This code has expired. Ask a supervisor for a new one under Tablets in the office.")
_WRONG_CODES = {"no_code", "used", "expired"}
_TOO_MANY = gettext_noop("Too many wrong codes. Wait a minute, then enter the code again.")


def make_code(*, name: str, stations: Iterable[Station], by: Person, at: datetime) -> str:
    """A code that makes one browser the tablet ``name``, once and within 15 minutes. Only its hash is stored.

    A newer code for the same name ends an older one: a form sent twice leaves one code that works.
    """
    require_right(by, Right.MANAGE_TABLETS)
    with writing():
        clean = _free_name(name)
        places = _some(stations)
        code = "".join(secrets.choice(ALPHABET) for place in range(CODE_LENGTH))
        EnrolmentCode.objects.filter(tablet_name__iexact=clean, used_at__isnull=True, expires_at__gt=at).update(
            expires_at=at
        )
        made = EnrolmentCode.objects.create(
            code_hash=_code_hash(code), tablet_name=clean, made_by=by, made_at=at, expires_at=at + CODE_LIVES
        )
        made.stations.set(places)
    return code


def enrol(*, code: str, at: datetime) -> tuple[Tablet, str]:
    """Make the browser that brought ``code`` a tablet: the tablet, and the key that this browser keeps.

    The code is used up by whoever comes first. A wrong one is counted, and after ten within a minute none is looked at
    for a while. Raises QualityError.
    """
    with in_turn():
        refusal, tablet, key = _use_code(code, at)
        if refusal is not None and refusal.code in _WRONG_CODES:
            EnrolmentTry.objects.create(at=at)
    if refusal is not None:  # outside, so that the try stays counted
        raise refusal
    assert tablet is not None
    return tablet, key


def enrol_here(*, name: str, stations: Iterable[Station], by: Person, at: datetime) -> tuple[Tablet, str]:
    """A supervisor makes the browser they sit at a tablet.

    The same form sent twice gives the same tablet: as long as it has not shown anything yet, it gets another key.
    """
    require_right(by, Right.MANAGE_TABLETS)
    places = _some(stations)
    key = secrets.token_urlsafe(32)
    with in_turn():
        again = Tablet.objects.in_use().filter(
            name__iexact=_clean(name), enrolled_by=by, enrolled_at__gt=at - SENT_TWICE_WITHIN, last_seen_at__isnull=True
        )
        if tablet := again.first():
            tablet.key_hash = _key_hash(key)
            tablet.save(update_fields=["key_hash"])
        else:
            tablet = _add(_free_name(name), key, by, at)
        tablet.stations.set(places)
    return tablet, key


def tablet_of(key: str) -> Tablet | None:
    """The tablet that keeps ``key``, unless it was revoked."""
    return _OF_KEY.first(key_hash=_key_hash(key)) if key else None


_OF_KEY = Prepared(lambda key_hash: Tablet.objects.in_use().filter(key_hash=key_hash).order_by())
_AT_STATION = Prepared(
    lambda key_hash, code: (
        Tablet.stations.through.objects.select_related("tablet", "station")
        .filter(tablet__key_hash=key_hash, tablet__revoked_at__isnull=True, station__code=code)
        .annotate(
            idle_minutes=Subquery(Shop.objects.values("floor_idle_minutes")[:1]),
            shops_language=Subquery(Shop.objects.values("language")[:1]),
        )
        .order_by()
    )
)


@dataclass(frozen=True, slots=True)
class TabletAt:
    """A tablet of the shop at one of its stations, how long a worker there may be idle, and what language the shop speaks."""

    tablet: Tablet
    station: Station
    idle: timedelta
    shops_language: str


def tablet_at(key: str, code: str) -> TabletAt | None:
    """The tablet that keeps ``key`` and the station of this code, if it belongs to it: what every tap asks first."""
    found: Any = _AT_STATION.first(key_hash=_key_hash(key), code=code)
    if found is None:
        return None
    minutes = Shop.current().floor_idle_minutes if found.idle_minutes is None else found.idle_minutes
    return TabletAt(found.tablet, found.station, timedelta(minutes=minutes), found.shops_language or "")


def is_revoked(key: str) -> bool:
    """Whether this was the key of a tablet: what its browser still keeps is not its own any more."""
    return Tablet.objects.filter(key_hash=_key_hash(key), revoked_at__isnull=False).exists()


def seen(*, tablet: Tablet, at: datetime) -> None:
    """Note that a tablet asked for something; written at most once a minute."""
    due = at - SEEN_EVERY
    if tablet.last_seen_at is not None and tablet.last_seen_at > due:
        return
    with writing():
        never_or_long_ago = Q(last_seen_at__isnull=True) | Q(last_seen_at__lte=due)
        Tablet.objects.filter(never_or_long_ago, pk=tablet.pk).update(last_seen_at=at)


def revoke(*, tablet: Tablet, by: Person, at: datetime) -> None:
    """From its next request on, this browser shows nothing of the floor. Who revoked it first is kept."""
    require_right(by, Right.MANAGE_TABLETS)
    with writing():
        Tablet.objects.in_use().filter(pk=tablet.pk).update(revoked_at=at, revoked_by=by)
    tablet.refresh_from_db()


def change_tablet(*, tablet: Tablet, name: str, stations: Iterable[Station], by: Person) -> None:
    """Another name or other stations; what was signed keeps the name that the tablet had then."""
    require_right(by, Right.MANAGE_TABLETS)
    places = _some(stations)
    with in_turn():
        if not Tablet.objects.in_use().filter(pk=tablet.pk).exists():
            raise QualityError(
                "revoked", _("{tablet} is revoked. To use it again, add it as a new tablet.").format(tablet=tablet.name)
            )
        clean = _free_name(name, besides=tablet)
        Tablet.objects.filter(pk=tablet.pk).update(name=clean)
        tablet.stations.set(places)
    tablet.refresh_from_db()


def unlock_tablet(*, tablet: Tablet, by: Person) -> None:
    """Forget the wrong PINs entered at a tablet."""
    require_right(by, Right.MANAGE_TABLETS)
    with writing():
        Tablet.objects.filter(pk=tablet.pk).update(failed_pins=0, locked_until=None)
    tablet.refresh_from_db()


def next_name() -> str:
    """A name for whoever has none in mind: the first of Tablet 1, Tablet 2, … that no tablet in use has."""
    taken = {name.casefold() for name in Tablet.objects.in_use().values_list("name", flat=True)}
    number = next(n for n in range(1, len(taken) + 2) if f"tablet {n}" not in taken)
    return f"Tablet {number}"


def as_shown(code: str) -> str:
    """A code as people read it: two groups of four."""
    return f"{code[:4]} {code[4:]}"


def _use_code(typed: str, at: datetime) -> tuple[QualityError | None, Tablet | None, str]:
    """Why the code does not work, or the tablet that it made and its key. Only ``in_turn``: codes are rare, and counting
    tries side by side would count too few.
    """
    EnrolmentTry.objects.filter(at__lte=at - TRIES_WITHIN).delete()
    if EnrolmentTry.objects.count() >= TRIES:
        return QualityError("slow_down", _(_TOO_MANY)), None, ""
    clean = "".join(typed.upper().replace("-", " ").split())
    code = EnrolmentCode.objects.select_related("made_by").filter(code_hash=_code_hash(clean)).first()
    if code is None:
        return QualityError("no_code", _(_NO_CODE)), None, ""
    if code.used_at is not None:
        return QualityError("used", _(_USED)), None, ""
    if code.expires_at <= at or not has_right(code.made_by, Right.MANAGE_TABLETS):
        return QualityError("expired", _(_EXPIRED)), None, ""
    key = secrets.token_urlsafe(32)
    try:
        tablet = _add(_free_name(code.tablet_name), key, code.made_by, at)
    except QualityError as taken:
        return taken, None, ""
    tablet.stations.set(code.stations.all())
    code.used_at = at
    code.save(update_fields=["used_at"])
    return None, tablet, key


def _add(name: str, key: str, by: Person, at: datetime) -> Tablet:
    try:
        with writing():
            return Tablet.objects.create(name=name, key_hash=_key_hash(key), enrolled_at=at, enrolled_by=by)
    except IntegrityError as error:
        raise _name_taken(name) from error


def _free_name(name: str, *, besides: Tablet | None = None) -> str:
    clean = _clean(name)
    if not clean or len(clean) > LONGEST_NAME:
        raise QualityError(
            "bad_name",
            _("Give the tablet a name of at most {longest_name} letters, as on its back.").format(
                longest_name=LONGEST_NAME
            ),
        )
    taken = Tablet.objects.in_use().filter(name__iexact=clean).first()
    if taken is not None and taken != besides:
        raise _name_taken(clean)
    return clean


def _clean(name: str) -> str:
    return " ".join(name.split())


def _name_taken(name: str) -> QualityError:
    return QualityError(
        "name_taken",
        _("A tablet in use is called “{name}” already. Choose another name, or revoke it.").format(name=name),
    )


def _some(stations: Iterable[Station]) -> list[Station]:
    places = list(stations)
    if not places:
        raise QualityError("no_station", _("Tick at least one station; a tablet shows only those."))
    return places


def _key_hash(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def _code_hash(code: str) -> str:
    """Codes are short: a plain hash could be undone by trying them all, one made with the shop's secret cannot."""
    return salted_hmac("quality.enrolment", code, algorithm="sha256").hexdigest()
