"""Making a plan of the work: asking for one, writing it down, stopping it. The only writers of Plan and PlannedStep.

First a dispatch rule gives a plan at once, which orders the work lists from then on; then the solver betters it in the
same row. Whoever makes it calls back at least every few seconds; when they fall silent, anybody may ask again.
"""

from __future__ import annotations

import hashlib
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.utils import timezone

from routing.due import at_risk_after
from routing.history import Stamp
from routing.languages import for_the_record
from routing.models import Plan, PlannedStep, PlanState
from routing.plan_problem import PlanPerson, ShopProblem, problem_of, shortened
from routing.scheduling.dispatch import Rule, dispatch, ends_of
from routing.scheduling.problem import Schedule
from routing.scheduling.solver import solve
from routing.turnstile import in_turn, writing

KEPT = 20
PATIENCE = 3.0  # how many times its time limit a plan may take by the clock, on a machine that has other work
Clock = Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class KitInPlan:
    """When a kit is ready by a plan."""

    order: str
    ready_at: datetime
    due_at: datetime
    at_risk_from: datetime  # ready later than this, less than a working day is to spare
    last: str  # the shell that is ready last: it holds up the kit

    @property
    def is_late(self) -> bool:
        return self.ready_at > self.due_at

    @property
    def is_at_risk(self) -> bool:
        return not self.is_late and self.ready_at > self.at_risk_from


def quick_plan(shop: ShopProblem) -> Schedule:
    """The best plan that the dispatch rules give, at once."""
    plans = [dispatch(shop.problem, rule) for rule in Rule]
    return min(plans, key=lambda plan: (len(plan.left_out), plan.lateness, plan.flow))


def present_problem(now: datetime, people: Sequence[PlanPerson], **changes: Any) -> tuple[ShopProblem, Schedule]:
    """The shop as it is and a plan by rule."""
    shop = problem_of(now=now, people=people, **changes)
    return shop, quick_plan(shop)


def kits_in(shop: ShopProblem, schedule: Schedule) -> list[KitInPlan]:
    """Every kit of a plan by its due date, the most pressing first. Kits with a shell that finds no place are left out."""
    ends = ends_of(shop.problem, schedule.placed)
    last: dict[str, tuple[int, str]] = {}
    incomplete: set[str] = set()
    for job in shop.problem.jobs:
        if job.key not in ends:
            incomplete.add(job.kit)
        else:
            last[job.kit] = max(last.get(job.kit, (-1, "")), (ends[job.key], job.key))
    found = [
        KitInPlan(
            order=kit.key,
            ready_at=shop.at(last[kit.key][0]),
            due_at=shop.at(kit.due_min),
            at_risk_from=at_risk_after(shop.at(kit.due_min), shop.hours),
            last=last[kit.key][1],
        )
        for kit in shop.problem.kits
        if kit.key in last and kit.key not in incomplete
    ]
    return sorted(found, key=lambda kit: (kit.due_at, kit.order))


def ask_for_plan(*, time_limit_s: float, seed: int, stamp: Stamp) -> tuple[Plan, bool]:
    """The row of a new plan, and True: make it. While one is being made, that one, and False."""
    with in_turn():
        for plan in Plan.objects.filter(state=PlanState.RUNNING):
            if plan.is_running(stamp.received_at):
                return plan, False
            _end(plan, PlanState.FAILED, stamp.received_at, "It was interrupted: the program that made it ended.")
        made = Plan.objects.create(
            made_at=stamp.received_at,
            heard_at=stamp.received_at,
            made_by_name=stamp.person_name,
            seed=seed,
            time_limit_s=time_limit_s,
            message="reading what is to be done",
        )
        kept = list(Plan.objects.filter(is_current=False).values_list("pk", flat=True)[:KEPT])
        Plan.objects.filter(is_current=False).exclude(pk__in=kept).delete()
        return made, True


def stop_plan(*, pk: int) -> bool:
    """Ask its maker to stop with the best plan so far. False when it had ended. Twice is as good as once."""
    with writing():
        return bool(Plan.objects.filter(pk=pk, state=PlanState.RUNNING).update(stop_wanted=True))


def make_plan(*, pk: int, people: Sequence[PlanPerson], notes: Sequence[str] = (), clock: Clock = timezone.now) -> None:
    """Make the plan of a row. ``people`` as they may be planned for, ``notes`` more of what the plan counts on."""
    plan = Plan.objects.get(pk=pk)
    began = time.monotonic()
    with for_the_record():  # its notes are stored
        shop, quick = present_problem(plan.made_at, people)
    shop = replace(shop, notes=(*shop.notes, *notes))
    if not shop.problem.jobs:
        give_up(pk=pk, now=clock(), error="There is nothing to plan: no released shell has an open step.")
        return
    _keep(pk, shop, quick, clock(), time.monotonic() - began, is_final=False)
    if not quick.placed or plan.time_limit_s <= 0:
        _close(pk, PlanState.READY, clock(), time.monotonic() - began, stopped=False)
        return
    smaller = shortened(shop, max(placed.end_min for placed in quick.placed))
    stopped = False

    def watch(progress: float, lateness: int, bound: int) -> bool:
        nonlocal stopped
        wanted = _beat(pk, clock(), progress, lateness, bound, time.monotonic() - began)
        stopped = not wanted or time.monotonic() - began > PATIENCE * plan.time_limit_s + 10
        return not stopped

    better = solve(smaller.problem, effort=plan.time_limit_s, seed=plan.seed, watch=watch, start=quick)
    _keep(pk, shop, better, clock(), time.monotonic() - began, is_final=True)
    _close(pk, PlanState.STOPPED if stopped else PlanState.READY, clock(), time.monotonic() - began, stopped=stopped)


