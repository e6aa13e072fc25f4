"""The reading interface described for programs: OpenAPI 3.1. Tests hold every real answer against it."""

from __future__ import annotations

from typing import Any

from routing.models import OrderState, RecordKind, ShellState
from routing.models.recipes import ROLE_CHOICES
from shopfloor.api.answers import LONGEST_DAYS, MOST_ROWS, USUAL_ROWS

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
TEXT_OR_NONE: Schema = {"type": ["string", "null"]}
NUMBER: Schema = {"type": "number"}
NUMBER_OR_NONE: Schema = {"type": ["number", "null"]}
COUNT: Schema = {"type": "integer", "minimum": 0}
FROM_ONE: Schema = {"type": "integer", "minimum": 1}
SHARE: Schema = {"type": ["number", "null"], "minimum": 0, "maximum": 1}
YES_NO: Schema = {"type": "boolean"}
DAY: Schema = {"type": "string", "format": "date"}
MOMENT: Schema = {"type": "string", "format": "date-time"}
MOMENT_OR_NONE: Schema = {"type": ["string", "null"], "format": "date-time"}


def document() -> Schema:
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "The shop's record, to read",
            "version": "1",
            "description": "Orders, shells, signatures and figures as JSON. Every question is a GET and brings a key; "
            "nothing can be changed here. Days are by the shop's clock; moments carry their offset (RFC 3339). "
            "Lengths ending in _in are inches. An answer carries an ETag: sent back as If-None-Match, "
            "304 says that nothing has changed.",
        },
        "servers": [{"url": "/api/v1"}],
        "security": [{"key": []}],
        "paths": _paths(),
        "components": {
            "securitySchemes": {
                "key": {"type": "http", "scheme": "bearer", "description": "Made by an administrator under Keys."}
            },
            "schemas": _schemas(),
            "responses": {code: _refusal(about) for code, about in _REFUSALS.items()},
        },
    }


_REFUSALS = {
    "NoKey": "No key was sent, or one that opens nothing here.",
    "NotFound": "There is nothing at this address.",
    "OnlyReading": "Something else than GET or HEAD was sent.",
    "BadParameter": "A parameter is not known or can't be read; the sentence says what to send.",
}
_STATUS = {"401": "NoKey", "404": "NotFound", "405": "OnlyReading", "422": "BadParameter"}


def _paths() -> Schema:
    size = {"type": "integer", "minimum": 1, "maximum": MOST_ROWS, "default": USUAL_ROWS}
    paged = [
        _query("limit", size, "How many rows at most."),
        _query("cursor", TEXT, "next_cursor of the answer before; without it, from the beginning."),
    ]
    span = [
        _query("from", DAY, "First day.", needed=True),
        _query("to", DAY, f"Last day, counted in; at most {LONGEST_DAYS} days after the first.", needed=True),
    ]
    return {
        "/orders": _get(
            "orders",
            "Orders, in the order in which they were entered.",
            "OrderPage",
            [
                _query("state", {"type": "string", "enum": list(OrderState.values)}, "Only orders in this state."),
                _query("due_from", DAY, "Only orders due on this day or later."),
                _query("due_to", DAY, "Only orders due on this day or earlier."),
                *paged,
            ],
        ),
        "/orders/{number}": _get(
            "order", "One order with its shells.", "OrderWithShells", [_path("number", "The order's number.")]
        ),
        "/shells": _get(
            "shells",
            "Shells with where they stand, in the order in which they were released.",
            "ShellPage",
            [
                _query("order", TEXT, "Only shells of the order with this number."),
                _query("state", {"type": "string", "enum": list(ShellState.values)}, "Only shells in this state."),
                *paged,
            ],
        ),
        "/shells/{serial}": _get(
            "shell", "One shell and where it stands.", "Shell", [_path("serial", "The serial number.")]
        ),
        "/shells/{serial}/story": _get(
            "story",
            "Everything that happened to one shell: steps, signatures with their readings, problems, decisions.",
            "Story",
            [_path("serial", "The serial number.")],
        ),
        "/sign-offs": _get(
            "sign_offs",
            "Signatures with their readings by the time of the work, also those that no longer stand.",
            "SignOffPage",
            [*span, *paged],
        ),
        "/figures": _get("figures", "Yields, ratios and times of some days.", "Figures", span),
        "/openapi.json": {
            "get": {
                "operationId": "openapi",
                "summary": "This document; it needs no key.",
                "security": [],
                "responses": {
                    "200": {
                        "description": "An OpenAPI 3.1 document.",
                        "content": {"application/json": {"schema": {"type": "object"}}},
                    }
                },
            }
        },
    }


