"""What the answers of the reading interface say: plain values, people by their names only."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from quality.figures import ShopYields, Span
from quality.models import SignOff
from quality.statistics import SpreadOfTimes
from quality.trace import Story, StoryEvent
from routing.models import KitOrder, Shell
from shopfloor.lists import Standing, no_longer_stands


def order_out(order: KitOrder) -> dict[str, Any]:
    lines = list(order.lines.all())
    return {
        "number": order.number,
        "customer": order.customer,
        "customer_reference": order.customer_reference,
        "due": order.due.isoformat(),
        "state": order.state,
        "note": order.note,
        "created_at": _moment(order.created_at),
        "released_at": _moment(order.released_at),
        "drums": sum(line.quantity for line in lines),
        "lines": [
            {
                "position": line.position,
                "drum_code": line.model.code,
                "drum": str(line.model),
                "finish": line.finish.name,
                "quantity": line.quantity,
                "note": line.note,
            }
            for line in lines
        ],
    }


def shell_out(shell: Shell, standing: Standing) -> dict[str, Any]:
    return {
        "serial": shell.serial,
        "order": shell.order.number,
        "due": shell.order.due.isoformat(),
        "drum_code": shell.model.code,
        "drum": str(shell.model),
        "role": shell.model.role,
        "diameter_in": shell.model.nominal_diameter_in,
        "depth_in": shell.model.nominal_depth_in,
        "finish": shell.finish.name,
        "state": shell.state,
        "spec_revision": shell.spec_revision,
        "released_at": _moment(shell.released_at),
        "replaces": shell.replaces.serial if shell.replaces else None,
        "stands": {
            "state": standing.state,
            "word": standing.word,
            "station": standing.station or None,
            "station_code": standing.station_code or None,
            "position": standing.position,
            "step": standing.step or None,
            "since": _moment(standing.since),
            "until": _moment(standing.until),
            "worked_on_by": standing.who or None,
            "held_for": standing.why or None,
        },
    }


def sign_off_out(signed: SignOff) -> dict[str, Any]:
    record = signed.record
    body = record.body
    void = no_longer_stands(signed)
    return {
        "serial": signed.operation.shell.serial,
        "order": signed.operation.shell.order.number,
        "position": signed.operation.position,
        "step": body["step"],
        "station": signed.operation.station.name,
        "station_code": body["station"],
        "attempt": signed.attempt,
        "spec_revision": body["revision"],
        "signed_by": record.person_name,
        "signed_at": _moment(record.at),
        "received_at": _moment(record.received_at),
        "entered_by": body.get("late", {}).get("entered_by"),
        "standing": not void,
        "void": void or None,
        "note": body.get("note", ""),
        "readings": [_reading(reading) for reading in body.get("readings", [])],
        "materials": [_material(entry) for entry in body.get("materials", [])],
    }


def story_out(story: Story) -> dict[str, Any]:
    return {
        "serial": story.serial,
        "drum": story.drum,
        "role": story.role,
        "diameter_in": story.nominal_diameter_in,
        "depth_in": story.nominal_depth_in,
        "finish": story.finish,
        "ordered_as": story.ordered_as or None,
        "order": story.order,
        "customer": story.customer,
        "customer_reference": story.customer_reference,
        "due": story.due.isoformat(),
        "state": story.state,
        "final_check_by": story.final_check_by,
        "final_check_at": _moment(story.final_check_at),
        "replaces": story.replaces,
        "replaced_by": story.replaced_by,
        "steps": [
            {
                "position": step.position,
                "title": step.title,
                "station": step.station,
                "state": step.state,
                "signed_by": step.signed_by or None,
                "signed_at": _moment(step.signed_at),
                "entered_by": step.entered_by or None,
            }
            for step in story.steps
        ],
        "events": [_event(event) for event in story.events],
        "revisions": [
            {
                "revision": each.revision,
                "formula_version": each.formula_version,
                "issued_at": _moment(each.issued_at),
                "reason": each.reason,
            }
            for each in story.revisions
        ],
        "concessions": [
            {
                "found": each.found,
                "why": each.why,
                "allowed_by": each.allowed_by,
                "decided_by": each.decided_by,
                "decided_at": _moment(each.decided_at),
            }
            for each in story.concessions
        ],
    }


def figures_out(span: Span, found: ShopYields) -> dict[str, Any]:
    return {
        "from": _day(span.first),
        "to": _day(span.last),
        "stations": [
            {
                "station": each.station.name,
                "station_code": each.station.code,
                "shells": each.shells,
                "passed_first": each.passed_first,
                "first_pass_yield": each.first_pass,
            }
            for each in found.stations
        ],
        "finishes": [
            {
                "finish": each.finish,
                "rolled_throughput_yield": each.rolled,
                "stations_without_a_shell": list(each.missing),
            }
            for each in found.rolled
        ],
        "processed": found.processed,
        "reworked": found.reworked,
        "rework_ratio": found.rework,
        "packed": found.packed,
        "scrapped": found.scrapped,
        "scrap_ratio": found.scrap,
        "lead_days": _times(found.lead_days),
        "touch_hours": _times(found.touch_hours),
        "touch_share": found.touch_share,
    }


def _event(event: StoryEvent) -> dict[str, Any]:
    return {
        "sequence": event.sequence,
        "kind": event.kind,
        "title": event.title,
        "at": _moment(event.at),
        "received_at": _moment(event.received_at),
        "person": event.person,
        "entered_by": event.entered_by or None,
        "detail": event.detail,
        "standing": event.standing,
        "void": event.void or None,
        "readings": [
            {
                "text": reading.text,
                "value": reading.value,
                "shown": reading.shown,
                "unit": reading.unit,
                "low": reading.low,
                "high": reading.high,
                "passed": reading.passed,
            }
            for reading in event.readings
        ],
        "materials": [{"for": used.what, "code": used.code, "name": used.name} for used in event.materials],
    }


def _reading(reading: dict[str, Any]) -> dict[str, Any]:
    return {
        "check": reading["check"],
        "text": reading["text"],
        "value": reading["value"],
        "values": reading.get("values"),
        "unit": reading["unit"],
        "low": reading["low"],
        "high": reading["high"],
        "passed": reading["passed"],
    }


def _material(entry: dict[str, Any]) -> dict[str, Any]:
    return {"for": entry["for"], "code": entry["code"], "name": entry["name"]}


def _times(times: SpreadOfTimes | None) -> dict[str, Any] | None:
    if times is None:
        return None
    return {
        "count": times.count,
        "shortest": times.shortest,
        "quarter": times.quarter,
        "median": times.median,
        "three_quarters": times.three_quarters,
        "longest": times.longest,
    }


def _day(day: date) -> str:
    return day.isoformat()


def _moment(moment: datetime | None) -> str | None:
    """RFC 3339, as ISO 8601 is used on the web."""
    return moment.isoformat() if moment else None
