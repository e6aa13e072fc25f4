"""What stands on one traveler, read from the shell's frozen spec and its record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from quality.models import SignOff
from routing.models import Operation, OperationState, Shell, ShellSpec, Station
from routing.station_numbers import StationNumber, station_drawings, station_numbers
from shopfloor.qr import qr_svg, traveler_address
from shopfloor.rings import ring_states


@dataclass(frozen=True, slots=True)
class TravelerStep:
    position: int
    title: str
    station: str
    dwell: str
    signed_by: str
    signed_at: datetime | None


@dataclass(frozen=True, slots=True)
class TravelerStation:
    name: str
    caution: str
    numbers: tuple[StationNumber, ...]


@dataclass(frozen=True, slots=True)
class Traveler:
    serial: str
    drum: str
    size: str
    role: str
    line: str
    finish: str
    order: str
    customer: str
    customer_reference: str
    due: date
    kit_note: str
    kit: str  # “2 of 5 in this kit”
    revision: int
    formula_version: str
    issued_at: datetime
    ring: tuple[tuple[str, str], ...]
    qr: str
    stations: tuple[TravelerStation, ...]
    steps: tuple[TravelerStep, ...]
    drawings: tuple[tuple[str, str], ...]  # (caption, svg)
    warnings: tuple[str, ...]
    mark: str  # “copy 2”, “preview”, or nothing


def traveler_of(shell: Shell, *, base_url: str, now: datetime, mark: str = "") -> Traveler:
    """``shell`` should come with order, line, model, its line and finish selected."""
    spec = ShellSpec.objects.get(shell=shell, revision=shell.spec_revision)
    operations = list(Operation.objects.filter(shell=shell).select_related("station").order_by("position"))
    signed = {
        sign_off.operation_id: sign_off
        for sign_off in SignOff.objects.standing().filter(operation__shell=shell).select_related("person")
    }
    in_kit = list(shell.order.shells.order_by("pk").values_list("pk", flat=True))
    return Traveler(
        serial=shell.serial,
        drum=str(shell.model),
        size=shell.model.size,
        role=shell.model.get_role_display(),
        line=shell.model.line.name,
        finish=shell.finish.name,
        order=shell.order.number,
        customer=shell.order.customer,
        customer_reference=shell.order.customer_reference,
        due=shell.order.due,
        kit_note=" ".join(note for note in (shell.order.note, shell.line.note) if note),
        kit=f"drum {in_kit.index(shell.pk) + 1} of {len(in_kit)} in this kit",
        revision=spec.revision,
        formula_version=spec.formula_version,
        issued_at=spec.issued_at,
        ring=ring_states(operations, now),
        qr=qr_svg(traveler_address(shell.serial, spec.revision, base_url)),
        stations=tuple(_stations(operations, spec)),
        steps=tuple(_step(operation, signed.get(operation.pk)) for operation in operations),
        drawings=tuple(station_drawings(spec.results)),
        warnings=tuple(warning["message"] for warning in spec.results["warnings"]),
        mark=mark,
    )


def _stations(operations: list[Operation], spec: ShellSpec) -> list[TravelerStation]:
    """Each station of the route once, in order, with the numbers of all its coats."""
    found: dict[int, tuple[Station, list[StationNumber]]] = {}
    for operation in operations:
        station, numbers = found.setdefault(operation.station_id, (operation.station, []))
        if operation.coat_index is None and numbers:
            continue
        made = station_numbers(station.kind, spec.results, spec.inputs, operation.coat_index)
        numbers.extend(_as_one_line(operation, made) if operation.coat_index is not None else made)
    return [TravelerStation(station.name, station.caution, tuple(numbers)) for station, numbers in found.values()]


def _as_one_line(operation: Operation, numbers: list[StationNumber]) -> list[StationNumber]:
    """A coat on paper takes one line: its figures side by side."""
    if not numbers:
        return []
    coat, rest = numbers[0], numbers[1:]
    figures = "; ".join(f"{n.label.lower()} {n.value} {n.unit}".strip() for n in rest)
    return [StationNumber(f"Coat {coat.value}: {coat.note}", figures)]


def _step(operation: Operation, signed: SignOff | None) -> TravelerStep:
    stands = signed if operation.state == OperationState.DONE else None
    dwell = ""
    if operation.dwell_minutes:
        hours = operation.dwell_minutes / 60
        dwell = f"then {hours:.3g} h {operation.get_dwell_kind_display()}"
    return TravelerStep(
        operation.position,
        operation.title,
        operation.station.name,
        dwell,
        stands.person.name if stands else "",
        timezone.localtime(stands.at) if stands else None,
    )
