"""Who, where and when, taken from a request."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils import timezone

from quality.models import Person
from routing.history import Stamp

OFFICE_DEVICE = "office"


def office_stamp(request: HttpRequest, person: Person) -> Stamp:
    """The stamp of something done on an office screen. A form that carries ``tap_key`` may arrive twice."""
    now = timezone.now()
    return Stamp(
        person_id=person.pk,
        person_name=person.name,
        at=now,
        received_at=now,
        device=OFFICE_DEVICE,
        tap_key=request.POST.get("tap_key", "")[:64] or None,
    )
