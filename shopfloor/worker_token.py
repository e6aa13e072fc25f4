"""The worker at a tablet: a short signed cookie instead of a session, because a tap must be cheap.

It is bound to the person, the version of their PIN and the tablet. Every answer renews it, so that only idle time
and the end of the day end it; a new PIN ends it at once. Reading it costs one row.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core import signing
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from quality.models import Person
from quality.rights import Right, has_right
from routing.prepared import Prepared

COOKIE = "floor_worker"
LONGEST = timedelta(hours=12)
_SALT = "shopfloor.worker"


_PERSON = Prepared(
    lambda person, pin_version: Person.objects.filter(pk=person, pin_version=pin_version, is_active=True).order_by()
)


@dataclass(frozen=True, slots=True)
class WorkerAtTablet:
    person: Person
    since: datetime  # when the PIN was entered


def read_worker(request: HttpRequest, *, device: str, idle: timedelta, now: datetime) -> WorkerAtTablet | None:
    """Who is signed in at this tablet, or None: nobody, too long idle, a changed PIN or role, another tablet's cookie."""
    try:
        person_id, pin_version, of_device, since = signing.loads(
            request.COOKIES.get(COOKIE, ""), salt=_SALT, max_age=idle
        )
    except (signing.BadSignature, ValueError, TypeError):
        return None
    begun = datetime.fromisoformat(since)
    if of_device != device or now - begun > LONGEST:
        return None
    person = _PERSON.first(person=person_id, pin_version=pin_version)
    if person is None or not has_right(person, Right.SIGN_STEPS):
        return None
    return WorkerAtTablet(person, begun)


def keep_worker(response: HttpResponseBase, worker: WorkerAtTablet, *, device: str, secure: bool) -> None:
    """Give the cookie, or renew it: call on every answer to a signed-in worker."""
    token = signing.dumps(
        [worker.person.pk, worker.person.pin_version, device, worker.since.isoformat()], salt=_SALT, compress=False
    )
    response.set_cookie(COOKIE, token, httponly=True, samesite="Lax", secure=secure)


def forget_worker(response: HttpResponseBase) -> None:
    response.delete_cookie(COOKIE, samesite="Lax")
