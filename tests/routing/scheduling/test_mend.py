"""Plans bettered piece by piece: never worse, never against a rule, and the same again for the same seed."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from routing.scheduling.bound import lower_bound
from routing.scheduling.check import faults
from routing.scheduling.dispatch import Rule, dispatch
from routing.scheduling.mend import mend
from routing.scheduling.problem import Job, Kit, Problem, Schedule, StationHours, Task
from tests.routing.scheduling.shops import drum_shop
from tests.routing.scheduling.test_bound import small_shop


def in_work(problem: Problem, seed: int) -> Problem:
    """The same shop with some first steps begun already, each by somebody of their own."""
    draw = random.Random(seed)
    people = [worker for worker in problem.workers if draw.random() < 0.6]
    jobs = list(problem.jobs)
    for worker in people:
        for n, job in enumerate(jobs):
            first = job.tasks[0]
            if not first.in_work_by and first.station in worker.stations and not job.earliest_min:
                begun = replace(first, in_work_by=worker.key, work_min=max(1, first.work_min // 2))
                jobs[n] = replace(job, tasks=(begun, *job.tasks[1:]))
                break
    return replace(problem, jobs=tuple(jobs))


@settings(max_examples=80)
@given(st.integers(0, 1_000_000), st.sampled_from(list(Rule)))
def test_it_breaks_no_rule_and_is_never_worse(seed: int, rule: Rule) -> None:
    problem = in_work(small_shop(seed), seed)
    start = dispatch(problem, rule)
    assert faults(problem, start) == []
    better = mend(problem, start, steps=400, seed=seed)
    assert faults(problem, better) == []
    assert better.left_out == start.left_out
    assert (better.lateness, better.flow) <= (start.lateness, start.flow)
    assert lower_bound(problem) <= better.lateness


def test_an_order_that_is_wrong_is_put_right() -> None:
    """One machine, a long job that is not due before a short one that is: by hand 10 + 60, nothing late."""
    machine = StationHours("cut", 1, 0, ((0, 1000),))
    long, short = Job("l", "l", (Task(1, "cut", 60),)), Job("s", "s", (Task(2, "cut", 10),))
    problem = Problem(1000, (Kit("l", 500), Kit("s", 10)), (long, short), (machine,))
    wrong = dispatch(replace(problem, kits=(Kit("l", 1), Kit("s", 10))), Rule.DUE)
    start = Schedule(wrong.placed, 60, 60 + 70, 0, "by hand")
    better = mend(problem, start, steps=50, seed=1)
    assert (better.lateness, better.flow) == (0, 10 + 70)
    assert {each.task: each.start_min for each in better.placed} == {2: 0, 1: 10}


def test_an_overloaded_shop_gains_and_repeats_itself() -> None:
    problem = drum_shop(60)
    problem = replace(problem, kits=tuple(replace(kit, due_min=kit.due_min - 8 * 1440) for kit in problem.kits))
    start = min((dispatch(problem, rule) for rule in Rule), key=lambda plan: plan.lateness)
    better, again = (mend(problem, start, steps=20_000, seed=3) for _ in range(2))
    assert better == again
    assert faults(problem, better) == []
    assert better.lateness < 0.97 * start.lateness
    assert better.found_by == "solver"


def test_it_stops_when_it_is_asked_to() -> None:
    problem = drum_shop(40)
    start = dispatch(problem, Rule.DUE)
    seen: list[float] = []

    def going(progress: float, lateness: int) -> bool:
        seen.append(progress)
        assert lateness <= start.lateness
        return len(seen) < 2

    stopped = mend(problem, start, steps=10**9, seed=1, going=going)
    assert len(seen) == 2
    assert faults(problem, stopped) == []


def test_what_cannot_be_bettered_stays_as_it_was() -> None:
    problem = Problem(
        100, (Kit("k", 50),), (Job("s", "k", (Task(1, "cut", 10),)),), (StationHours("cut", 1, 0, ((0, 100),)),)
    )
    start = dispatch(problem, Rule.DUE)
    assert mend(problem, start, steps=20, seed=1) is start
