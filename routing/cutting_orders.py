"""What is to be cut for shells that are not cut yet, from their frozen specs, as a plan for the saw."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import QuerySet

from routing.models import Operation, OperationState, Shell, ShellSpec, ShellState, StationKind
from routing.specs.cutting import CuttingResult
from routing.specs.cutting_plan import BlankOrder, CuttingPlan, StockSheet, orders_for_shell, plan_release
from routing.specs.cutting_search import Progress
from routing.specs.inputs import PlateInputs
from routing.specs.jsonable import from_json

Blanks = list[tuple[StockSheet, BlankOrder]]
_NEVER_CUT = [ShellState.SCRAPPED, ShellState.REMADE]
LONGEST_AFTER_STOP_S = 1e9  # how far the clock jumps when somebody stops the plan: past every limit


@dataclass(frozen=True, slots=True)
class LeftToCut:
    """What an order has left to cut."""

    order: str
    customer: str
    due: str  # as a date is written: 2026-12-18
    serials: tuple[str, ...]
    blanks: int


@dataclass(frozen=True, slots=True)
class PlanProgress:
    """How far the plans of all kinds of sheet are."""

    kind: int = 0  # the kind of sheet that is planned now, from 1; 0: the specs are being read
    kinds: int = 0
    stock: str = ""
    step: str = ""
    sheets: int = 0  # of the best plan of this kind so far
    lower_bound: int = 0
    made: tuple[str, ...] = field(default_factory=tuple)  # one line for each kind that is planned


Watcher = Callable[[PlanProgress], bool]
Clock = Callable[[], float]


def _cuts_to_do() -> QuerySet[Operation]:
    return Operation.objects.current().filter(station__kind=StationKind.CUT).exclude(state=OperationState.ON_HOLD)


def shells_to_cut(*, orders: Iterable[str] = (), due_until: date | None = None) -> list[Shell]:
    """Shells whose cut is not signed: of the orders named, else of every released order; those due by a day at most."""
    wanted = list(orders)
    found = Shell.objects.filter(operations__in=_cuts_to_do()).exclude(state__in=_NEVER_CUT)
    if wanted:
        found = found.filter(order__number__in=wanted)
    if due_until is not None:
        found = found.filter(order__due__lte=due_until)
    return list(found.select_related("order").order_by("order__due", "order__number", "pk").distinct())


def blanks_to_cut(shells: Iterable[Shell]) -> Blanks:
    """The blanks of these shells in rough sizes, each with the sheet it is cut from, as their newest specs say."""
    wanted = list(shells)
    newest = {
        pk: (inputs, results)
        for pk, inputs, results in ShellSpec.objects.filter(shell__in=wanted)
        .order_by("revision")  # the newest stays
        .values_list("shell_id", "inputs__plates", "results__cutting")
    }
    blanks: Blanks = []
    for shell in wanted:
        plates, cutting = newest[shell.pk]
        blanks += orders_for_shell(shell.serial, _plates(plates), from_json(CuttingResult, cutting))
    return blanks


def _plates(data: Any) -> Sequence[PlateInputs]:
    return [from_json(PlateInputs, plate) for plate in data]


def left_to_cut(shells: Iterable[Shell], blanks: Blanks) -> tuple[LeftToCut, ...]:
    """The shells and blanks of each order, in the order of the shells."""
    pieces: Counter[str] = Counter()
    for _, blank in blanks:
        pieces[blank.label.partition(" ")[0]] += blank.quantity
    by_order: dict[str, list[Shell]] = {}
    for shell in shells:
        by_order.setdefault(shell.order.number, []).append(shell)
    return tuple(
        LeftToCut(
            order=number,
            customer=group[0].order.customer,
            due=group[0].order.due.isoformat(),
            serials=tuple(shell.serial for shell in group),
            blanks=sum(pieces[shell.serial] for shell in group),
        )
        for number, group in by_order.items()
    )


def plan_cut(
    shells: Iterable[Shell], *, kerf_mm: float = 3.2, time_limit_s: float = 20.0, watch: Watcher | None = None
) -> tuple[CuttingPlan, ...]:
    """A cutting plan for each kind of sheet that these shells need; rough sizes, grain kept. Raises SpecError."""
    return plan_blanks(blanks_to_cut(shells), kerf_mm=kerf_mm, time_limit_s=time_limit_s, watch=watch)


def plan_blanks(
    blanks: Blanks,
    *,
    kerf_mm: float,
    time_limit_s: float,
    watch: Watcher | None = None,
    clock: Clock = time.monotonic,
) -> tuple[CuttingPlan, ...]:
    """As :func:`plan_cut`, without a database. The time limit is for each kind of sheet.

    When ``watch`` returns False every kind keeps the best plan found by then; kinds that were not begun get a first one.
    """
    groups: dict[StockSheet, Blanks] = {}
    for stock, order in blanks:
        groups.setdefault(stock, []).append((stock, order))
    kinds = sorted(groups, key=lambda one: (one.name, one.length_mm, one.width_mm))
    plans: list[CuttingPlan] = []
    stopped = False

    def now() -> float:
        return clock() + (LONGEST_AFTER_STOP_S if stopped else 0.0)

    for number, stock in enumerate(kinds, start=1):
        made = tuple(f"{plan.stock.name}: {plan.summary}" for plan in plans)

        def tell(
            progress: Progress, number: int = number, stock: StockSheet = stock, made: tuple[str, ...] = made
        ) -> bool:
            nonlocal stopped
            told = PlanProgress(
                number, len(kinds), stock.name, progress.step, progress.sheets, progress.lower_bound, made
            )
            if watch is not None and not watch(told):
                stopped = True
            return not stopped

        plans += plan_release(groups[stock], kerf_mm=kerf_mm, clock=now, time_limit_s=time_limit_s, watch=tell)
    return tuple(plans)
