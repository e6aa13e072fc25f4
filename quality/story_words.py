"""What a record of a drum says, in words for its story, in the language that is spoken."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quality.materials import LOT_FOR, LOT_OF
from routing.languages import moment, numeral
from routing.models import RecordKind, ShellRecord


def late_words(record: ShellRecord) -> str:
    """“signed on paper 2026-11-24 10:05, entered 2026-11-25 07:10 by Ada”; nothing for what was signed at a tablet."""
    late = record.body.get("late")
    if not late:
        return ""
    paper, entered = (moment(datetime.fromisoformat(late[name])) for name in ("on_paper_at", "entered_at"))
    if late["entered_by_id"] == record.person_id:
        said = _("signed on paper {paper}, entered {entered} by {name}, their own signature")
    else:
        said = _("signed on paper {paper}, entered {entered} by {name}")
    return said.format(paper=paper, entered=entered, name=late["entered_by"])


def title_of(record: ShellRecord) -> str:
    step = record.operation.title if record.operation else ""
    kind = _kind(record)
    return f"{step}: {kind}" if step else kind[:1].upper() + kind[1:]


def _kind(record: ShellRecord) -> str:
    if record.body.get("allowed_by"):
        return _("used as it is, under a concession")
    if record.kind == RecordKind.REISSUED and "to" in record.body:
        return _("regraded")
    return _(record.get_kind_display())


def material_words(label: str) -> str:
    """What a material was used as; the record has it in English, the name in it is the shop's own."""
    if (said := _(label)) != label:
        return said
    for form in (LOT_OF, LOT_FOR):
        before = form.partition("{")[0]
        if label.startswith(before):
            return _(form).format(name=label.removeprefix(before))
    return label


def detail_of(record: ShellRecord) -> str:
    words = _IN_WORDS.get(record.kind)
    return words(record.kind, record.body) if words else _of_its_way(record)


def _of_its_way(record: ShellRecord) -> str:
    """What happened to the shell itself, from its release on."""
    body = record.body
    match record.kind:
        case RecordKind.RELEASED:
            return _released(body)
        case RecordKind.REISSUED if "to" in body:
            said = _("{before} becomes {after}: {why}. Spec revision {revision}")
            return said.format(before=body["from"], after=body["to"], why=body["settlement"], revision=body["revision"])
        case RecordKind.REISSUED:
            return _("Spec revision {revision}: {reason}").format(revision=body["revision"], reason=body["reason"])
        case RecordKind.PRINTED | RecordKind.CARD:
            return _("Copy {copy}, spec revision {revision}").format(copy=body["copy"], revision=body["revision"])
        case RecordKind.SIGNED:
            return str(body.get("note", ""))
        case RecordKind.WITHDRAWN:
            taken_back = _("Signature of {name} taken back").format(name=body["signed_by"])
            return ": ".join(filter(None, [taken_back, body.get("reason")]))
        case RecordKind.HELD | RecordKind.FOUND:
            return f"{body.get('defect') or ''} {body.get('text', '')}".strip()
        case RecordKind.RESUMED if body.get("allowed_by"):
            said = _("Allowed by {name}: {why}")
            return said.format(name=body["allowed_by"], why=body.get("settlement", ""))
        case RecordKind.RESUMED:
            return str(body.get("settlement", ""))
        case RecordKind.REWORK:
            return _sent_back(body)
        case RecordKind.SCRAPPED:
            said = _("{why}. {serial} is made in its place")
            return said.format(why=body["settlement"], serial=body["replaced_by"])
        case _:
            return str(body.get("reason", ""))


def _released(body: dict[str, Any]) -> str:
    said = _("Order {order}, {drum}, spec revision {revision}, route {route}").format(
        order=body["order"], drum=body["drum"], revision=body["revision"], route=body["route"]
    )
    instead = _("in place of {serial}").format(serial=body["replaces"]) if body.get("replaces") else ""
    return ", ".join(filter(None, [said, instead]))


