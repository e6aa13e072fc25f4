"""Plans at once: each rule by hand, and that a plan never breaks one whatever the shop."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.scheduling import dispatch as dispatching
from routing.scheduling.check import faults
from routing.scheduling.dispatch import Rule, dispatch
from routing.scheduling.hours import Hours, merged, without
from routing.scheduling.problem import Job, Kit, Placed, Problem, Schedule, StationHours, Task, Worker
from tests.routing.scheduling.shops import DAY, drum_shop, working_days
from tests.routing.scheduling.test_bound import small_shop

ALWAYS = ((0, 10 * DAY),)


def shop(*jobs: Job, **fields: object) -> Problem:
    """One station of each name the tasks use, open always, one place; every job a kit of its own that is due at 100."""
    names = sorted({task.station for job in jobs for task in job.tasks})
    given: dict[str, object] = {
        "horizon_min": 10 * DAY,
        "kits": tuple(Kit(job.kit, 100) for job in jobs),
        "jobs": jobs,
        "stations": tuple(StationHours(name, 1, 0, ALWAYS) for name in names),
        **fields,
    }
    return Problem(**given)  # type: ignore[arg-type]


def job(key: str, *tasks: Task, **fields: int) -> Job:
    return Job(key, key, tasks, **fields)


def starts(problem: Problem, rule: Rule = Rule.DUE) -> dict[int, int]:
    plan = dispatch(problem, rule)
    assert faults(problem, plan) == []
    return {each.task: each.start_min for each in plan.placed}


def test_a_dwell_runs_through_the_night() -> None:
    """Pressed at 16:00, the glue is dry at 8:00; trimming begins when the shop opens at 8:00."""
    hours = ((480, 990), (DAY + 480, DAY + 990))
    problem = shop(
        job("a", Task(1, "press", 30, 16 * 60, earliest_min=930), Task(2, "trim", 10)),
        stations=(StationHours("press", 1, 0, hours), StationHours("trim", 1, 0, hours)),
    )
    assert starts(problem) == {1: 930, 2: DAY + 480}


def test_work_is_not_broken_off_at_the_end_of_the_day() -> None:
    problem = shop(
        job("a", Task(1, "cut", 40, earliest_min=960)),
        stations=(StationHours("cut", 1, 0, ((480, 990), (DAY + 480, DAY + 990))),),
    )
    assert starts(problem) == {1: DAY + 480}


def test_a_change_over_between_two_colours_and_none_within_one() -> None:
    jobs = [
        job(key, Task(n, "spray", 10, campaign=colour))
        for n, (key, colour) in enumerate([("a", "red"), ("b", "red"), ("c", "blue")])
    ]
    problem = shop(*jobs, stations=(StationHours("spray", 1, 30, ALWAYS),))
    assert starts(problem) == {0: 0, 1: 10, 2: 50}


def test_the_colour_that_is_on_goes_on() -> None:
    """Blue is due first, but red hangs in the booth: another red begins sooner than the change-over allows."""
    jobs = [
        job(key, Task(n, "spray", 10, campaign=colour))
        for n, (key, colour) in enumerate([("a", "red"), ("b", "blue"), ("c", "red")])
    ]
    problem = shop(
        *jobs,
        stations=(StationHours("spray", 1, 30, ALWAYS),),
        kits=(Kit("a", 10), Kit("b", 20), Kit("c", 500)),
    )
    assert starts(problem) == {0: 0, 2: 10, 1: 50}


def test_a_mould_in_use_is_waited_for() -> None:
    pressed = [job(key, Task(n, "press", 20, mould="14", mould_min=100)) for n, key in enumerate("ab")]
    assert starts(shop(*pressed, moulds={"14": 2}, mould_taken={"14": (50,)})) == {0: 0, 1: 50}
    assert starts(shop(*pressed, moulds={"14": 1}, mould_taken={"14": (50, 70)})) == {0: 70, 1: 190}


def test_a_mould_is_held_while_the_glue_sets() -> None:
    pressed = [job(key, Task(n, "press", 20, mould="14", mould_min=100)) for n, key in enumerate("ab")]
    assert starts(shop(*pressed, moulds={"14": 1})) == {0: 0, 1: 120}
    two = shop(*pressed, moulds={"14": 2})
    assert starts(two) == {0: 0, 1: 20}
    in_use = shop(*pressed, moulds={"14": 2}, mould_taken={"14": (500,)})
    assert starts(in_use) == {0: 0, 1: 120}
    early = Schedule((Placed(0, "a", 0, 20, 0), Placed(1, "b", 20, 40, 0)), 0, 60, 0, "x")
    assert faults(in_use, early) == ["more shells are in mould 14 than there are moulds"]
    assert faults(two, early) == []


def test_a_full_drying_room_keeps_the_next_shell_waiting() -> None:
    dried = [job(key, Task(n, "spray", 10, 200, room="dry"), Task(n + 10, "rub", 5)) for n, key in enumerate("ab")]
    found = starts(shop(*dried, rooms={"dry": 1}))
    assert (found[0], found[1]) == (0, 200)  # the second comes in when the first leaves, at 210
    taken = starts(shop(dried[0], rooms={"dry": 1}, room_taken={"dry": (300,)}))
    assert taken[0] == 290


def test_people_do_one_thing_at_a_time_and_only_what_they_may() -> None:
    jobs = (job("a", Task(1, "cut", 30)), job("b", Task(2, "edge", 30)), job("c", Task(3, "edge", 30)))
    ann = Worker("ann", frozenset({"cut", "edge"}), ALWAYS)
    ben = Worker("ben", frozenset({"edge"}), ((60, 500),))
    problem = shop(*jobs, workers=(ann, ben), stations=tuple(StationHours(n, 2, 0, ALWAYS) for n in ("cut", "edge")))
    plan = dispatch(problem, Rule.DUE)
    assert faults(problem, plan) == []
    done = sorted((each.start_min, each.worker) for each in plan.placed)
    assert done == [(0, "ann"), (30, "ann"), (60, "ben")]


def test_what_is_in_work_goes_on_with_who_is_at_it() -> None:
    jobs = (job("a", Task(1, "cut", 30)), job("b", Task(2, "cut", 20, in_work_by="ben")))
    both = tuple(Worker(name, frozenset({"cut"}), ALWAYS) for name in ("ann", "ben"))
    problem = shop(*jobs, workers=both, kits=(Kit("a", 1), Kit("b", 900)))
    plan = dispatch(problem)
    first = min(plan.placed, key=lambda each: each.start_min)
    assert (first.task, first.start_min, first.worker) == (2, 0, "ben")


def test_the_check_finds_what_is_in_work_and_does_not_go_on() -> None:
    both = tuple(Worker(name, frozenset({"cut"}), ALWAYS) for name in ("ann", "ben"))
    problem = shop(job("b", Task(2, "cut", 20, in_work_by="ben")), workers=both)
    assert faults(problem, Schedule((Placed(2, "b", 0, 20, 0, "ben"),), 0, 20, 0, "x")) == []
    later = Schedule((Placed(2, "b", 5, 25, 0, "ben"),), 0, 25, 0, "x")
    assert faults(problem, later) == ["task 2 is in work, but does not go on at once"]
    other = Schedule((Placed(2, "b", 0, 20, 0, "ann"),), 0, 20, 0, "x")
    assert faults(problem, other) == ["task 2 is in work by ben, but ann goes on with it"]
    gone = shop(job("b", Task(2, "cut", 20, in_work_by="zoe")), workers=both)
    assert faults(gone, other) == []  # who began it is not there any more


def test_what_is_in_work_goes_on_after_the_break_before_anything_else() -> None:
    """Ben has a break until 30; nobody else takes the place he left his work at."""
    jobs = (job("a", Task(1, "cut", 60)), job("b", Task(2, "cut", 20, in_work_by="ben")))
    workers = (Worker("ann", frozenset({"cut"}), ALWAYS), Worker("ben", frozenset({"cut"}), ((30, 900),)))
    problem = shop(*jobs, workers=workers, kits=(Kit("a", 1), Kit("b", 900)))
    assert starts(problem) == {2: 30, 1: 50}


def test_the_heavier_of_two_late_kits_goes_first() -> None:
    jobs = (job("a", Task(1, "cut", 60)), job("b", Task(2, "cut", 60)))
    problem = shop(*jobs, kits=(Kit("a", 30, weight=1), Kit("b", 30, weight=9)))
    for rule in Rule:
        assert starts(problem, rule) == {2: 0, 1: 60}
    plan = dispatch(problem)
    assert (plan.lateness, plan.flow) == (9 * 30 + 90, 180)


def test_what_finds_no_place_is_said_to_be_left_out() -> None:
    long = shop(
        job("a", Task(1, "cut", 300)), job("b", Task(2, "cut", 30)), stations=(StationHours("cut", 1, 0, ((0, 120),)),)
    )
    plan = dispatch(long)
    assert plan.left_out == ("a",)
    assert [each.task for each in plan.placed] == [2]
    nobody = shop(job("a", Task(1, "cut", 30)), workers=(Worker("ann", frozenset({"edge"}), ALWAYS),))
    assert dispatch(nobody).left_out == ("a",)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"start_min": 5, "end_min": 15}, "begins before it can"),
        ({"end_min": 31}, "does not take its time"),
        ({"start_min": 20, "end_min": 30, "place": 3}, "has no place 3"),
        ({"worker": "nobody"}, "nobody does task"),
        ({"worker": "ben"}, "without being qualified"),
        ({"start_min": 5000, "end_min": 5010}, "outside"),
    ],
)
def test_the_check_finds_what_is_broken(change: dict[str, Any], said: str) -> None:
    problem = shop(
        job("a", Task(1, "cut", 10), Task(2, "cut", 10)),
        workers=(Worker("ann", frozenset({"cut"}), ((0, 900),)), Worker("ben", frozenset({"edge"}), ALWAYS)),
        stations=(StationHours("cut", 1, 0, ((0, 900),)),),
    )
    plan = dispatch(problem)
    assert faults(problem, plan) == []
    second = replace(plan.placed[1], **change)
    assert any(said in fault for fault in faults(problem, replace(plan, placed=(plan.placed[0], second))))
    assert any("not placed" in fault for fault in faults(problem, replace(plan, placed=plan.placed[:1])))
    assert faults(problem, Schedule((Placed(99, "a", 0, 1, 0),), 0, 0, 0, "x")) == [
        "task 99 is placed, but there is no such task"
    ]


@settings(max_examples=40)
@given(st.integers(1, 30), st.integers(0, 10_000), st.sampled_from(list(Rule)))
def test_no_plan_breaks_a_rule(shells: int, seed: int, rule: Rule) -> None:
    problem = drum_shop(shells, seed=seed)
    plan = dispatch(problem, rule)
    assert faults(problem, plan) == []
    assert plan.left_out == ()
    assert dispatch(problem, rule) == plan


def one_by_one(problem: Problem, rule: Rule) -> list[Placed]:
    """What a dispatcher does, with every waiting step looked at again before each that is placed."""
    taken = dispatching._open(problem)
    kits = {kit.key: kit for kit in problem.kits}
    waiting = {n: (0, max(job.earliest_min, job.tasks[0].earliest_min)) for n, job in enumerate(problem.jobs)}
    placed: list[Placed] = []
    while waiting:
        found = []
        for n, (step, ready) in waiting.items():
            one = problem.jobs[n]
            fit = dispatching._fit(taken, one.tasks[step], ready)
            assert fit is not None
            left = sum(task.work_min + task.dwell_min for task in one.tasks[step:])
            found.append((fit.start, dispatching._pressing(kits[one.kit], left, rule), n, fit))
        _, _, n, fit = min(found, key=lambda each: each[:3])
        one, (step, _) = problem.jobs[n], waiting.pop(n)
        end = fit.start + one.tasks[step].work_min
        dispatching._take(taken, one.tasks[step], fit, end)
        worker = fit.worker.key if fit.worker is not None else ""
        placed.append(Placed(one.tasks[step].key, one.key, fit.start, end, fit.place, worker))
        if step + 1 < len(one.tasks):
            following = one.tasks[step + 1]
            waiting[n] = (step + 1, max(end + one.tasks[step].dwell_min, following.earliest_min))
    return placed


@settings(max_examples=25)
@given(st.integers(1, 16), st.integers(0, 10_000), st.sampled_from(list(Rule)))
def test_looking_at_steps_alike_together_changes_nothing(shells: int, seed: int, rule: Rule) -> None:
    for problem in (drum_shop(shells, seed=seed), small_shop(seed)):
        assert list(dispatch(problem, rule).placed) == one_by_one(problem, rule)


@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 60)).map(lambda w: (w[0], w[0] + w[1])), max_size=8),
    st.integers(0, 220),
    st.integers(1, 40),
)
def test_the_next_fit_is_the_earliest_there_is(windows: list[tuple[int, int]], start: int, length: int) -> None:
    open_ = {minute for first, end in windows for minute in range(first, end)}
    wanted = next((at for at in range(start, 300) if all(at + n in open_ for n in range(length))), None)
    assert Hours(windows).next_fit(start, length) == wanted


@given(
    st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100)), max_size=6),
    st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100)), max_size=6),
)
def test_hours_less_absences(windows: list[tuple[int, int]], holes: list[tuple[int, int]]) -> None:
    def minutes(spans: list[tuple[int, int]]) -> set[int]:
        return {minute for start, end in spans for minute in range(start, end)}

    left = without(windows, holes)
    assert minutes(left) == minutes(windows) - minutes(holes)
    assert left == merged(left)


def test_a_week_has_forty_hours() -> None:
    assert Hours(working_days(7)).total() == 5 * 8 * 60
