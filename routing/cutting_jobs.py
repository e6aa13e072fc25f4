"""Asking for a cutting plan, stopping it, and what its maker writes down: the only writers of CuttingJob.

Whoever makes the plan calls :func:`beat` at least every few seconds; when they fall silent, the plan counts as
interrupted and anybody may ask again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from routing.cutting_orders import LeftToCut, PlanProgress, shells_to_cut
from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import CuttingJob, CuttingJobState, Shell
from routing.specs.cutting_plan import CuttingPlan
from routing.specs.jsonable import from_json, to_json
from routing.turnstile import in_turn, writing

KEPT = 30
AT_ONCE = 2  # a plan keeps one core busy; the floor needs the rest
# Kept in English; a page says it in its language.
INTERRUPTED = gettext_noop("The plan was interrupted: the program that made it ended. Make the plan again.")


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What somebody asks for: these orders (none: all of them), due by a day at most (empty: whenever)."""

    orders: tuple[str, ...] = ()
    due_by: str = ""  # as a date is written: 2026-12-18
    kerf_mm: float = 3.2
    seconds: float = 5.0  # for each kind of sheet

    def shells(self) -> list[Shell]:
        return shells_to_cut(orders=self.orders, due_until=date.fromisoformat(self.due_by) if self.due_by else None)


@dataclass(frozen=True, slots=True)
class PlanResult:
    plans: tuple[CuttingPlan, ...] = field(default_factory=tuple)
    left: tuple[LeftToCut, ...] = field(default_factory=tuple)


def ask_for_plan(*, request: PlanRequest, stamp: Stamp) -> tuple[CuttingJob, bool]:
    """The row of a new plan, and True: make it. The same request again finds the one that is being made, and False.

    Raises NotAllowedNow when nothing is left to cut, or when too many plans are being made already.
    """
    asked = to_json(request)
    with in_turn():
        if stamp.tap_key and (same := CuttingJob.objects.filter(tap_key=stamp.tap_key).first()):
            return same, False
        running = _sweep(stamp.received_at)
        for job in running:
            if job.asked == asked and not job.stop_wanted:
                return job, False
        if len(running) >= AT_ONCE:
            many = _("{plans} cutting plans are being made already. Wait until one is ready, or stop one below.")
            raise NotAllowedNow("plans_in_work", many.format(plans=AT_ONCE))
        if not request.shells():
            raise NotAllowedNow(
                "nothing_to_cut",
                _("Nothing of this is left to cut. Choose a later day or other orders, or release one."),
            )
        made = CuttingJob.objects.create(
            asked=asked,
            progress=to_json(PlanProgress()),
            started_at=stamp.received_at,
            started_by=stamp.person_name,
            heard_at=stamp.received_at,
            tap_key=stamp.tap_key,
        )
        kept = [job.pk for job in running] + list(CuttingJob.objects.values_list("pk", flat=True)[:KEPT])
        CuttingJob.objects.exclude(pk__in=kept).delete()
        return made, True


def _sweep(now: datetime) -> list[CuttingJob]:
    """Those that are being made; what was interrupted is closed."""
    open_jobs = list(CuttingJob.objects.filter(state=CuttingJobState.RUNNING))
    dead = [job.pk for job in open_jobs if job.was_interrupted(now)]
    CuttingJob.objects.filter(pk__in=dead).update(state=CuttingJobState.FAILED, error=INTERRUPTED, ended_at=now)
    return [job for job in open_jobs if job.pk not in dead]


def stop_plan(*, pk: int) -> bool:
    """Ask its maker to stop with the best plan so far. False when it was ready already. Twice is as good as once."""
    with writing():
        return bool(CuttingJob.objects.filter(pk=pk, state=CuttingJobState.RUNNING).update(stop_wanted=True))


def beat(*, pk: int, progress: PlanProgress, now: datetime) -> bool:
    """A sign of life and how far it is. False: make no more of it, somebody wants it stopped or it is closed."""
    with writing():
        here = CuttingJob.objects.filter(pk=pk, state=CuttingJobState.RUNNING)
        here.update(progress=to_json(progress), heard_at=now)
        return here.filter(stop_wanted=False).exists()


def finish(*, pk: int, result: PlanResult, now: datetime) -> None:
    plans = result.plans
    together = PlanProgress(
        kind=len(plans),
        kinds=len(plans),
        sheets=sum(len(plan.sheets) for plan in plans),
        lower_bound=sum(plan.lower_bound for plan in plans),
        made=tuple(f"{plan.stock.name}: {plan.summary}" for plan in plans),
    )
    _close(pk, now, state=CuttingJobState.DONE, result=to_json(result), progress=to_json(together))


def give_up(*, pk: int, error: str, now: datetime) -> None:
    """There is no plan; ``error`` says why in a sentence."""
    _close(pk, now, state=CuttingJobState.FAILED, error=error)


def _close(pk: int, now: datetime, **fields: Any) -> None:
    """Only what is being made can end: what was given up as interrupted stays so."""
    with writing():
        CuttingJob.objects.filter(pk=pk, state=CuttingJobState.RUNNING).update(ended_at=now, heard_at=now, **fields)


def request_of(job: CuttingJob) -> PlanRequest:
    return from_json(PlanRequest, job.asked)


def progress_of(job: CuttingJob) -> PlanProgress:
    return from_json(PlanProgress, job.progress)


def result_of(job: CuttingJob) -> PlanResult:
    return PlanResult() if job.result is None else from_json(PlanResult, job.result)


def cut_since(result: PlanResult) -> int:
    """How many shells of a plan need it no more: they are cut by now, or on hold, or scrapped."""
    planned = {serial for order in result.left for serial in order.serials}
    return len(planned - {shell.serial for shell in shells_to_cut(orders=[order.order for order in result.left])})
