"""Makes a cutting plan beside the requests, in two threads of the web process.

One computes and knows no database. The other reads what is to be cut, writes the progress down every second, passes on
the wish to stop, and keeps the result; its database connection is its own and is closed at the end. Both are daemons: a
process that ends does not wait for them, and what they were making then shows as interrupted.
"""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass, field

from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext_noop

from routing.cutting_jobs import PlanRequest, PlanResult, beat, finish, give_up, request_of
from routing.cutting_orders import Blanks, PlanProgress, blanks_to_cut, left_to_cut, plan_blanks
from routing.models import CuttingJob
from routing.specs.cutting_plan import CuttingPlan
from routing.specs.errors import SpecError

logger = logging.getLogger(__name__)
BETWEEN_BEATS_S = 1.0
READ_AT_A_TIME = 500  # shells; about half a second
# Kept in English; a page says it in its language.
FAULT = gettext_noop("The program has a fault and could not make this plan; its log says more. Try fewer orders.")


@dataclass
class Sum:
    """What the two threads share. Each field is written by one of them only."""

    request: PlanRequest
    blanks: Blanks
    stop: threading.Event = field(default_factory=threading.Event)
    progress: PlanProgress = field(default_factory=PlanProgress)
    plans: tuple[CuttingPlan, ...] | None = None
    fault: Exception | None = None

    def compute(self) -> None:
        try:
            self.plans = plan_blanks(
                self.blanks, kerf_mm=self.request.kerf_mm, time_limit_s=self.request.seconds, watch=self._watch
            )
        except Exception as fault:  # noqa: BLE001 (whatever it was, the other thread says so)
            self.fault = fault

    def _watch(self, progress: PlanProgress) -> bool:
        self.progress = progress
        return not self.stop.is_set()


def start(pk: int) -> threading.Thread:
    """Begin to make the plan; returns at once."""
    thread = threading.Thread(target=_run, args=(pk,), name=f"cutting plan {pk}", daemon=True)
    thread.start()
    return thread


def _run(pk: int) -> None:
    try:
        make_plan(pk)
    finally:
        connection.close()


def make_plan(pk: int) -> None:
    """Make the plan of a row, however long it takes. Whatever happens ends up in the row."""
    try:
        result = _result(pk)
    except SpecError as error:
        give_up(pk=pk, error=error.message, now=timezone.now())
    except Exception:
        logger.exception("cutting plan %s", pk)
        give_up(pk=pk, error=FAULT, now=timezone.now())
    else:
        finish(pk=pk, result=result, now=timezone.now())


def _result(pk: int) -> PlanResult:
    request = request_of(CuttingJob.objects.get(pk=pk))
    shells = request.shells()
    blanks: Blanks = []
    for first in range(0, len(shells), READ_AT_A_TIME):
        blanks += blanks_to_cut(shells[first : first + READ_AT_A_TIME])
        beat(pk=pk, progress=PlanProgress(), now=timezone.now())
    work = Sum(request, blanks)
    left = left_to_cut(shells, work.blanks)
    computing = threading.Thread(target=work.compute, name=f"cutting plan {pk}, sums", daemon=True)
    computing.start()
    try:
        while computing.is_alive():
            if not beat(pk=pk, progress=work.progress, now=timezone.now()):
                work.stop.set()
            computing.join(BETWEEN_BEATS_S)
    finally:
        work.stop.set()  # should the database be gone, nobody waits for the plan
    if work.fault is not None:
        raise work.fault
    assert work.plans is not None
    return PlanResult(work.plans, left)
