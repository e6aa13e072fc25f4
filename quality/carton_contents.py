"""How an order travels: its cartons, what is in each, and what still keeps one from being closed. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from quality.bags import BagOfDrum, bags_of_shells, missing_among
from quality.carton_plan import carton_plan, closed_cartons
from quality.models import Carton, Problem, ProblemState, SignOff
from routing.curing import cured_to_pack
from routing.kits import in_kit_order, size_and_role
from routing.languages import moment
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
        return size_and_role(self.shell.model)


@dataclass(frozen=True, slots=True)
class CartonOfOrder:
    number: int
    of: int  # as many as there are now
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
    def outer_names(self) -> list[str]:
        """Of the drums that another lies in: each has a head and a hoop off."""
        return [drum.name for drum in self.drums[:-1]]

    @property
    def missing(self) -> list[str]:
        """Everything that keeps it from being closed, a sentence each."""
        return [sentence for drum in self.drums for sentence in drum.missing]

    @property
    def label(self) -> str:
        """What is written on it: of a closed carton the count at which it was closed."""
        return f"{self.number} of {self.counted}"

    @property
    def counted(self) -> int:
        return self.closed.of if self.closed else self.of

    @property
    def old_label(self) -> str:
        """What to do about a closed carton whose label counts other cartons than there are; empty for all others."""
        if self.closed is None or (self.closed.of == self.of and self.number <= self.of):
            return ""
        return _(
            "The label of carton {number} says {number} of {old}, but the order travels in {now} now. Open it, take the label "
            "off, and close it again; then it gets the right one."
        ).format(number=self.number, old=self.counted, now=self.of)

    @property
    def seen(self) -> str:
        """Which carton a page shows; its form sends it back, so that nobody closes another than they see."""
        return f"{self.label}: {' '.join(self.serials)}"

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
    def old_labels(self) -> bool:
        return any(carton.old_label for carton in self.cartons)

    @property
    def gross_kg(self) -> float:
        return sum(carton.gross_g for carton in self.cartons) / 1000

    @property
    def drums(self) -> int:
        return sum(len(carton.drums) for carton in self.cartons)

    def carton(self, number: int) -> CartonOfOrder | None:
        return next((carton for carton in self.cartons if carton.number == number), None)


def packing_of(order: KitOrder, now: datetime) -> Packing | None:
    """The cartons of a released order as they stand at ``now``; None before the release.

    A closed carton keeps its number and what is in it; what is not packed yet is planned round it.
    """
    shells = in_kit_order(Shell.objects.filter(order=order).select_related("model__line", "finish"))
    if not shells:
        return None
    closed = closed_cartons(order)
    plan = carton_plan(order, closed)
    if plan is None:
        return None
    by_serial = {shell.serial: shell for shell in shells}
    specs = _current_specs(shells)
    bags = bags_of_shells(shells)
    missing, wants_card = _what_is_missing(shells, bags, now)
    cartons = []
    for planned in plan.cartons:
        inside = [by_serial[serial] for serial in planned.serials if serial in by_serial]
        lightest, lightest_g = _lightest(specs[shell.pk] for shell in inside)
        cartons.append(
            CartonOfOrder(
                number=planned.number,
                of=planned.of,
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
                gross_g=planned.gross_g,
                spread_g=_spread([specs[shell.pk] for shell in inside], planned.side_mm, planned.height_mm),
                lightest=lightest,
                lightest_g=lightest_g,
                side_mm=planned.side_mm,
                height_mm=planned.height_mm,
                drawing=planned.drawing,
                closed=closed.get(planned.number),
            )
        )
    return Packing(order, tuple(cartons), plan.proof, plan.warnings)


def cartons_closed(order: KitOrder) -> tuple[int, int] | None:
    """How many of an order's cartons are closed, and how many there are; None before the release."""
    closed = closed_cartons(order)
    plan = carton_plan(order, closed)
    return (len(closed), len(plan.cartons)) if plan else None


def _what_is_missing(
    shells: Sequence[Shell],
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
    cured = cured_to_pack(ids)
    wants_card = {pk for pk, sequence in checked.items() if cards.get(pk, 0) < sequence}
    missing: dict[int, list[str]] = {}
    for shell in shells:
        serial, found = shell.serial, missing.setdefault(shell.pk, [])
        if shell.pk not in checked:
            found.append(_("The final check of {serial} is not signed.").format(serial=serial))
        if shell.pk not in packed:
            found.append(_("The pack step of {serial} is not signed.").format(serial=serial))
        if shell.pk in troubled or shell.state == ShellState.ON_HOLD:
            found.append(_("{serial} has an open problem; a supervisor decides about it first.").format(serial=serial))
        if (until := cured.get(shell.pk)) is not None and until > now:
            found.append(_("The finish of {serial} cures until {time}.").format(serial=serial, time=moment(until)))
        found += missing_among(serial, bags[shell.pk])
        if shell.pk not in checked or shell.pk in wants_card:
            found.append(_("The card of {serial} is not printed since its final check.").format(serial=serial))
    return missing, wants_card


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
