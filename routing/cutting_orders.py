"""What is to be cut for shells that are not cut yet, from their frozen specs, as a plan for the saw."""

from __future__ import annotations

import time
from collections.abc import Iterable
from datetime import date

from routing.models import KitOrder, OperationState, OrderState, Shell, ShellSpec, StationKind
from routing.specs.cutting import CuttingResult
from routing.specs.cutting_plan import CuttingPlan, orders_for_shell, plan_release
from routing.specs.cutting_search import Watcher
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json


def shells_to_cut(*, orders: Iterable[str] = (), due_until: date | None = None) -> list[Shell]:
    """Shells whose cut is not signed: of the orders named, else of every released order, else of those due by a day."""
    wanted = list(orders)
    found = Shell.objects.filter(
        operations__station__kind=StationKind.CUT,
        operations__state__in=[OperationState.READY, OperationState.IN_WORK],
    ).select_related("order")
    if wanted:
        found = found.filter(order__number__in=wanted)
    if due_until is not None:
        found = found.filter(order__due__lte=due_until)
    return list(found.order_by("order__due", "pk").distinct())


def orders_to_cut() -> list[KitOrder]:
    """Orders with something left to cut, most urgent first."""
    return list(
        KitOrder.objects.filter(
            state__in=[OrderState.RELEASED, OrderState.IN_PRODUCTION],
            shells__operations__station__kind=StationKind.CUT,
            shells__operations__state__in=[OperationState.READY, OperationState.IN_WORK],
        )
        .distinct()
        .order_by("due", "number")
    )


def plan_cut(
    shells: Iterable[Shell], *, kerf_mm: float = 3.2, time_limit_s: float = 20.0, watch: Watcher | None = None
) -> tuple[CuttingPlan, ...]:
    """A cutting plan for each kind of sheet that these shells need; rough sizes, grain kept. Raises SpecError."""
    specs = {
        spec.shell_id: spec
        for spec in ShellSpec.objects.filter(shell__in=list(shells)).order_by("revision")  # the newest stays
    }
    blanks = [
        order
        for shell in shells
        for order in orders_for_shell(
            shell.serial,
            from_json(DrumInputs, specs[shell.pk].inputs).plates,
            from_json(CuttingResult, specs[shell.pk].results["cutting"]),
        )
    ]
    return plan_release(blanks, kerf_mm=kerf_mm, clock=time.monotonic, time_limit_s=time_limit_s, watch=watch)
