"""What stands on one traveler, from the shell's frozen spec and its record.

In two parts: the head differs from shell to shell, the body is the same for shells of one spec on which nothing was
signed yet, so that it need not be laid out for each of them. Everything comes from facts.py, which also tells by a key
whether paper that was made earlier still says the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.checks import checks_among
from quality.models import CheckPoint, SignOff
from routing.models import Operation, OperationState, Shell, ShellSpec, Station
from routing.spec_words import spoken
from routing.station_drawings import station_drawing
from routing.station_numbers import StationNumber, station_numbers
from shopfloor.travelers.facts import ShellFacts, TravelerHead


@dataclass(frozen=True, slots=True)
class TravelerStep:
    position: int
    title: str
    numbers: tuple[StationNumber, ...]
    dwell: str  # “Then 48 h curing”
    signed_by: str
    signed_at: datetime | None


@dataclass(frozen=True, slots=True)
class TravelerStation:
    """A visit to a station: one step, or the coats that follow each other there."""

    name: str
    caution: str
    steps: tuple[TravelerStep, ...]
    write: str  # the readings to note by hand while the tablets are down
    shared: tuple[StationNumber, ...]  # numbers that are the same for all steps of the visit
    drawings: tuple[str, ...]  # SVG

    @property
    def many(self) -> bool:
        return len(self.steps) > 1


@dataclass(frozen=True, slots=True)
class TravelerBody:
    notes: str
    warnings: tuple[str, ...]
    stations: tuple[TravelerStation, ...]


@dataclass(frozen=True, slots=True)
class Traveler:
    head: TravelerHead
    body: TravelerBody
    body_key: str  # the same for shells whose bodies are the same


def travelers_from(facts: Sequence[ShellFacts]) -> list[Traveler]:
    """The travelers of shells, in their order, by one query more. A body that several shells share is put together once."""
    specs = {spec.pk: spec for spec in ShellSpec.objects.filter(pk__in=[each.spec_id for each in facts])}
    bodies: dict[str, TravelerBody] = {}
    found = []
    for each in facts:
        spec = specs[each.spec_id]
        key = each.body_key(spec)
        if key not in bodies:
            bodies[key] = _body(each, spec)
        found.append(Traveler(each.head, bodies[key], key))
    return found


def _body(facts: ShellFacts, spec: ShellSpec) -> TravelerBody:
    stations = []
    drawn: set[str] = set()
    for _pk, operations_here in groupby(facts.operations, key=lambda operation: operation.station_id):
        visit = list(operations_here)
        station = visit[0].station
        drawings = [svg for svg in _drawings(station, spec) if svg not in drawn]
        drawn.update(drawings)
        steps = [_step(operation, spec, facts.signed.get(operation.pk)) for operation in visit]
        shared = _shared(steps)
        stations.append(
            TravelerStation(
                name=station.name,
                caution=station.caution,
                steps=tuple(replace(step, numbers=tuple(n for n in step.numbers if n not in shared)) for step in steps),
                write=_to_write_down(visit, facts.shell, spec, facts.points),
                shared=shared,
                drawings=tuple(drawings),
            )
        )
    return TravelerBody(
        notes=facts.notes,
        warnings=tuple(spoken(warning["message"]) for warning in spec.results["warnings"]),
        stations=tuple(stations),
    )


def _shared(steps: Sequence[TravelerStep]) -> tuple[StationNumber, ...]:
    """What is said once for several coats instead of with each."""
    if len(steps) == 1:
        return ()
    return tuple(n for n in steps[0].numbers if all(n in step.numbers for step in steps[1:]))


def _step(operation: Operation, spec: ShellSpec, signed: SignOff | None) -> TravelerStep:
    numbers = station_numbers(operation.station.kind, spec.results, spec.inputs, operation.coat_index)
    if operation.coat_index is not None:
        numbers = numbers[1:]  # which coat it is stands in the title
    stands = signed if operation.state == OperationState.DONE else None
    return TravelerStep(
        position=operation.position,
        title=operation.title.removeprefix(operation.station.name).strip() or operation.title,
        # The rest after a step is a dwell of the route and stands beside the title.
        numbers=tuple(n for n in numbers if n.unit != "h" or not operation.dwell_minutes),
        dwell=_dwell(operation),
        signed_by=stands.person.name if stands else "",
        signed_at=timezone.localtime(stands.at) if stands else None,
    )


def _dwell(operation: Operation) -> str:
    if not operation.dwell_minutes:
        return ""
    hours, minutes = divmod(operation.dwell_minutes, 60)
    long = " ".join(part for part in (f"{hours} h" if hours else "", f"{minutes} min" if minutes else "") if part)
    return _("then {time} {doing}").format(time=long, doing=_(operation.get_dwell_kind_display()))


def _to_write_down(visit: Sequence[Operation], shell: Shell, spec: ShellSpec, points: Iterable[CheckPoint]) -> str:
    """The measured checks of a visit that is not signed yet: what the tablet will ask for when it is back.

    Each with a line to write on; for several coats once, because there the numbers go beside each coat.
    """
    unsigned = [operation for operation in visit if operation.state != OperationState.DONE]
    if not unsigned:
        return ""
    measured = [check for check in checks_among(points, unsigned[0], shell, spec.results) if check.is_measured]
    if len(visit) > 1:
        return "; ".join(f"{check.point.text}, {check.point.unit}" for check in measured)
    return "; ".join(f"{check.point.text} _______ {check.limits or check.point.unit}".rstrip() for check in measured)


def _drawings(station: Station, spec: ShellSpec) -> list[str]:
    return re.findall(r"<svg .*?</svg>", station_drawing(station.kind, spec.results), re.DOTALL)
