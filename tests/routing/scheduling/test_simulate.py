"""The shop over some weeks, held against what can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from routing.scheduling.dispatch import Rule, dispatch, ends_of
from routing.scheduling.problem import Job, Kit, Problem, StationHours, Task, Worker
from routing.scheduling.simulate import Outcome, Trouble, simulate
from tests.routing.scheduling.shops import DAY, drum_shop

DAYS = [(day * DAY + 480, day * DAY + 990) for day in range(28) if day % 7 < 5]
CALM = Trouble(work_low=1.0, work_high=1.0, absent=0.0, down=0.0, sent_back=0.0)


def run(problem: Problem, trouble: Trouble, *, rule: Rule = Rule.DUE, seed: int = 1, margin: int = 0) -> Outcome:
    return simulate(problem, days=DAYS, rule=rule, seed=seed, promised=lambda ready: ready + margin, trouble=trouble)


def one_shell(*tasks: Task) -> Problem:
    hours = tuple(DAYS)
    return Problem(
        horizon_min=28 * DAY,
        kits=(Kit("K", 5 * DAY),),
        jobs=(Job("S", "K", tasks),),
        stations=tuple(StationHours(name, 1, 0, hours) for name in sorted({task.station for task in tasks})),
        workers=(Worker("ann", frozenset(task.station for task in tasks), hours),),
    )


def test_without_trouble_everything_happens_as_planned() -> None:
    problem = drum_shop(40)
    outcome = run(problem, CALM)
    assert len(outcome.kits) >= 3
    assert [kit.happened_min for kit in outcome.kits] == [kit.planned_min for kit in outcome.kits]
    assert (outcome.kept, outcome.sent_back, outcome.breakdowns, outcome.days_missed) == (1.0, 0, 0, 0)


def test_a_shell_that_goes_back_gets_its_last_two_coats_again() -> None:
    coats = [Task(n, "finish", 10, 120, campaign="red", room="drying") for n in (1, 2)]
    problem = replace(one_shell(*coats, Task(3, "pack", 5)), rooms={"drying": 5})
    calm, back = run(problem, CALM), run(problem, replace(CALM, sent_back=1.0))
    # 8:00 coat, 10:10 coat, 12:20 pack; sent back after the second coat, the same once more on the next morning.
    assert [kit.happened_min for kit in calm.kits] == [480 + 130 + 130 + 5]
    assert back.sent_back == 1
    assert [kit.happened_min for kit in back.kits] == [DAY + 745]
    assert back.kept == 0.0
    assert back.late_h == pytest.approx((24.0,))


def test_a_day_missed_moves_the_work_to_the_next() -> None:
    outcome = run(one_shell(Task(1, "cut", 30)), replace(CALM, absent=1.0))
    assert outcome.kits[0].happened_min is None
    assert outcome.days_missed == len(DAYS)
    assert outcome.kept == 0.0


def test_a_margin_keeps_promises() -> None:
    problem = drum_shop(40)
    without, with_margin = (run(problem, Trouble(), margin=margin) for margin in (0, 7 * DAY))
    assert without.kept < with_margin.kept


def test_the_same_seed_brings_the_same_troubles_whatever_the_rule() -> None:
    problem = drum_shop(30)
    first, again = run(problem, Trouble(), seed=5), run(problem, Trouble(), seed=5)
    other = run(problem, Trouble(), seed=5, rule=Rule.SLACK)
    assert first == again
    assert (first.days_missed, first.breakdowns) == (other.days_missed, other.breakdowns)
    assert run(problem, Trouble(), seed=6) != first


def test_the_first_plan_is_the_dispatched_one() -> None:
    problem = drum_shop(20)
    ends = ends_of(problem, dispatch(problem, Rule.DUE).placed)
    kits = {job.kit for job in problem.jobs}
    planned = {kit: max(ends[job.key] for job in problem.jobs if job.kit == kit) for kit in kits}
    for kit in run(problem, Trouble()).kits:
        assert kit.planned_min == planned[kit.kit]