def _asked(kind: str, body: dict[str, Any]) -> str:
    """What a customer asked, and what was done about it."""
    parts = ", ".join(f"{part['quantity']} × {part['part']}" for part in body.get("parts", []))
    number = body["request"]
    if kind == RecordKind.PICKED:
        return f"{number}: {parts}"
    if kind == RecordKind.ANSWERED:
        return _answered(number, parts, body)
    if "opened_again" in body:
        again = _("{number} was {state} and is opened again: {reason}").format(
            number=number, state=_(body["was"]), reason=body["opened_again"]
        )
        return again + _back(body.get("shelved"))
    if "companion_order" in body:
        said = _("{number}: {drum} is drafted as order {order}")
        return said.format(number=number, drum=body["companion"], order=body["companion_order"])
    if "forgotten" in body:
        return _("{number}: who asked, and where it went, is forgotten").format(number=number)
    if body.get("changed"):
        if "parts" not in body:
            return _("{number}: who asks, or where it goes, was changed").format(number=number)
        return _("{number}, to send: {parts}").format(number=number, parts=parts or _("nothing"))
    asked = f"{number}, {_(body['about'])}: {body['said']}"
    return asked + (". " + _("To send: {parts}").format(parts=parts) if parts else "")


def _answered(number: str, parts: str, body: dict[str, Any]) -> str:
    said = ". ".join(filter(None, [parts, body["answer"]]))
    cause = f"{body['cause']} {body['cause_name']}" if body["cause"] else ""
    place = body["caused_at"] or ""
    if place and not body.get("caused_at_id"):
        place = _(place)  # no station of the shop: “outside the shop”
    why = ", ".join(filter(None, [cause, _("from {place}").format(place=place) if place else ""]))
    reason = ". " + _("Why: {why}").format(why=why) if why else ""
    return f"{number}, {_(body['state'])}: {said}{reason}{_back(body.get('shelved'))}"


def _in_carton(kind: str, body: dict[str, Any]) -> str:
    carton = _("Carton {carton} of {of} of order {order}").format(
        carton=body["carton"], of=body["of"], order=body["order"]
    )
    if kind == RecordKind.UNCARTONED:
        return f"{carton}: {body['reason']}"
    others = len(body["with"]) - 1
    if others:
        beside = ngettext("with {others} other drum", "with {others} other drums", others).format(others=others)
    else:
        beside = _("by itself")
    bags = _("bags {names}").format(names=", ".join(body["bags"])) if body["bags"] else ""
    weight = ""
    if body["weighed_g"]:
        weight = _("weighed {mass} kg").format(mass=numeral(body["weighed_g"] / 1000, ".2f"))
    return "; ".join(filter(None, [", ".join(filter(None, [carton, beside, bags])), weight]))


def _bagged(kind: str, body: dict[str, Any]) -> str:
    bag = _("Bag “{name}”").format(name=body["bag"]) if body["bag"] else _("Loose parts")
    if body["attempt"] > 1:
        bag += ", " + _("attempt {number}").format(number=body["attempt"])
    if kind == RecordKind.BAGGED:
        parts = ", ".join(f"{line['quantity']} {line['name']}" for line in body["contents"])
        said = _("{bag}, by the parts list of revision {revision}: {parts}")
        return said.format(bag=bag, revision=body["revision"], parts=parts)
    if kind == RecordKind.UNBAGGED:
        return f"{bag}: {body['reason']}" + _back(body["back"])
    if body["how"] == "weight":
        mass, low, high = (numeral(body[name], ".1f") for name in ("weight_g", "low_g", "high_g"))
        return _("{bag}: {mass} g, within {low} to {high} g").format(bag=bag, mass=mass, low=low, high=high)
    return _("{bag}: every line counted").format(bag=bag)


def _back(pieces: dict[str, int] | None) -> str:
    named = ", ".join(f"{count} {name}" for name, count in (pieces or {}).items())
    return ". " + _("Back to the shelf: {parts}").format(parts=named) if named else ""


def _sent_back(body: dict[str, Any]) -> str:
    held = _("Held at {step}: {why}").format(step=body["held_at_step"], why=body["settlement"])
    void = ", ".join(body["voids_steps"])
    return held + (". " + _("Void since then: {steps}").format(steps=void) if void else "")


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
