"""What a record of a drum says, in words for its story."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils import timezone

from routing.models import RecordKind, ShellRecord


def late_words(record: ShellRecord) -> str:
    """“signed on paper 2026-11-24 10:05, entered 2026-11-25 07:10 by Ada”; nothing for what was signed at a tablet."""
    late = record.body.get("late")
    if not late:
        return ""
    paper, entered = (
        timezone.localtime(datetime.fromisoformat(late[name])).strftime("%Y-%m-%d %H:%M")
        for name in ("on_paper_at", "entered_at")
    )
    own = ", their own signature" if late["entered_by_id"] == record.person_id else ""
    return f"signed on paper {paper}, entered {entered} by {late['entered_by']}{own}"


def title_of(record: ShellRecord) -> str:
    step = record.operation.title if record.operation else ""
    kind = "regraded" if record.kind == RecordKind.REISSUED and "to" in record.body else record.get_kind_display()
    if record.body.get("allowed_by"):
        kind = "used as it is, under a concession"
    return f"{step}: {kind}" if step else kind[:1].upper() + kind[1:]


def detail_of(record: ShellRecord) -> str:
    words = _IN_WORDS.get(record.kind)
    return words(record.kind, record.body) if words else _of_its_way(record)


def _of_its_way(record: ShellRecord) -> str:
    """What happened to the shell itself, from its release on."""
    body = record.body
    match record.kind:
        case RecordKind.RELEASED:
            instead = f", in place of {body['replaces']}" if body.get("replaces") else ""
            return f"Order {body['order']}, {body['drum']}, spec revision {body['revision']}, route {body['route']}{instead}"
        case RecordKind.REISSUED if "to" in body:
            return f"{body['from']} becomes {body['to']}: {body['settlement']}. Spec revision {body['revision']}"
        case RecordKind.REISSUED:
            return f"Spec revision {body['revision']}: {body['reason']}"
        case RecordKind.PRINTED | RecordKind.CARD:
            return f"Copy {body['copy']}, spec revision {body['revision']}"
        case RecordKind.SIGNED:
            return str(body.get("note", ""))
        case RecordKind.WITHDRAWN:
            return ": ".join(filter(None, [f"Signature of {body['signed_by']} taken back", body.get("reason")]))
        case RecordKind.HELD | RecordKind.FOUND:
            return f"{body.get('defect') or ''} {body.get('text', '')}".strip()
        case RecordKind.RESUMED:
            allowed = f"Allowed by {body['allowed_by']}: " if body.get("allowed_by") else ""
            return f"{allowed}{body.get('settlement', '')}"
        case RecordKind.REWORK:
            return _sent_back(body)
        case RecordKind.SCRAPPED:
            return f"{body['settlement']}. {body['replaced_by']} is made in its place"
        case _:
            return str(body.get("reason", ""))


def _asked(kind: str, body: dict[str, Any]) -> str:
    """What a customer asked, and what was done about it."""
    parts = ", ".join(f"{part['quantity']} × {part['part']}" for part in body.get("parts", []))
    number = body["request"]
    if kind == RecordKind.PICKED:
        return f"{number}: {parts}"
    if kind == RecordKind.ANSWERED:
        said = ". ".join(filter(None, [parts, body["answer"]]))
        cause = f"{body['cause']} {body['cause_name']}" if body["cause"] else ""
        why = ", ".join(filter(None, [cause, f"from {body['caused_at']}" if body["caused_at"] else ""]))
        return f"{number}, {body['state']}: {said}" + (f". Why: {why}" if why else "") + _back(body.get("shelved"))
    if "opened_again" in body:
        again = f"{number} was {body['was']} and is opened again: {body['opened_again']}"
        return again + _back(body.get("shelved"))
    if "companion_order" in body:
        return f"{number}: {body['companion']} is drafted as order {body['companion_order']}"
    if "forgotten" in body:
        return f"{number}: who asked, and where it went, is forgotten"
    if body.get("changed"):
        if "parts" not in body:
            return f"{number}: who asks, or where it goes, was changed"
        return f"{number}, to send: {parts or 'nothing'}"
    return f"{number}, {body['about']}: {body['said']}" + (f". To send: {parts}" if parts else "")


def _in_carton(kind: str, body: dict[str, Any]) -> str:
    carton = f"Carton {body['carton']} of {body['of']} of order {body['order']}"
    if kind == RecordKind.UNCARTONED:
        return f"{carton}: {body['reason']}"
    others = len(body["with"]) - 1
    alone = f"with {others} other drum{'s' if others > 1 else ''}" if others else "by itself"
    bags = f", bags {', '.join(body['bags'])}" if body["bags"] else ""
    weighed = f"; weighed {body['weighed_g'] / 1000:.2f} kg" if body["weighed_g"] else ""
    return f"{carton}, {alone}{bags}{weighed}"


def _bagged(kind: str, body: dict[str, Any]) -> str:
    bag = f"Bag “{body['bag']}”" if body["bag"] else "Loose parts"
    bag += f", attempt {body['attempt']}" if body["attempt"] > 1 else ""
    if kind == RecordKind.BAGGED:
        parts = ", ".join(f"{line['quantity']} {line['name']}" for line in body["contents"])
        return f"{bag}, by the parts list of revision {body['revision']}: {parts}"
    if kind == RecordKind.UNBAGGED:
        return f"{bag}: {body['reason']}" + _back(body["back"])
    if body["how"] == "weight":
        return f"{bag}: {body['weight_g']:.1f} g, within {body['low_g']:.1f} to {body['high_g']:.1f} g"
    return f"{bag}: every line counted"


def _back(pieces: dict[str, int] | None) -> str:
    named = ", ".join(f"{count} {name}" for name, count in (pieces or {}).items())
    return f". Back to the shelf: {named}" if named else ""


def _sent_back(body: dict[str, Any]) -> str:
    void = ", ".join(body["voids_steps"])
    held = f"Held at {body['held_at_step']}: {body['settlement']}"
    return f"{held}. Void since then: {void}" if void else held


_IN_WORDS: dict[str, Callable[[str, dict[str, Any]], str]] = {
    RecordKind.REQUEST: _asked,
    RecordKind.PICKED: _asked,
    RecordKind.ANSWERED: _asked,
    RecordKind.BAGGED: _bagged,
    RecordKind.BAG_CHECK: _bagged,
    RecordKind.UNBAGGED: _bagged,
    RecordKind.CARTON: _in_carton,
    RecordKind.UNCARTONED: _in_carton,
}
