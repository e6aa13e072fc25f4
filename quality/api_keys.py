"""Keys with which the shop's own scripts read the record, and addresses under which a calendar shows the due dates.

A key only ever reads. It belongs to the shop, not to whoever made it: it works until somebody revokes it.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import ApiKey, KeyOpens, Person
from quality.rights import Right, require_right
from routing.turnstile import in_turn, writing

LONGEST_NAME = 60
SHOWN = 6  # characters of 43: what is left has more than 200 bits
SENT_TWICE_WITHIN = timedelta(minutes=1)
USED_EVERY = timedelta(days=1)


def make_key(*, name: str, opens: KeyOpens, by: Person, at: datetime) -> tuple[ApiKey, str]:
    """A key and its secret, which is kept nowhere.

    The same form sent twice gives one key: as long as nothing has used it, it gets another secret, and the last one
    shown is the one that works.
    """
    require_right(by, Right.MANAGE_API_KEYS)
    secret = secrets.token_urlsafe(32)
    with in_turn():
        clean = _clean(name)
        again = ApiKey.objects.filter(
            name__iexact=clean,
            opens=opens,
            created_by=by,
            created_at__gt=at - SENT_TWICE_WITHIN,
            last_used_at__isnull=True,
            revoked_at__isnull=True,
        ).first()
        key = again or ApiKey(name=_free_name(clean), opens=opens, created_by=by, created_at=at)
        key.key_hash = _hash(secret)
        key.begins = secret[:SHOWN]
        key.save()
    return key, secret


def rename_key(*, key: ApiKey, name: str, by: Person) -> None:
    """Another name for the same key; what uses it goes on."""
    require_right(by, Right.MANAGE_API_KEYS)
    with in_turn():
        ApiKey.objects.filter(pk=key.pk).update(name=_free_name(_clean(name), besides=key))
    key.refresh_from_db()


def revoke_key(*, key: ApiKey, by: Person, at: datetime) -> None:
    """From its next request on it opens nothing. Who revoked it first is kept."""
    require_right(by, Right.MANAGE_API_KEYS)
    with writing():
        ApiKey.objects.filter(pk=key.pk, revoked_at__isnull=True).update(revoked_at=at, revoked_by=by)
    key.refresh_from_db()


def key_of(secret: str, opens: KeyOpens) -> ApiKey | None:
    """The key with this secret, unless it was revoked or opens something else."""
    if not secret:
        return None
    return ApiKey.objects.filter(key_hash=_hash(secret), opens=opens, revoked_at__isnull=True).first()


def used(*, key: ApiKey, at: datetime) -> None:
    """Note that a key was used; written once a day, so that reading does not wait for writers."""
    due = at - USED_EVERY
    if key.last_used_at is not None and key.last_used_at > due:
        return
    with writing():
        never_or_long_ago = Q(last_used_at__isnull=True) | Q(last_used_at__lte=due)
        ApiKey.objects.filter(never_or_long_ago, pk=key.pk).update(last_used_at=at)


def _free_name(clean: str, *, besides: ApiKey | None = None) -> str:
    if not clean or len(clean) > LONGEST_NAME:
        raise QualityError(
            "bad_name",
            _("Say in at most {most} letters what the key is for, such as “label printer”.").format(most=LONGEST_NAME),
        )
    taken = ApiKey.objects.filter(name__iexact=clean).first()
    if taken is not None and taken != besides:
        if taken.revoked_at:
            said = _("A revoked key is called “{name}” already. Choose another name.")
        else:
            said = _("A key is called “{name}” already. Choose another name.")
        raise QualityError("name_taken", said.format(name=taken.name))
    return clean


def _clean(name: str) -> str:
    return " ".join(name.split())


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
