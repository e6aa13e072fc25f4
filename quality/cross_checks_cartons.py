"""Cartons held against what the chains of their drums say."""

from __future__ import annotations

from collections.abc import Iterator

from quality.models import Carton, CartonDrum
from routing.history import BrokenRecord
from routing.models import RecordKind, Shell, ShellRecord

_KINDS = [RecordKind.CARTON, RecordKind.UNCARTONED]
_Key = tuple[str, int, int]


def cartons(shell: Shell) -> Iterator[BrokenRecord]:
    """Cartons that say something else than the records of closing and opening them."""
    closings: dict[_Key, ShellRecord] = {}
    openings: dict[_Key, ShellRecord] = {}
    for record in ShellRecord.objects.filter(shell=shell, kind__in=_KINDS).order_by("sequence"):
        key = record.body["order"], record.body["carton"], record.body["attempt"]
        (closings if record.kind == RecordKind.CARTON else openings)[key] = record
    kept = {
        drum.record_id: drum
        for drum in CartonDrum.objects.filter(shell=shell)
        .select_related("carton__order")
        .prefetch_related("carton__drums__shell")
        .order_by("pk")
    }
    for key, closed in closings.items():
        opened = openings.get(key)
        drum = kept.pop(closed.pk, None)
        if drum is None:
            yield BrokenRecord(shell.serial, closed.sequence, "the carton it tells of is missing")
            continue
        if wrong := _unlike_closing(drum, closed):
            what = f"its carton says something else than the record: {', '.join(wrong)}"
            yield BrokenRecord(shell.serial, closed.sequence, what)
        if wrong := _unlike_opening(drum.carton, opened):
            what = f"that its carton was opened is not as the records say: {', '.join(wrong)}"
            yield BrokenRecord(shell.serial, (opened or closed).sequence, what)
    for drum in kept.values():
        yield BrokenRecord(shell.serial, 0, f"it lies in carton {drum.carton.number} without a record")


def cartons_without_drums() -> Iterator[str]:
    """Cartons that no drum lies in: no chain tells of them. A line each."""
    for carton in Carton.objects.filter(drums__isnull=True).select_related("order"):
        yield f"carton {carton.number} of order {carton.order.number}, attempt {carton.attempt}, has no drum in it"


def _unlike_closing(drum: CartonDrum, record: ShellRecord) -> list[str]:
    carton, body = drum.carton, record.body
    inside = [each.shell.serial for each in sorted(carton.drums.all(), key=lambda each: each.place)]
    compared = {
        "order": (carton.order.number, body["order"]),
        "number": (carton.number, body["carton"]),
        "how many cartons": (carton.of, body["of"]),
        "attempt": (carton.attempt, body["attempt"]),
        "place in it": (drum.place, body["place"]),
        "drums in it": (inside, body["with"]),
        "computed weight": (carton.gross_g, body["gross_g"]),
        "weight on the scale": (carton.weighed_g, body["weighed_g"]),
        "who closed it": (carton.closed_by_id, record.person_id),
        "when it was closed": (carton.closed_at, record.at),
    }
    return [name for name, (kept, told) in compared.items() if kept != told]


def _unlike_opening(carton: Carton, record: ShellRecord | None) -> list[str]:
    compared = {
        "who": (carton.opened_by_id, record.person_id if record else None),
        "when": (carton.opened_at, record.at if record else None),
        "why": (carton.opened_because, record.body["reason"] if record else ""),
    }
    return [name for name, (kept, told) in compared.items() if kept != told]
