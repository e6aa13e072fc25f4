"""Which carton of its order a drum travels in, and under which number: the one numbering for tablet, page and paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from quality.models import Carton
from routing.kits import Kit, kit_of, name_in_kit
from routing.models import KitOrder, Shell
from routing.spec_words import spoken


@dataclass(frozen=True, slots=True)
class PlannedCarton:
    number: int
    of: int  # as many as there are now
    counted: int  # as its label counts them: of a closed carton, as many as there were then
    serials: tuple[str, ...]  # outermost first
    names: tuple[str, ...]  # the same drums, as they are called
    gross_g: float
    side_mm: float | None  # inside; None for a carton that was closed by another plan
    height_mm: float | None
    drawing: str

    @property
    def label(self) -> str:
        return _("{number} of {all}").format(number=self.number, all=self.counted)


@dataclass(frozen=True, slots=True)
class CartonPlan:
    kit: Kit  # of the whole order, whatever is closed
    cartons: tuple[PlannedCarton, ...]
    proof: str  # empty when closed cartons stand in the way of the best plan
    warnings: tuple[str, ...]


def closed_cartons(order: KitOrder) -> dict[int, Carton]:
    """The cartons of an order that are closed now, by number."""
    return {
        carton.number: carton
        for carton in Carton.objects.filter(order=order, opened_at__isnull=True)
        .select_related("closed_by")
        .prefetch_related("drums__shell__model")
    }


def carton_plan(order: KitOrder, closed: Mapping[int, Carton] | None = None) -> CartonPlan | None:
    """How a released order travels; None before the release. ``closed`` saves asking again.

    A closed carton keeps its number and what is in it; what is not packed yet is planned round it. Where a plan has
    fewer cartons now, the closed ones keep the count that stands on their label: see ``CartonOfOrder.old_label``.
    """
    kit = kit_of(order)
    if kit is None:
        return None
    closed = closed_cartons(order) if closed is None else closed
    inside = {number: tuple(drum.shell.serial for drum in carton.drums.all()) for number, carton in closed.items()}
    count = len(kit.packing.nests)
    planned = _numbered(kit, range(1, count + 1), count, closed)
    by_number = {plan.number: set(plan.serials) for plan in planned}
    if all(by_number.get(number) == set(serials) for number, serials in inside.items()):
        return CartonPlan(kit, tuple(planned), spoken(kit.packing.proof), _warnings(kit))
    # A drum was replaced since, or became another: the closed cartons stay as they are.
    rest = kit_of(order, without={serial for serials in inside.values() for serial in serials})
    count = len(closed) + (len(rest.packing.nests) if rest else 0)
    free = [number for number in range(1, max([count, *closed]) + 1) if number not in closed]
    planned = _numbered(rest, free, count, closed) if rest else []
    planned += [_as_closed(carton, count) for carton in closed.values()]
    cartons = tuple(sorted(planned, key=lambda plan: plan.number))
    return CartonPlan(kit, cartons, "", _warnings(rest) if rest else ())


def carton_of(shell: Shell) -> PlannedCarton | None:
    """How a drum travels with the rest of its order; None for one that was scrapped or remade."""
    plan = carton_plan(shell.order)
    return next((each for each in plan.cartons if shell.serial in each.serials), None) if plan else None


def _numbered(kit: Kit, numbers: Iterable[int], count: int, closed: Mapping[int, Carton]) -> list[PlannedCarton]:
    return [
        PlannedCarton(
            number=number,
            of=count,
            counted=closed[number].of if number in closed else count,
            serials=serials,
            names=nest.drums,
            gross_g=gross,
            side_mm=nest.carton_side_mm,
            height_mm=nest.carton_height_mm,
            drawing=drawing,
        )
        for number, nest, serials, gross, drawing in zip(
            numbers, kit.packing.nests, kit.serials, kit.gross_g, kit.nests, strict=False
        )
    ]


def _as_closed(carton: Carton, count: int) -> PlannedCarton:
    shells = [drum.shell for drum in carton.drums.all()]
    names = tuple(name_in_kit(shell) for shell in shells)
    serials = tuple(shell.serial for shell in shells)
    return PlannedCarton(carton.number, count, carton.of, serials, names, carton.gross_g, None, None, "")


def _warnings(kit: Kit) -> tuple[str, ...]:
    return tuple(spoken(warning.message) for warning in kit.packing.warnings)
