"""The shop over some weeks, held against what can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from routing.scheduling.dispatch import Rule, dispatch, ends_of, work_off
from routing.scheduling.problem import Job, Kit, Problem, Schedule, StationHours, Task, Worker
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


def test_the_morning_knows_nothing_of_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every plan counts on everybody, on every station, and on work that takes as long as usual."""
    problem, planned = drum_shop(20), []

    def watched(known: Problem, rule: Rule) -> Schedule:
        planned.append(known)
        return dispatch(known, rule)

    monkeypatch.setattr("routing.scheduling.simulate.dispatch", watched)
    outcome = run(problem, Trouble(absent=0.5, down=0.5))
    assert outcome.days_missed > 20
    assert outcome.breakdowns > 20
    usual = {task.key: task.work_min for job in problem.jobs for task in job.tasks}
    assert len(planned) == 1 + len(DAYS)
    for known in planned:
        assert known.workers == problem.workers
        assert known.stations == problem.stations
        assert all(usual.get(task.key, task.work_min) == task.work_min for job in known.jobs for task in job.tasks)


def two_cuts(**fields: object) -> Problem:
    hours = ((0, 500),)
    return Problem(
        horizon_min=1000,
        kits=(Kit("A", 100), Kit("B", 200)),
        jobs=(Job("a", "A", (Task(1, "cut", 60),)), Job("b", "B", (Task(2, "cut", 60),))),
        stations=(StationHours("cut", 1, 0, hours),),
        workers=(Worker("ann", frozenset({"cut"}), hours), Worker("ben", frozenset({"cut"}), hours)),
        **fields,  # type: ignore[arg-type]
    )


def test_what_is_begun_goes_on_after_a_breakdown_and_nothing_begins_within_it() -> None:
    """Down from 30 to 50: 60 min begun at 0 end at 80. Down from 60 to 90: the second waits until 90."""
    problem = two_cuts()
    plan = dispatch(problem, Rule.DUE)

    def interrupted(job: Job, task: Task, start: int) -> tuple[int, bool]:
        return (start + 80 if task.key == 1 else start + 60), True

    done = work_off(problem, plan, until=500, down={"cut": (30, 50)}, really=interrupted)
    assert [(each.task, each.start_min, each.end_min) for each in done] == [(1, 0, 80), (2, 80, 140)]
    done = work_off(problem, plan, until=500, down={"cut": (60, 90)}, really=lambda _, task, start: (start + 60, True))
    assert [(each.task, each.start_min) for each in done] == [(1, 0), (2, 90)]
    done = work_off(problem, plan, until=60, down={}, really=lambda _, task, start: (start + 60, True))
    assert [each.task for each in done] == [1]


def test_who_came_works_the_plan_off_in_its_order() -> None:
    problem = two_cuts()
    plan = dispatch(problem, Rule.DUE)
    assert [each.worker for each in plan.placed] == ["ann", "ann"]
    gone = Worker("ann", frozenset({"cut"}), ())
    done = work_off(
        replace(problem, workers=(gone, problem.workers[1]), kits=(Kit("A", 900), Kit("B", 1))),
        plan,
        until=500,
        down={},
        really=lambda _, task, start: (start + 70, True),
    )
    assert [(each.task, each.start_min, each.end_min, each.worker) for each in done] == [
        (1, 0, 70, "ben"),
        (2, 70, 140, "ben"),
    ]


def test_a_breakdown_on_the_day_makes_the_step_that_runs_into_it_longer() -> None:
    """Every station down once a day for 15 min: 500 min of work from 8:00 on run into it and end 15 min later."""
    outcome = run(one_shell(Task(1, "cut", 500)), replace(CALM, down=1.0, down_min=0))
    assert outcome.breakdowns == len(DAYS)
    assert [kit.happened_min for kit in outcome.kits] == [480 + 500 + 15]
