"""How an order travels: its cartons, what is in each, and what still keeps one from being closed. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Max, Q
from django.utils import timezone

from quality.kitting import BagOfDrum, bags_of_shells, missing_among
from quality.models import Carton, Problem, ProblemState, SignOff
from routing.kits import in_kit_order, kit_of
from routing.models import (
    KitOrder,
    Operation,
    OperationState,
    RecordKind,
    Shell,
    ShellRecord,
    ShellSpec,
    ShellState,
    StationKind,
)
from routing.specs.mass import PACKING_G_PER_DRUM, carton_mass

TWO_PEOPLE_G = 15_000.0  # heavier than that, two people lift (common practice, no source)
_BOARD_SPREAD = 1 / 3  # boards and padding differ by a third: see ``carton_mass``


@dataclass(frozen=True, slots=True)
class PackedDrum:
    shell: Shell
    place: int  # 1 is the outermost
    bags: tuple[str, ...]
    spares: int  # pieces
    wants_card: bool  # checked, and no card printed since
    missing: tuple[str, ...]  # what has to be done before its carton can be closed, a sentence each

    @property
    def name(self) -> str:
        return f"{self.shell.model.size} {self.shell.model.get_role_display()}"


@dataclass(frozen=True, slots=True)
class CartonOfOrder:
    number: int
    of: int
    drums: tuple[PackedDrum, ...]  # outermost first
    gross_g: float
    spread_g: float  # how far a whole carton may be off
    lightest: str  # the lightest part in its bags, and what one weighs
    lightest_g: float
    side_mm: float | None  # inside; None for a carton that was closed by another plan
    height_mm: float | None
    drawing: str
    closed: Carton | None

    @property
    def nesting(self) -> list[PackedDrum]:
        """As the drums go in: the innermost first."""
        return list(reversed(self.drums))

    @property
    def missing(self) -> list[str]:
        """Everything that keeps it from being closed, a sentence each."""
        return [sentence for drum in self.drums for sentence in drum.missing]

    @property
    def gross_kg(self) -> float:
        return self.gross_g / 1000

    @property
    def two_people(self) -> bool:
        return max(self.gross_g, (self.closed and self.closed.weighed_g) or 0.0) > TWO_PEOPLE_G

    @property
    def serials(self) -> tuple[str, ...]:
        return tuple(drum.shell.serial for drum in self.drums)


@dataclass(frozen=True, slots=True)
class Packing:
    order: KitOrder
    cartons: tuple[CartonOfOrder, ...]
    proof: str
    warnings: tuple[str, ...]

    @property
    def closed(self) -> int:
        return sum(carton.closed is not None for carton in self.cartons)

    @property
    def all_closed(self) -> bool:
        return self.closed == len(self.cartons)

    @property
    def gross_kg(self) -> float:
        return sum(carton.gross_g for carton in self.cartons) / 1000

    @property
    def drums(self) -> int:
        return sum(len(carton.drums) for carton in self.cartons)

    def carton(self, number: int) -> CartonOfOrder | None:
        return next((carton for carton in self.cartons if carton.number == number), None)


@dataclass(frozen=True, slots=True)
class _Planned:
    number: int
    serials: tuple[str, ...]  # outermost first
    gross_g: float
    side_mm: float | None
    height_mm: float | None
    drawing: str


def packing_of(order: KitOrder, now: datetime) -> Packing | None:
    """The cartons of a released order as they stand at ``now``; None before the release.

    A closed carton keeps its number and what is in it; what is not packed yet is planned round it.
    """
    shells = in_kit_order(Shell.objects.filter(order=order).select_related("model__line", "finish"))
    if not shells:
        return None
    closed = {
        carton.number: carton
        for carton in Carton.objects.filter(order=order, opened_at__isnull=True)
        .select_related("closed_by")
        .prefetch_related("drums__shell")
    }
    planned, proof, warnings = _plan(order, closed)
    by_serial = {shell.serial: shell for shell in shells}
    specs = _current_specs(shells)
    bags = bags_of_shells(shells)
    missing, wants_card = _what_is_missing(shells, specs, bags, now)
    cartons = []
    for plan in planned:
        inside = [by_serial[serial] for serial in plan.serials if serial in by_serial]
        lightest, lightest_g = _lightest(specs[shell.pk] for shell in inside)
        cartons.append(
            CartonOfOrder(
                number=plan.number,
                of=len(planned),
                drums=tuple(
                    PackedDrum(
                        shell,
                        place,
                        tuple(bag.name for bag in bags[shell.pk] if not bag.is_loose),
                        sum(bag.spares for bag in bags[shell.pk]),
                        shell.pk in wants_card,
                        tuple(missing[shell.pk]),
                    )
                    for place, shell in enumerate(inside, start=1)
                ),
                gross_g=plan.gross_g,
                spread_g=_spread([specs[shell.pk] for shell in inside], plan.side_mm, plan.height_mm),
                lightest=lightest,
                lightest_g=lightest_g,
                side_mm=plan.side_mm,
                height_mm=plan.height_mm,
                drawing=plan.drawing,
                closed=closed.get(plan.number),
            )
        )
    return Packing(order, tuple(cartons), proof, warnings)


def cartons_closed(order: KitOrder) -> tuple[int, int] | None:
    """How many of an order's cartons are closed, and how many there are; None before the release."""
    closed = {
        carton.number: carton
        for carton in Carton.objects.filter(order=order, opened_at__isnull=True).prefetch_related("drums__shell")
    }
    planned, _, _ = _plan(order, closed)
    return (len(closed), len(planned)) if planned else None


