"""The bound holds: no plan undercuts it, on small shops that are solved to the end; and it says something."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.scheduling.bound import chain_ends, lower_bound
from routing.scheduling.dispatch import Rule, dispatch
from routing.scheduling.problem import Job, Kit, Problem, StationHours, Task, Worker
from routing.scheduling.solver import solve
from tests.routing.scheduling.shops import DAY, drum_shop, working_days


def small_shop(seed: int) -> Problem:
    """Two or three kits of one or two shells with everything that can be scarce, over a few short days."""
    draw = random.Random(seed)
    hours = tuple((day * 300, day * 300 + draw.choice([60, 90])) for day in range(20))
    jobs, key = [], 0
    kits = [Kit(f"k{n}", draw.randrange(400), draw.randint(1, 3)) for n in range(draw.randint(2, 3))]
    for kit in kits:
        for shell in range(draw.randint(1, 2)):
            tasks = []
            for station in draw.sample(["press", "edge", "spray"], draw.randint(1, 3)):
                tasks.append(
                    Task(
                        key,
                        station,
                        draw.randint(10, 40),
                        draw.choice([0, 0, 50, 120]),
                        mould="14" if station == "press" else "",
                        mould_min=draw.choice([0, 40, 100]),
                        campaign=draw.choice(["red", "blue"]) if station == "spray" else "",
                        room="dry" if station == "spray" else "",
                    )
                )
                key += 1
            jobs.append(Job(f"{kit.key}-{shell}", kit.key, tuple(tasks), draw.choice([0, 0, 70])))
    people = (
        Worker("ann", frozenset({"press", "edge"}), hours),
        Worker("ben", frozenset({"edge", "spray"}), hours),
    )
    return Problem(
        6000,
        tuple(kits),
        tuple(jobs),
        tuple(
            StationHours(code, draw.randint(1, 2), 15 if code == "spray" else 0, hours)
            for code in ("press", "edge", "spray")
        ),
        people if draw.random() < 0.7 else (),
        moulds={"14": 1},
        mould_taken={"14": (draw.randrange(200),)} if draw.random() < 0.5 else {},
        rooms={"dry": draw.randint(1, 2)},
        room_taken={"dry": (draw.randrange(200),)} if draw.random() < 0.5 else {},
    )


@settings(max_examples=60)
@given(st.integers(0, 1_000_000))
def test_no_plan_undercuts_it(seed: int) -> None:
    problem = small_shop(seed)
    plan = solve(problem, effort=3)
    assert lower_bound(problem) <= plan.lateness
    assert lower_bound(problem, max((each.end_min for each in plan.placed), default=0)) <= plan.lateness


def test_it_often_says_how_late_it_must_be() -> None:
    """Over sixty small shops that are solved to the end: most of what is late is foreseen, and nothing more than that."""
    foreseen = least = 0
    for seed in range(60):
        problem = small_shop(seed)
        plan = solve(problem, effort=3)
        if plan.is_optimal:
            foreseen += lower_bound(problem)
            least += plan.lateness
    assert 0.5 * least < foreseen <= least


def one_machine(rows: list[tuple[int, int, int]]) -> Problem:
    return Problem(
        5000,
        tuple(Kit(f"k{n}", due, weight) for n, (_, due, weight) in enumerate(rows)),
        tuple(Job(f"s{n}", f"k{n}", (Task(n, "cut", work),)) for n, (work, _, _) in enumerate(rows)),
        (StationHours("cut", 1, 0, ((0, 5000),)),),
    )


def test_two_of_one_hour_due_at_once() -> None:
    """By hand: one is an hour late, the other two; the bound comes near it, for its moments are some minutes apart."""
    found = lower_bound(one_machine([(60, 0, 1), (60, 0, 1)]), until=120)
    assert 160 <= found <= 180


def test_a_kit_alone_is_as_late_as_its_longest_shell() -> None:
    """Pressed at 15:30, a day in clamps, trimmed at 16:00 the day after, done 16:10: 70 min after it is due."""
    hours = ((930, 990), (DAY + 480, DAY + 990))
    jobs = (Job("a", "k", (Task(1, "press", 30, DAY), Task(2, "trim", 10))),)
    problem = Problem(
        3 * DAY,
        (Kit("k", DAY + 900, 2),),
        jobs,
        (StationHours("press", 1, 0, hours), StationHours("trim", 1, 0, hours)),
    )
    assert chain_ends(problem) == [[930, DAY + 960, DAY + 970]]
    assert lower_bound(problem) == 2 * 70


def test_what_dwells_already_is_not_begun_before() -> None:
    problem = one_machine([(10, 0, 1)])
    later = replace(problem, jobs=(Job("s0", "k0", (Task(0, "cut", 10, earliest_min=500),)),))
    assert lower_bound(later) == 510


@pytest.mark.parametrize("scarce", ["people", "mould", "room"])
def test_each_scarce_thing_counts(scarce: str) -> None:
    """Six kits due at once, each a shell of two hours' work: with enough of everything nothing is late in a day."""
    hours = ((0, 480), (DAY, DAY + 480), (2 * DAY, 2 * DAY + 480))

    def shop(tight: str) -> Problem:
        return Problem(
            3 * DAY,
            tuple(Kit(f"k{n}", 400) for n in range(6)),
            tuple(
                Job(
                    f"s{n}",
                    f"k{n}",
                    (Task(2 * n, "press", 60, 60, mould="14", mould_min=60, room="dry"), Task(2 * n + 1, "edge", 60)),
                )
                for n in range(6)
            ),
            (StationHours("press", 6, 0, hours), StationHours("edge", 6, 0, hours)),
            tuple(Worker(f"w{n}", frozenset({"press", "edge"}), hours) for n in range(1 if tight == "people" else 6)),
            moulds={"14": 1 if tight == "mould" else 6},
            rooms={"dry": 1 if tight == "room" else 6},
        )

    assert lower_bound(shop("")) == 0
    tight = shop(scarce)
    assert 50 < lower_bound(tight) <= min(dispatch(tight, rule).lateness for rule in Rule)


def test_an_overloaded_shop_is_known_to_be_late() -> None:
    problem = drum_shop(60, days=60)
    rushed = replace(problem, kits=tuple(replace(kit, due_min=7 * DAY) for kit in problem.kits))
    bound = lower_bound(rushed)
    plans = [dispatch(rushed, rule) for rule in Rule]
    assert 0.5 * min(plan.lateness for plan in plans) < bound <= min(plan.lateness for plan in plans)


def test_nothing_to_do_is_not_late() -> None:
    assert lower_bound(Problem(DAY, (Kit("k", 0),), (), (StationHours("cut", 1, 0, working_days(1)),))) == 0
