"""Customers' requests after the sale: take one by serial number, pick what it needs, send it or answer it, open it again.

Each step adds a record to the drum's chain, also when the drum left the shop long ago. Who asks and where the parts go
stays out of the chain: that is the customer's, and it must be possible to forget it. The chain has a digest of both,
made with a salt that stands beside them: it proves them as long as they are there, and tells nothing afterwards.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import (
    CustomerRequest,
    Defect,
    Person,
    RequestCounter,
    RequestEvent,
    RequestKind,
    RequestState,
)
from quality.request_parts import Part, lines_of, pieces_of, put_back_picked, set_lines, told, what_for
from quality.request_rows import locked_request, note_event, request_of, seen_before
from quality.rights import Right, require_right
from quality.stock import take_out
from routing.errors import LostRace
from routing.history import Stamp, lock_shell, recorded_tap
from routing.languages import day
from routing.models import RecordKind, Shell, Station
from routing.shop_hours import ShopHours
from routing.turnstile import writing

NEEDS_A_CAUSE = (RequestKind.MISSING, RequestKind.DAMAGE)


def take_request(
    *,
    serial: str,
    kind: str,
    said: str,
    contact: str = "",
    ship_to: str = "",
    parts: Mapping[Part, int] | None = None,
    person: Person,
    stamp: Stamp,
) -> CustomerRequest:
    """Write down what a customer asks about a drum; it has its number and its time at once.

    ``parts`` are to be sent: by bag and name as the drum's own parts list has them.
    """
    require_right(person, Right.ANSWER_REQUESTS)
    if kind not in RequestKind.values:
        raise QualityError("kind", _("Say what it is about: choose one of the kinds."))
    words = _words(said, 500)
    if not words:
        raise QualityError("nothing_said", _("Write down what the customer says; a few words are enough."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.REQUEST):
            return request_of(earlier)
        lines = lines_of(shell, parts or {})
        request = CustomerRequest.objects.create(
            number=_next_number(timezone.localdate(stamp.received_at).year),
            shell=shell,
            kind=kind,
            said=words,
            contact=_words(contact, 120),
            ship_to=ship_to.strip()[:300],
            address_salt=_salt(),
            asked_at=stamp.at,
            due_at=due_after(stamp.at),
            taken_by=person,
            tap_key=stamp.tap_key,
        )
        set_lines(request, lines)
        note_event(
            request,
            shell,
            RecordKind.REQUEST,
            stamp,
            {
                "kind": kind,
                "about": request.get_kind_display(),
                "said": words,
                "due": _moment(request.due_at),
                "address": request.address_digest,
                "parts": told(lines),
            },
        )
    return request


def change_request(
    *,
    number: str,
    contact: str,
    ship_to: str,
    parts: Mapping[Part, int],
    seen: str | None = None,
    person: Person,
    stamp: Stamp,
) -> CustomerRequest:
    """Change who asks, where it goes and which parts are to be sent, as long as nothing is picked.

    ``seen`` is what the page showed (see ``as_seen``): LostRace when somebody changed it since.
    """
    require_right(person, Right.ANSWER_REQUESTS)
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.REQUEST, stamp):
            return request
        _require(request, RequestState.OPEN)
        lines = lines_of(shell, parts)
        before = {(line.bag_name, line.part_name): line.quantity for line in request.lines.all()}
        who_and_where = _words(contact, 120), ship_to.strip()[:300]
        if seen not in (None, as_seen(request)):
            raise _changed_since(request)
        body: dict[str, Any] = {}
        if who_and_where != (request.contact, request.ship_to):
            request.contact, request.ship_to = who_and_where
            request.address_salt = _salt()
            request.save(update_fields=["contact", "ship_to", "address_salt"])
            body["address"] = request.address_digest
        if lines != before:
            set_lines(request, lines)
            body["parts"] = told(lines)
        if body:
            what = " and ".join(f"the {each}" for each in body)
            note_event(request, shell, RecordKind.REQUEST, stamp, {"changed": True, "what": what, **body})
    return request


def pick_request(*, number: str, person: Person, stamp: Stamp) -> CustomerRequest:
    """Say that the parts of a request lie ready: whoever picked them signs for it. They leave the shelf's count, which
    may fall below zero; a customer's parts are not kept back for that.
    """
    require_right(person, Right.ANSWER_REQUESTS)
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.PICKED, stamp):
            return request
        _require(request, RequestState.OPEN)
        lines = {(line.bag_name, line.part_name): line.quantity for line in request.lines.all()}
        if not lines:
            raise QualityError(
                "no_parts", _("Choose the parts to send first; a request without parts is answered instead.")
            )
        _require_address(request)
        request.state, request.picked_by, request.picked_at = RequestState.PICKED, person, stamp.at
        request.save(update_fields=["state", "picked_by", "picked_at"])
        taken = take_out(pieces_of(request), request=request, reason=what_for(request), person=person, stamp=stamp)
        note_event(request, shell, RecordKind.PICKED, stamp, {"parts": told(lines), "taken": taken})
    return request


def send_request(
    *,
    number: str,
    answer: str = "",
    cause: Defect | None = None,
    caused_at: Station | None = None,
    from_outside: bool = False,
    person: Person,
    stamp: Stamp,
) -> CustomerRequest:
    """Say that what was picked left the house. A missing part or damage also needs to know where it came from."""
    require_right(person, Right.ANSWER_REQUESTS)
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.ANSWERED, stamp):
            return request
        _require(request, RequestState.PICKED)
        _require_address(request)
        _close(request, shell, RequestState.SENT, answer, cause, caused_at, from_outside, person, stamp)
    return request


def answer_request(
    *,
    number: str,
    answer: str,
    cause: Defect | None = None,
    caused_at: Station | None = None,
    from_outside: bool = False,
    person: Person,
    stamp: Stamp,
) -> CustomerRequest:
    """Close a request with words: nothing is sent."""
    require_right(person, Right.ANSWER_REQUESTS)
    if not answer.strip():
        raise QualityError("nothing_said", _("Write down what the customer was told; it closes the request."))
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.ANSWERED, stamp):
            return request
        _require(request, RequestState.OPEN, RequestState.PICKED)
        _close(request, shell, RequestState.ANSWERED, answer, cause, caused_at, from_outside, person, stamp)
    return request


def reopen_request(
    *, number: str, reason: str, came_back: bool = False, person: Person, stamp: Stamp
) -> CustomerRequest:
    """Open a request again. One that was closed gets a new time; one that was only picked keeps the time it has.

    Parts that were only picked go back to the shelf. Those that were sent do when they ``came_back``.
    """
    require_right(person, Right.ANSWER_REQUESTS)
    why = _words(reason, 200)
    if not why:
        raise QualityError("reason_missing", _("Say why it is opened again; it stays on the drum's record."))
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.REQUEST, stamp):
            return request
        _require(request, RequestState.PICKED, RequestState.SENT, RequestState.ANSWERED)
        was = request.state
        body: dict[str, Any] = {"opened_again": why, "was": str(was)}
        if was == RequestState.PICKED or (was == RequestState.SENT and came_back):
            body["shelved"] = put_back_picked(request, person, stamp)
        if was != RequestState.PICKED:
            request.due_at = due_after(stamp.at)
            body["due"] = _moment(request.due_at)
        request.state = RequestState.OPEN
        request.picked_by = request.picked_at = request.closed_by = request.closed_at = None
        request.save()
        note_event(request, shell, RecordKind.REQUEST, stamp, body)
    return request


def forget_customer(*, number: str, person: Person, stamp: Stamp) -> CustomerRequest:
    """Forget who asked and where it went, once a request is closed. The chain says that it was done, and by whom; its
    digests say nothing any more, for the salt goes with the rest.
    """
    require_right(person, Right.ANSWER_REQUESTS)
    with writing():
        shell, request = locked_request(number)
        if seen_before(request, shell, RecordKind.REQUEST, stamp):
            return request
        _require(request, RequestState.SENT, RequestState.ANSWERED)
        if request.contact or request.ship_to or request.address_salt:
            request.contact = request.ship_to = request.address_salt = ""
            request.save(update_fields=["contact", "ship_to", "address_salt"])
            body = {"forgotten": True, "address": request.address_digest}
            note_event(request, shell, RecordKind.REQUEST, stamp, body)
    return request


def as_seen(request: CustomerRequest) -> str:
    """Who asks, where it goes and the parts, in one short word: to tell whether they are as a page showed them."""
    lines = [f"{line.quantity} {line.bag_name}/{line.part_name}" for line in request.lines.all()]
    return hashlib.sha256("\n".join([request.address_digest, *lines]).encode()).hexdigest()[:20]


def due_after(at: datetime) -> datetime:
    """When a request should be out of the house: the same time by the clock on the next working day."""
    return ShopHours.load().one_working_day_after(at)


def _close(
    request: CustomerRequest,
    shell: Shell,
    state: RequestState,
    answer: str,
    cause: Defect | None,
    caused_at: Station | None,
    from_outside: bool,
    person: Person,
    stamp: Stamp,
) -> None:
    if request.kind in NEEDS_A_CAUSE:
        if cause is None:
            words = _("Say why: {about}, so which defect was it?")
            raise QualityError("cause_missing", words.format(about=_(request.get_kind_display())))
        if caused_at is None and not from_outside:
            raise QualityError(
                "station_missing",
                _("Say where it came from: choose the station, or that it came from outside the shop."),
            )
    if caused_at is not None and from_outside:
        raise QualityError("station_or_outside", _("It came from a station or from outside the shop; choose one."))
    shelved: dict[str, int] = {}
    if request.state == RequestState.PICKED and state == RequestState.ANSWERED:
        shelved = put_back_picked(request, person, stamp)
    request.state, request.answer = state, answer.strip()[:500]
    request.cause, request.caused_at, request.from_outside = cause, caused_at, from_outside
    request.closed_by, request.closed_at = person, stamp.at
    request.save()
    body: dict[str, Any] = {
        "answer": request.answer,
        "cause": cause.code if cause else None,
        "cause_name": cause.name if cause else None,
        "caused_at": caused_at.name if caused_at else "outside the shop" if from_outside else None,
        "caused_at_id": caused_at.pk if caused_at else None,
    }
    if shelved:
        body["shelved"] = shelved
    if state == RequestState.SENT:
        body["parts"] = told({(line.bag_name, line.part_name): line.quantity for line in request.lines.all()})
    note_event(request, shell, RecordKind.ANSWERED, stamp, body)


def _require_address(request: CustomerRequest) -> None:
    if not request.ship_to.strip():
        raise QualityError("no_address", _("Write down where the parts go first; the packer needs an address."))


def _require(request: CustomerRequest, *states: RequestState) -> None:
    if request.state in states:
        return
    words = _("{number} is {state}; nothing was changed. Look at it again.")
    if last := request.events.last():
        words = _("{number} is {state} since {time} on {day}, by {name}; nothing was changed. Look at it again.")
    state = _(request.get_state_display())
    raise LostRace("other_state", words.format(number=request.number, state=state, **_by_whom(last)))


def _changed_since(request: CustomerRequest) -> LostRace:
    words = _(
        "Somebody changed {number}, after you opened this page; your change is not saved. Compare it with what stands "
        "here now; save again to put yours in its place."
    )
    if last := request.events.last():
        words = _(
            "{name} changed {number} at {time} on {day}, after you opened this page; your change is not saved. Compare it "
            "with what stands here now; save again to put yours in its place."
        )
    return LostRace("changed_since", words.format(number=request.number, **_by_whom(last)))


def _by_whom(event: RequestEvent | None) -> dict[str, str]:
    """Who did what was done last, and when, to be filled in."""
    if event is None:
        return {}
    at = timezone.localtime(event.at)
    return {"name": event.person_name, "time": f"{at:%H:%M}", "day": day(at.date())}


def _next_number(year: int) -> str:
    """The next number of the year. Called inside the transaction."""
    RequestCounter.objects.get_or_create(year=year)
    counter = RequestCounter.objects.select_for_update().get(year=year)
    counter.last += 1
    counter.save(update_fields=["last"])
    return f"R-{year}-{counter.last:04d}"


def _salt() -> str:
    """Anew for each address: the digests of two addresses, or of one twice, have nothing in common."""
    return secrets.token_hex(16)


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()


def _words(text: str, most: int) -> str:
    return " ".join(text.split())[:most]
