"""What a traveler says, read by a few queries, and a key of all of it: whether paper made earlier still says the same.

The sheet is built from these facts and from nothing else, so that nothing can change on it that leaves its key alone.
The frozen spec itself never changes; its row stands for it.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.checks import running_number
from quality.dispositions import concessions_among
from quality.models import CheckPoint, SignOff
from routing.history import content_hash
from routing.kits import in_kit_order
from routing.languages import spoken_in
from routing.models import Operation, OperationState, Shell, ShellSpec, Shop, Station
from shopfloor.qr import traveler_address
from shopfloor.rings import ring_states

# When and by whom a step was begun shows nowhere on the sheet; its state does.
_NOT_SHOWN = {
    *("id", "shell_id", "attempt", "work_min", "not_before", "ready_at", "started_at", "started_by_name", "paused_at"),
    *("touch_seconds", "done_at"),
}


@dataclass(frozen=True, slots=True)
class TravelerHead:
    serial: str
    size: str
    diameter: str
    role: str
    line: str
    finish: str
    order: str
    place_in_kit: str  # “drum 2 of 5”
    customer: str
    customer_reference: str
    due: date
    revision: int
    issued_at: datetime
    steps: tuple[tuple[str, str], ...]  # state and title of each, for the ring
    address: str  # what the code says


@dataclass(frozen=True, slots=True)
class ShellFacts:
    """All that the traveler of one shell is made from, beside the numbers of its frozen spec."""

    shell: Shell
    spec_id: int
    head: TravelerHead
    operations: tuple[Operation, ...]  # in the order of the route, with their stations
    signed: Mapping[int, SignOff]  # by step
    points: Sequence[CheckPoint]
    notes: str
    shop: str  # its name
    language: str  # the shop's, whoever prints
    recipes: str  # its own stations and their check points, in one key

    def key(self, paper: str) -> str:
        """Changes with everything that the traveler shows. Another program keeps its paper elsewhere."""
        return _digest(self.shop, self.language, paper, self.head, self.spec_id, *self._body_facts())

    def body_key(self, spec: ShellSpec) -> str:
        """The same for shells whose bodies are: their specs say the same, and so does everything else below the head."""
        return _digest(self.language, content_hash([spec.inputs, spec.results]), *self._body_facts())

    def _body_facts(self) -> Iterable[Any]:
        yield self.shell.model.role, self.shell.finish.kind, self.notes, self.recipes
        number = running_number(self.shell.serial)
        yield [number % point.sample_every for point in self.points if point.sample_every > 1]
        for operation in self.operations:
            sign_off = self.signed.get(operation.pk)
            yield _columns(operation), sign_off and (sign_off.person.name, sign_off.at)


def read(serials: Iterable[str], *, base_url: str) -> list[ShellFacts]:
    """The facts of shells as they are now, in the order in which the shells were released."""
    shells = Shell.objects.filter(serial__in=list(serials)).order_by("pk")
    return facts_of(
        list(shells.select_related("order", "line", "model__line", "finish")), base_url=base_url, now=timezone.now()
    )


def facts_of(shells: Sequence[Shell], *, base_url: str, now: datetime) -> list[ShellFacts]:
    """The facts of ``shells`` in their order, by eight queries; their words in the shop's language.

    The shells should come with order, line, model, its line and finish selected.
    """
    shop = Shop.current()
    with spoken_in(shop.language):
        return _facts_of(shells, base_url, now, shop)


def _facts_of(shells: Sequence[Shell], base_url: str, now: datetime, shop: Shop) -> list[ShellFacts]:
    specs = {
        (spec.shell_id, spec.revision): spec
        for spec in ShellSpec.objects.filter(shell__in=shells).only("shell_id", "revision", "issued_at")
    }
    operations: dict[int, list[Operation]] = defaultdict(list)
    steps = Operation.objects.filter(shell__in=shells).exclude(state=OperationState.SKIPPED)
    stations: dict[int, Station] = {station.pk: station for station in Station.objects.order_by("pk")}
    for operation in steps.order_by("position"):
        operation.station = stations[operation.station_id]  # one for all: most of a shop's steps are at few stations
        operations[operation.shell_id].append(operation)
    signed: dict[int, dict[int, SignOff]] = defaultdict(dict)
    standing = SignOff.objects.standing().filter(operation__shell__in=shells).select_related("person", "operation")
    for sign_off in standing:
        signed[sign_off.operation.shell_id][sign_off.operation_id] = sign_off
    kits: dict[int, list[int]] = defaultdict(list)
    for shell in in_kit_order(Shell.objects.filter(order__in={shell.order_id for shell in shells})):
        kits[shell.order_id].append(shell.pk)
    concessions: dict[int, list[str]] = defaultdict(list)
    for problem in concessions_among(shells):
        said = _("Used as it is, under a concession of {who}: {text}.")
        concessions[problem.shell_id].append(said.format(who=problem.allowed_by, text=problem.text))
    points = list(CheckPoint.objects.filter(is_current=True).order_by("position", "id"))
    points_at: dict[int, list[CheckPoint]] = defaultdict(list)
    for point in points:
        points_at[point.station_id].append(point)
    recipes: dict[tuple[int, ...], str] = {}  # most shells of an order go by the same stations
    found = []
    for shell in shells:
        spec = specs[shell.pk, shell.spec_revision]
        # Its own stations alone: who its company is must not change its key.
        here = tuple(sorted({step.station_id for step in operations[shell.pk]}))
        if here not in recipes:
            recipes[here] = _digest([_columns(row) for pk in here for row in (stations[pk], *points_at[pk])])
        found.append(
            ShellFacts(
                shell=shell,
                spec_id=spec.pk,
                head=_head(shell, spec, operations[shell.pk], kits[shell.order_id], base_url, now),
                operations=tuple(operations[shell.pk]),
                signed=signed[shell.pk],
                points=[point for pk in here for point in points_at[pk]],
                notes=" ".join(note for note in (shell.order.note, shell.line.note, *concessions[shell.pk]) if note),
                shop=shop.name,
                language=shop.language,
                recipes=recipes[here],
            )
        )
    return found


def _head(
    shell: Shell, spec: ShellSpec, operations: Sequence[Operation], kit: list[int], base_url: str, now: datetime
) -> TravelerHead:
    return TravelerHead(
        serial=shell.serial,
        size=shell.model.size,
        diameter=f"{shell.model.nominal_diameter_in:g}″",
        role=_(shell.model.get_role_display()),
        line=shell.model.line.name,
        finish=shell.finish.name,
        order=shell.order.number,
        place_in_kit=_place_in_kit(shell, kit),
        customer=shell.order.customer,
        customer_reference=shell.order.customer_reference,
        due=shell.order.due,
        revision=spec.revision,
        issued_at=spec.issued_at,
        steps=ring_states(operations, now),
        address=traveler_address(shell.serial, spec.revision, base_url),
    )


def _place_in_kit(shell: Shell, kit: list[int]) -> str:
    if shell.pk not in kit:
        return _("not in the kit any more")
    return _("drum {place} of {drums}").format(place=kit.index(shell.pk) + 1, drums=len(kit))


def _columns(row: Model) -> list[Any]:
    """Every column of a row that may show, also those that will be added one day."""
    hidden = _NOT_SHOWN if isinstance(row, Operation) else ()
    return [getattr(row, field.attname) for field in row._meta.concrete_fields if field.attname not in hidden]


def _digest(*parts: Any) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:40]
