"""Customers' requests held against what the chain of their drum says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from quality.models import CustomerRequest
from routing.history import BrokenRecord
from routing.models import KitOrder, RecordKind, Shell, ShellRecord

_KINDS = [RecordKind.REQUEST, RecordKind.PICKED, RecordKind.ANSWERED]


def requests(shell: Shell) -> Iterator[BrokenRecord]:
    """Requests that are not what the records of taking, changing, picking and closing them add up to."""
    told: dict[str, list[ShellRecord]] = {}
    for record in ShellRecord.objects.filter(shell=shell, kind__in=_KINDS).order_by("sequence"):
        told.setdefault(record.body["request"], []).append(record)
    kept = {
        request.number: request
        for request in CustomerRequest.objects.filter(shell=shell)
        .select_related("cause")
        .prefetch_related("lines", "events")
        .order_by("pk")
    }
    for number, records in told.items():
        request = kept.pop(number, None)
        if request is None:
            yield BrokenRecord(shell.serial, records[0].sequence, f"the request {number} it tells of is missing")
            continue
        said = _said_by(request)
        wrong = [name for name, value in _adds_up_to(records).items() if said[name] != value]
        if not _as_happened(request, records):
            wrong.append("what was done")
        if wrong:
            what = f"request {number} says something else than its records: {', '.join(wrong)}"
            yield BrokenRecord(shell.serial, records[-1].sequence, what)
    for number in kept:
        yield BrokenRecord(shell.serial, 0, f"request {number} has no record")


def _said_by(request: CustomerRequest) -> dict[str, Any]:
    """What a request says of itself, by the names that a broken record is told with."""
    cause = request.cause.code if request.cause else None
    return {
        "state": request.state,
        "kind": request.kind,
        "what the customer says": request.said,
        "who took it": request.taken_by_id,
        "when it was taken": request.asked_at,
        "when it is due": request.due_at,
        "who asks or where it goes": request.address_digest,
        "parts": [(line.bag_name, line.part_name, line.quantity) for line in request.lines.all()],
        "who picked it": request.picked_by_id,
        "when it was picked": request.picked_at,
        "who closed it": request.closed_by_id,
        "when it was closed": request.closed_at,
        "answer": request.answer,
        "cause": cause,
        "where it came from": (request.caused_at_id, request.from_outside),
        "companion": request.companion_order_id,
    }


def _adds_up_to(records: Sequence[ShellRecord]) -> dict[str, Any]:
    """What the records say together, the last word of each. What none of them tells is not there."""
    told: dict[str, Any] = {
        **dict.fromkeys(["who picked it", "when it was picked", "who closed it", "when it was closed", "cause"]),
        "answer": "",
        "where it came from": (None, False),
        "companion": None,
    }
    for record in records:
        body = record.body
        told["state"] = body["state"]
        if record.kind == RecordKind.PICKED:
            told["who picked it"], told["when it was picked"] = record.person_id, record.at
        elif record.kind == RecordKind.ANSWERED:
            told |= {
                "who closed it": record.person_id,
                "when it was closed": record.at,
                "answer": body["answer"],
                "cause": body["cause"],
            }
            if "caused_at_id" in body:
                outside = body["caused_at_id"] is None and body["caused_at"] is not None
                told["where it came from"] = (body["caused_at_id"], outside)
            else:
                told.pop("where it came from", None)
        elif "opened_again" in body:
            told |= dict.fromkeys(["who picked it", "when it was picked", "who closed it", "when it was closed"])
        elif "about" in body:
            told |= {"what the customer says": body["said"], "who took it": record.person_id}
            told["when it was taken"] = record.at
        if "kind" in body:
            told["kind"] = body["kind"]
        if "due" in body:
            told["when it is due"] = datetime.fromisoformat(body["due"])
        if "address" in body:
            told["who asks or where it goes"] = body["address"]
        if "parts" in body:
            told["parts"] = [(part["bag"], part["part"], part["quantity"]) for part in body["parts"]]
        if "companion_order" in body:
            told["companion"] = _draft_there_is(body)
    return told


def _draft_there_is(body: dict[str, Any]) -> int | None:
    """The order that a companion was drafted as; a draft may be deleted, and then the request has none."""
    by = {"pk": body["companion_order_id"]} if "companion_order_id" in body else {"number": body["companion_order"]}
    return KitOrder.objects.filter(**by).values_list("pk", flat=True).first()


def _as_happened(request: CustomerRequest, records: Sequence[ShellRecord]) -> bool:
    events = [(event.record_id, event.state, event.at, event.person_name) for event in request.events.all()]
    told = [(record.pk, record.body["state"], record.at, record.person_name) for record in records]
    return sorted(events) == sorted(told)
