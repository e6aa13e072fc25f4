"""The row of a request and its drum, locked together; whether a tap did its work before; what happened, in the chain."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from quality.models import CustomerRequest, RequestEvent
from routing.errors import LostRace
from routing.history import Stamp, add_record, lock_shell, recorded_tap
from routing.models import RecordKind, Shell, ShellRecord


def locked_request(number: str) -> tuple[Shell, CustomerRequest]:
    """The request and its drum, locked. Every change takes the drum's lock first."""
    serial = CustomerRequest.objects.values_list("shell__serial", flat=True).get(number=number)
    shell = lock_shell(serial)
    return shell, CustomerRequest.objects.select_for_update(of=("self",)).get(number=number)


def seen_before(request: CustomerRequest, shell: Shell, kind: RecordKind, stamp: Stamp) -> bool:
    """Whether this tap did its work already. Ask under the drum's lock."""
    earlier = recorded_tap(stamp.tap_key, shell, kind)
    if earlier is not None and request_of(earlier).pk != request.pk:
        raise LostRace("key_used", _("This tap was used for another request already; open the page again."))
    return earlier is not None


def request_of(record: ShellRecord) -> CustomerRequest:
    return CustomerRequest.objects.get(events__record=record)


def note_event(request: CustomerRequest, shell: Shell, kind: RecordKind, stamp: Stamp, body: dict[str, Any]) -> None:
    """Add what happened to the chain of the locked drum and to the request."""
    record = add_record(shell, kind, stamp, body={"request": request.number, "state": str(request.state), **body})
    RequestEvent.objects.create(
        request=request, record=record, state=request.state, at=stamp.at, person_name=stamp.person_name
    )