def _schemas() -> Schema:
    reading = {
        "text": TEXT,
        "value": {**NUMBER_OR_NONE, "description": "What was judged; null for yes or no."},
        "unit": TEXT,
        "low": NUMBER_OR_NONE,
        "high": NUMBER_OR_NONE,
        "passed": YES_NO,
    }
    order = {
        "number": TEXT,
        "customer": TEXT,
        "customer_reference": TEXT,
        "due": DAY,
        "state": {"type": "string", "enum": list(OrderState.values)},
        "note": TEXT,
        "created_at": MOMENT,
        "released_at": MOMENT_OR_NONE,
        "drums": COUNT,
        "lines": _list("OrderLine"),
    }
    return {
        "Error": _object({"error": _object({"code": TEXT, "sentence": TEXT})}),
        "OrderPage": _page("orders", "Order"),
        "Order": _object(order),
        "OrderWithShells": _object({**order, "shells": _list("Shell")}),
        "OrderLine": _object(
            {
                "position": FROM_ONE,
                "drum_code": TEXT,
                "drum": TEXT,
                "finish": TEXT,
                "quantity": FROM_ONE,
                "note": TEXT,
            }
        ),
        "ShellPage": _page("shells", "Shell"),
        "Shell": _object(
            {
                "serial": TEXT,
                "order": TEXT,
                "due": DAY,
                "drum_code": TEXT,
                "drum": TEXT,
                "role": {"type": "string", "enum": [value for value, _ in ROLE_CHOICES]},
                "diameter_in": NUMBER,
                "depth_in": NUMBER,
                "finish": TEXT,
                "state": {"type": "string", "enum": list(ShellState.values)},
                "spec_revision": FROM_ONE,
                "released_at": MOMENT,
                "replaces": {**TEXT_OR_NONE, "description": "Serial of the scrapped shell in whose place it stands."},
                "stands": _ref("Standing"),
            }
        ),
        "Standing": _object(
            {
                "state": {
                    "type": "string",
                    "enum": ["ready", "in_work", "on_hold", "resting", "done"],
                    "description": "resting: it cures, dries or rests before its next step; done: no step is left.",
                },
                "word": {**TEXT, "description": "The same as the board says it: “curing”, “in work”."},
                "station": TEXT_OR_NONE,
                "station_code": TEXT_OR_NONE,
                "position": {"type": ["integer", "null"], "minimum": 1},
                "step": TEXT_OR_NONE,
                "since": MOMENT_OR_NONE,
                "until": {**MOMENT_OR_NONE, "description": "When a resting shell may go on."},
                "worked_on_by": TEXT_OR_NONE,
                "held_for": TEXT_OR_NONE,
            }
        ),
        "SignOffPage": _page("sign_offs", "SignOff"),
        "SignOff": _object(
            {
                "serial": TEXT,
                "order": TEXT,
                "position": FROM_ONE,
                "step": TEXT,
                "station": TEXT,
                "station_code": TEXT,
                "attempt": FROM_ONE,
                "spec_revision": FROM_ONE,
                "signed_by": TEXT,
                "signed_at": MOMENT,
                "received_at": MOMENT,
                "entered_by": {**TEXT_OR_NONE, "description": "Who entered it later from paper."},
                "standing": YES_NO,
                "void": {**TEXT_OR_NONE, "description": "Why it no longer stands."},
                "note": TEXT,
                "readings": {
                    "type": "array",
                    "items": _object(
                        {
                            "check": TEXT,
                            **reading,
                            "values": {
                                "type": ["array", "null"],
                                "items": NUMBER,
                                "description": "All readings where there are several.",
                            },
                        }
                    ),
                },
                "materials": _list("Material"),
            }
        ),
        "Material": _object({"for": TEXT, "code": TEXT, "name": TEXT}),
        "Story": _story(reading),
        "Figures": _figures(),
        "Times": _object(
            {
                "count": COUNT,
                "shortest": NUMBER,
                "quarter": NUMBER,
                "median": NUMBER,
                "three_quarters": NUMBER,
                "longest": NUMBER,
            }
        ),
    }