def _plan(order: KitOrder, closed: Mapping[int, Carton]) -> tuple[list[_Planned], str, tuple[str, ...]]:
    kit = kit_of(order)
    if kit is None:
        return [], "", ()
    inside = {number: tuple(drum.shell.serial for drum in carton.drums.all()) for number, carton in closed.items()}
    warnings = tuple(warning.message for warning in kit.packing.warnings)
    planned = _numbered(kit, range(1, len(kit.packing.nests) + 1))
    by_number = {plan.number: set(plan.serials) for plan in planned}
    if all(by_number.get(number) == set(serials) for number, serials in inside.items()):
        return planned, kit.packing.proof, warnings
    # A drum was replaced since, or became another: the closed cartons stay as they are.
    rest = kit_of(order, without={serial for serials in inside.values() for serial in serials})
    count = len(closed) + (len(rest.packing.nests) if rest else 0)
    free = [number for number in range(1, max([count, *closed]) + 1) if number not in closed]
    planned = _numbered(rest, free) if rest else []
    planned += [_Planned(number, serials, closed[number].gross_g, None, None, "") for number, serials in inside.items()]
    return sorted(planned, key=lambda plan: plan.number), "", warnings


def _numbered(kit: Any, numbers: Iterable[int]) -> list[_Planned]:
    return [
        _Planned(
            number,
            tuple(name.rsplit(" ", 1)[-1] for name in nest.drums),
            gross,
            nest.carton_side_mm,
            nest.carton_height_mm,
            drawing,
        )
        for number, nest, gross, drawing in zip(numbers, kit.packing.nests, kit.gross_g, kit.nests, strict=False)
    ]


def _what_is_missing(
    shells: Sequence[Shell],
    specs: Mapping[int, ShellSpec],
    bags: Mapping[int, Sequence[BagOfDrum]],
    now: datetime,
) -> tuple[dict[int, list[str]], set[int]]:
    """Of each drum, what keeps its carton open, and which drums want a card; as many queries for one as for fifty."""
    ids = [shell.pk for shell in shells]
    packed = set(
        Operation.objects.filter(shell__in=ids, station__kind=StationKind.PACK, state=OperationState.DONE).values_list(
            "shell_id", flat=True
        )
    )
    checked = dict(
        SignOff.objects.standing()
        .filter(
            operation__shell__in=ids,
            operation__station__kind=StationKind.FINAL_CHECK,
            operation__state=OperationState.DONE,
        )
        .values_list("operation__shell_id")
        .annotate(Max("record__sequence"))
    )
    cards = dict(
        ShellRecord.objects.filter(shell__in=ids, kind=RecordKind.CARD)
        .values_list("shell_id")
        .order_by()
        .annotate(Max("sequence"))
    )
    troubled = set(Problem.objects.filter(shell__in=ids, state=ProblemState.OPEN).values_list("shell_id", flat=True))
    cured = _cured(ids, specs)
    wants_card = {pk for pk, sequence in checked.items() if cards.get(pk, 0) < sequence}
    missing: dict[int, list[str]] = {}
    for shell in shells:
        serial, found = shell.serial, missing.setdefault(shell.pk, [])
        if shell.pk not in checked:
            found.append(f"The final check of {serial} is not signed.")
        if shell.pk not in packed:
            found.append(f"The pack step of {serial} is not signed.")
        if shell.pk in troubled or shell.state == ShellState.ON_HOLD:
            found.append(f"{serial} has an open problem; a supervisor decides about it first.")
        if (until := cured.get(shell.pk)) is not None and until > now:
            found.append(f"The finish of {serial} cures until {timezone.localtime(until):%Y-%m-%d %H:%M}.")
        found += missing_among(serial, bags[shell.pk])
        if shell.pk not in checked or shell.pk in wants_card:
            found.append(f"The card of {serial} is not printed since its final check.")
    return missing, wants_card


def _cured(ids: Sequence[int], specs: Mapping[int, ShellSpec]) -> dict[int, datetime]:
    """When the finish of each drum has cured long enough for a carton, counted from its last coat or its wrap."""
    last: dict[int, datetime] = {}
    done = (
        Operation.objects.filter(shell__in=ids, state=OperationState.DONE, done_at__isnull=False)
        .filter(Q(coat_index__isnull=False) | Q(station__kind=StationKind.WRAP))
        .order_by("position")
    )
    for shell_id, done_at in done.values_list("shell_id", "done_at"):
        assert done_at is not None
        last[shell_id] = done_at + timedelta(hours=specs[shell_id].inputs["finish"]["cure_to_pack_h"])
    return last


def _current_specs(shells: Sequence[Shell]) -> dict[int, ShellSpec]:
    newest = {shell.pk: shell.spec_revision for shell in shells}
    return {
        spec.shell_id: spec
        for spec in ShellSpec.objects.filter(shell__in=shells)
        if spec.revision == newest[spec.shell_id]
    }


def _spread(specs: Sequence[ShellSpec], side_mm: float | None, height_mm: float | None) -> float:
    """How far a whole carton may be off, ± g: its shells as they vary, board and padding by a third."""
    shells = sum(spec.results["mass"]["shell_g"] - spec.results["mass"]["shell_low_g"] for spec in specs)
    board = carton_mass(side_mm, height_mm) if side_mm and height_mm else 0.0
    return float(shells + (board + PACKING_G_PER_DRUM * len(specs)) * _BOARD_SPREAD)


def _lightest(specs: Iterable[ShellSpec]) -> tuple[str, float]:
    bags = [
        (float(bag["lightest_g"]), str(bag["lightest_part"])) for spec in specs for bag in spec.results["mass"]["bags"]
    ]
    if not bags:
        return "", 0.0
    weight, name = min(bags)
    return name, weight
