"""Makes a plan beside the requests, in a thread of the web process, with a database connection of its own.

A process that ends does not wait for it; what it was making then counts as interrupted, and the plan that the rule gave
at once stands.
"""

from __future__ import annotations

import logging
import threading

from django.db import connection
from django.utils import timezone

from quality.plan_people import ending_soon, people_to_plan
from routing.plan_jobs import give_up, make_plan

logger = logging.getLogger(__name__)


def start(pk: int) -> threading.Thread:
    """Begin to make the plan; returns at once."""
    thread = threading.Thread(target=_run, args=(pk,), name=f"plan {pk}", daemon=True)
    thread.start()
    return thread


def _run(pk: int) -> None:
    try:
        run(pk)
    finally:
        connection.close()


def run(pk: int) -> None:
    """Make the plan of a row, however long it takes. Whatever happens ends up in the row."""
    today = timezone.localdate()
    try:
        make_plan(pk=pk, people=people_to_plan(today), notes=ending_soon(today))
    except Exception:
        logger.exception("plan %s", pk)
        give_up(
            pk=pk,
            error="The program has a fault and could not finish this plan; its log says more. What a rule gave stands.",
            now=timezone.now(),
        )