def give_up(*, pk: int, error: str, now: datetime) -> None:
    """There is no better plan; ``error`` says why in a sentence."""
    with writing():
        for plan in Plan.objects.filter(pk=pk, state=PlanState.RUNNING):
            _end(plan, PlanState.FAILED, now, error)


def _keep(pk: int, shop: ShopProblem, schedule: Schedule, now: datetime, elapsed_s: float, *, is_final: bool) -> None:
    """Write a schedule into the row of its plan, in place of an earlier one; from now on it orders the work lists."""
    steps = _steps(pk, shop, schedule)
    with writing():
        if not Plan.objects.filter(pk=pk, state=PlanState.RUNNING).exists():
            return  # somebody gave it up as interrupted meanwhile
        Plan.objects.exclude(pk=pk).filter(is_current=True).update(is_current=False)
        PlannedStep.objects.filter(plan_id=pk).delete()
        PlannedStep.objects.bulk_create(steps, batch_size=500)
        Plan.objects.filter(pk=pk).update(
            is_current=True,
            heard_at=now,
            found_by=schedule.found_by,
            objective=schedule.lateness / 60,
            bound=schedule.bound / 60,
            elapsed_s=elapsed_s,
            progress_pct=100 if is_final else 0,
            message="" if is_final else "looking for a better one",
            input_hash=hashlib.sha256(repr(shop.problem).encode()).hexdigest(),
            summary={
                "begins": shop.begins.isoformat(),
                "proved": schedule.is_optimal,
                "notes": list(shop.notes),
                "on_hold": list(shop.on_hold),
                "left_out": list(schedule.left_out),
                "shells": len(shop.problem.jobs),
                "steps": len(steps),
                "kits": [
                    {
                        "order": kit.order,
                        "ready_at": kit.ready_at.isoformat(),
                        "due_at": kit.due_at.isoformat(),
                        "last": kit.last,
                        "late": kit.is_late,
                        "at_risk": kit.is_at_risk,
                    }
                    for kit in kits_in(shop, schedule)
                ],
            },
        )


def _steps(pk: int, shop: ShopProblem, schedule: Schedule) -> list[PlannedStep]:
    tasks = {task.key: task for job in shop.problem.jobs for task in job.tasks}
    campaigns: dict[tuple[str, int], tuple[str, int]] = {}
    numbers: dict[str, int] = defaultdict(int)
    steps = []
    for placed in sorted(schedule.placed, key=lambda each: (each.start_min, each.task)):
        task = tasks[placed.task]
        where = (task.station, placed.place)
        if task.campaign and campaigns.get(where, ("", 0))[0] != task.campaign:
            numbers[task.station] += 1
            campaigns[where] = (task.campaign, numbers[task.station])
        steps.append(
            PlannedStep(
                plan_id=pk,
                operation_id=placed.task,
                station=shop.stations[task.station],
                starts_at=shop.at(placed.start_min),
                ends_at=shop.at(placed.end_min),
                person_id=int(placed.worker) if placed.worker else None,
                campaign=task.campaign[:80],
                campaign_number=campaigns.get(where, ("", 0))[1] if task.campaign else 0,
            )
        )
    return steps


def _beat(pk: int, now: datetime, progress: float, lateness: int, bound: int, elapsed_s: float) -> bool:
    with writing():
        here = Plan.objects.filter(pk=pk, state=PlanState.RUNNING)
        here.update(
            heard_at=now,
            progress_pct=round(100 * min(1.0, max(0.0, progress))),
            objective=lateness / 60,
            bound=bound / 60,
            elapsed_s=elapsed_s,
        )
        return here.filter(stop_wanted=False).exists()


def _close(pk: int, state: PlanState, now: datetime, elapsed_s: float, *, stopped: bool) -> None:
    with writing():
        Plan.objects.filter(pk=pk, state=PlanState.RUNNING).update(
            state=state,
            heard_at=now,
            elapsed_s=elapsed_s,
            message="stopped with the best plan so far" if stopped else "",
        )


def _end(plan: Plan, state: PlanState, now: datetime, message: str) -> None:
    Plan.objects.filter(pk=plan.pk).update(state=state, heard_at=now, message=message[:300])