def _story(reading: Schema) -> Schema:
    step = {
        "position": FROM_ONE,
        "title": TEXT,
        "station": TEXT,
        "state": TEXT,
        "signed_by": TEXT_OR_NONE,
        "signed_at": MOMENT_OR_NONE,
        "entered_by": TEXT_OR_NONE,
    }
    event = {
        "sequence": FROM_ONE,
        "kind": {"type": "string", "enum": list(RecordKind.values)},
        "title": TEXT,
        "at": MOMENT,
        "received_at": MOMENT,
        "person": TEXT,
        "entered_by": TEXT_OR_NONE,
        "detail": TEXT,
        "standing": YES_NO,
        "void": TEXT_OR_NONE,
        "readings": {"type": "array", "items": _object({**reading, "shown": TEXT})},
        "materials": _list("Material"),
    }
    return _object(
        {
            "serial": TEXT,
            "drum": TEXT,
            "role": TEXT,
            "diameter_in": NUMBER,
            "depth_in": NUMBER,
            "finish": TEXT,
            "ordered_as": {**TEXT_OR_NONE, "description": "What the order asked for, of a drum that became another."},
            "order": TEXT,
            "customer": TEXT,
            "customer_reference": TEXT,
            "due": DAY,
            "state": TEXT,
            "final_check_by": TEXT_OR_NONE,
            "final_check_at": MOMENT_OR_NONE,
            "replaces": TEXT_OR_NONE,
            "replaced_by": TEXT_OR_NONE,
            "steps": {"type": "array", "items": _object(step)},
            "events": {"type": "array", "items": _object(event)},
            "revisions": {
                "type": "array",
                "items": _object({"revision": FROM_ONE, "formula_version": TEXT, "issued_at": MOMENT, "reason": TEXT}),
            },
            "concessions": {
                "type": "array",
                "items": _object(
                    {"found": TEXT, "why": TEXT, "allowed_by": TEXT, "decided_by": TEXT, "decided_at": MOMENT}
                ),
            },
        }
    )


def _figures() -> Schema:
    station = {
        "station": TEXT,
        "station_code": TEXT,
        "shells": COUNT,
        "passed_first": COUNT,
        "first_pass_yield": SHARE,
    }
    finish = {
        "finish": TEXT,
        "rolled_throughput_yield": SHARE,
        "stations_without_a_shell": {"type": "array", "items": TEXT},
    }
    times = {"oneOf": [_ref("Times"), {"type": "null"}]}
    return _object(
        {
            "from": DAY,
            "to": DAY,
            "stations": {"type": "array", "items": _object(station)},
            "finishes": {"type": "array", "items": _object(finish)},
            "processed": {**COUNT, "description": "Shells on which something was signed."},
            "reworked": COUNT,
            "rework_ratio": SHARE,
            "packed": COUNT,
            "scrapped": COUNT,
            "scrap_ratio": SHARE,
            "lead_days": {**times, "description": "From release to the signature under packing."},
            "touch_hours": {**times, "description": "Of packed drums where it is known."},
            "touch_share": SHARE,
        }
    )


def _get(name: str, summary: str, schema: str, parameters: list[Schema]) -> Schema:
    return {
        "get": {
            "operationId": name,
            "summary": summary,
            "parameters": parameters,
            "responses": {
                "200": {
                    "description": "What was asked for.",
                    "headers": {"ETag": {"schema": TEXT}},
                    "content": {"application/json": {"schema": _ref(schema)}},
                },
                "304": {"description": "Nothing has changed since the ETag that was sent as If-None-Match."},
                **{
                    status: {"$ref": f"#/components/responses/{response}"}
                    for status, response in _STATUS.items()
                    if status != "404" or any(each["in"] == "path" for each in parameters)
                },
            },
        }
    }


def _query(name: str, schema: Schema, about: str, *, needed: bool = False) -> Schema:
    return {"name": name, "in": "query", "required": needed, "description": about, "schema": schema}


def _path(name: str, about: str) -> Schema:
    return {"name": name, "in": "path", "required": True, "description": about, "schema": TEXT}


def _refusal(about: str) -> Schema:
    return {"description": about, "content": {"application/json": {"schema": _ref("Error")}}}


def _page(name: str, row: str) -> Schema:
    cursor = {**TEXT_OR_NONE, "description": "For the next page; null when this is the last."}
    return _object({name: _list(row), "next_cursor": cursor})


def _object(properties: Schema) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(name: str) -> Schema:
    return {"type": "array", "items": _ref(name)}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}
