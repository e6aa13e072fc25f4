"""Years of work in one go: shells, their steps, records, signatures, readings and materials, written past the actions.

The chains are not chained and the specs are empty: what is measured reads neither. Everything else has the shape that the
program writes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import connection

from quality.models import CheckPoint, LotKind, Person, Role
from routing.models import DrumModel, Finish, Glue, Station
from routing.specs.check_character import check_character

STEPS = 10  # signatures for each shell
PER_ORDER = 5
PER_BATCH = 20  # shells glued from one mix
PER_LOT = 200
TABLETS = 12
FIRST = datetime(2020, 1, 6, 7, tzinfo=UTC)
MINUTES_BETWEEN_SHELLS = 25


@dataclass(frozen=True, slots=True)
class Many:
    """What was written, to ask for."""

    shells: int
    sign_offs: int
    first_shell: int
    batches: tuple[int, ...]
    lots: tuple[int, ...]
    people: tuple[int, ...]


def fill(shells: int, series: str) -> Many:
    """Write ``shells`` drums, named by ``series``, with ten signatures each into an empty shop that has its recipes, stations and people."""
    stations = list(Station.objects.filter(is_active=True).order_by("position")[:STEPS])
    people = list(Person.objects.filter(role__in=[Role.WORKER, Role.FINAL_CHECKER]).order_by("pk"))
    model = DrumModel.objects.order_by("pk")[0]
    finish = Finish.objects.filter(kind=model.line.finish_kind).order_by("pk")[0]
    check = CheckPoint.objects.filter(is_current=True).order_by("pk")[0]
    glue = Glue.objects.order_by("pk")[0]
    first = next_key("routing_shell")
    orders = shells // PER_ORDER
    order_0, line_0 = next_key("routing_kitorder"), next_key("routing_kitline")
    batch_0, lot_0 = next_key("quality_gluebatch"), next_key("quality_materiallot")
    batches, lots = -(-shells // PER_BATCH), -(-shells // PER_LOT)
    step_0 = next_key("routing_operation")
    record_0 = next_key("routing_shellrecord")
    sign_0 = next_key("quality_signoff")

    def at(shell: int, step: int = 0) -> datetime:
        return FIRST + timedelta(minutes=MINUTES_BETWEEN_SHELLS * shell + 1440 * step)

    write(
        "routing_kitorder",
        ("id", "number", "customer", "customer_reference", "due", "state", "weight", "note", "created_at"),
        (
            (
                order_0 + n,
                f"{series}-{n:06d}",
                f"Customer {n % 997}",
                "",
                at(n * PER_ORDER).date(),
                "shipped",
                1,
                "",
                at(n),
            )
            for n in range(orders + 1)
        ),
    )
    write(
        "routing_kitline",
        ("id", "order_id", "position", "model_id", "finish_id", "quantity", "note"),
        ((line_0 + n, order_0 + n, 1, model.pk, finish.pk, PER_ORDER, "") for n in range(orders + 1)),
    )
    write(
        "routing_shell",
        (
            *("id", "serial", "order_id", "line_id", "model_id", "finish_id", "state", "spec_revision"),
            *("released_at", "chain_length", "chain_head"),
        ),
        (
            (
                *(
                    first + n,
                    serial_of(series, n),
                    order_0 + n // PER_ORDER,
                    line_0 + n // PER_ORDER,
                    model.pk,
                    finish.pk,
                ),
                *("packed", 1, at(n), STEPS + 1, "-"),
            )
            for n in range(shells)
        ),
    )
    write(
        "routing_shellspec",
        ("shell_id", "revision", "formula_version", "inputs", "results", "reason", "issued_at"),
        ((first + n, 1, "2", "{}", "{}", "released", at(n)) for n in range(shells)),
    )
    write(
        "routing_operation",
        (
            *("id", "shell_id", "position", "station_id", "title", "state", "attempt", "dwell_kind"),
            *("dwell_minutes", "started_by_name", "touch_seconds", "done_at"),
        ),
        (
            (
                *(step_0 + n * STEPS + k, first + n, k + 1, station.pk, station.name, "done", 1, ""),
                *(0, "", 600, at(n, k)),
            )
            for n in range(shells)
            for k, station in enumerate(stations)
        ),
    )
    body = json.dumps(
        {
            "attempt": 1,
            "step": "step",
            "station": "station",
            "revision": 1,
            "note": "",
            "readings": [
                {
                    "check": check.code,
                    "check_revision": check.revision,
                    "text": check.text,
                    "value": 1.0,
                    "low": 0.5,
                    "high": 1.5,
                    "unit": "mm",
                    "passed": True,
                }
            ],
            "dwell_minutes": 0,
        }
    )
    released = json.dumps({"order": "B", "drum": str(model), "revision": 1, "route": "route", "steps": []})

    def records() -> Iterator[tuple[Any, ...]]:
        for n in range(shells):
            base = record_0 + n * (STEPS + 1)
            who = people[n % len(people)]
            yield (
                *(base, first + n, 1, "released", None, at(n), at(n), who.pk, who.name, "office"),
                *(released, None, "", f"{n}-1"),
            )
            for k in range(STEPS):
                who = people[(n // 7 + k) % len(people)]
                done = at(n, k)
                yield (
                    *(base + 1 + k, first + n, k + 2, "signed", step_0 + n * STEPS + k, done, done, who.pk, who.name),
                    *(f"tablet {(n + k) % TABLETS}", body, None, f"{n}-{k + 1}", f"{n}-{k + 2}"),
                )

    write(
        "routing_shellrecord",
        (
            *("id", "shell_id", "sequence", "kind", "operation_id", "at", "received_at", "person_id"),
            *("person_name", "device", "body", "tap_key", "previous_hash", "hash"),
        ),
        records(),
    )
    write(
        "quality_signoff",
        ("id", "record_id", "operation_id", "attempt", "person_id", "at"),
        (
            (
                *(sign_0 + n * STEPS + k, record_0 + n * (STEPS + 1) + 1 + k, step_0 + n * STEPS + k, 1),
                *(people[(n // 7 + k) % len(people)].pk, at(n, k)),
            )
            for n in range(shells)
            for k in range(STEPS)
        ),
    )
    write(
        "quality_reading",
        ("sign_off_id", "check_point_id", "value", "passed"),
        ((sign_0 + n, check.pk, 1.0, True) for n in range(shells * STEPS)),
    )
    write(
        "quality_materiallot",
        ("id", "code", "kind", "name", "state", "received_on", "note"),
        (
            (lot_0 + n, f"{series}-L{n}", LotKind.PLATE.value, "plate", "empty", at(n * PER_LOT).date(), "")
            for n in range(lots)
        ),
    )
    write(
        "quality_gluebatch",
        (
            *("id", "code", "glue_id", "mixed_by_id", "mixed_at", "temperature_c", "pot_life_min", "use_until"),
            *("is_empty", "emptied_by_name"),
        ),
        (
            (
                batch_0 + n,
                f"{series}-G{n}",
                glue.pk,
                people[0].pk,
                at(n * PER_BATCH),
                20.0,
                30.0,
                at(n * PER_BATCH, 1),
                True,
                "",
            )
            for n in range(batches)
        ),
    )
    write(
        "quality_materialuse",
        ("sign_off_id", "lot_id", "glue_batch_id"),
        (
            use
            for n in range(shells)
            for use in (
                (sign_0 + n * STEPS, lot_0 + n // PER_LOT, None),
                (sign_0 + n * STEPS + 1, None, batch_0 + n // PER_BATCH),
            )
        ),
    )
    count_rows()
    return Many(
        shells=shells,
        sign_offs=shells * STEPS,
        first_shell=first,
        batches=tuple(range(batch_0, batch_0 + batches)),
        lots=tuple(range(lot_0, lot_0 + lots)),
        people=tuple(person.pk for person in people),
    )


def serial_of(series: str, n: int) -> str:
    """With its check character; one whose character would be * is none that the shop gives, and no page asks for it."""
    body = f"{series}{n:08d}"
    return body + check_character(body)


def count_rows() -> None:
    """As PostgreSQL does by itself after a while. Nobody does it for a shop's SQLite, which plans without knowing."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def next_key(table: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COALESCE(MAX(id), 0) + 1 FROM {table}")
        return int(cursor.fetchone()[0])


def write(table: str, columns: Sequence[str], rows: Iterator[tuple[Any, ...]]) -> None:
    """As fast as each database takes rows: COPY, or one prepared statement in one transaction, in that of the caller if
    there is one."""
    names = ", ".join(columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            if "id" in columns:  # a key that came with its row is not counted: the program's next row would meet it
                cursor.execute(
                    f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT COALESCE(MAX(id), 1) FROM {table}))"
                )
            return
        marks = ", ".join("?" * len(columns))
        raw = cursor.cursor.connection
        own = not raw.in_transaction
        if own:
            raw.execute("BEGIN")
        raw.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", map(_for_sqlite, rows))
        if own:
            raw.commit()


def _for_sqlite(row: tuple[Any, ...]) -> tuple[Any, ...]:
    """Dates as Django writes them."""
    return tuple(
        value.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S")
        if isinstance(value, datetime)
        else value.isoformat()
        if hasattr(value, "isoformat")
        else value
        for value in row
    )
