"""Better plans: never worse than a dispatched one, the best where it can be counted out, the same every time."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.scheduling.bound import lower_bound
from routing.scheduling.check import faults
from routing.scheduling.dispatch import Rule, dispatch
from routing.scheduling.problem import Job, Kit, Problem, StationHours, Task
from routing.scheduling.solver import solve
from tests.routing.scheduling.shops import DAY, drum_shop

ALWAYS = ((0, 5000),)


def one_machine(rows: list[tuple[int, int, int]]) -> Problem:
    """(work, due, weight) of kits of one shell with one task, all for one station."""
    return Problem(
        5000,
        tuple(Kit(f"k{n}", due, weight) for n, (_, due, weight) in enumerate(rows)),
        tuple(Job(f"s{n}", f"k{n}", (Task(n, "cut", work),)) for n, (work, _, _) in enumerate(rows)),
        (StationHours("cut", 1, 0, ALWAYS),),
    )


def least_lateness(rows: list[tuple[int, int, int]]) -> int:
    """By trying every order."""

    def late(order: tuple[int, ...]) -> int:
        at = total = 0
        for n in order:
            work, due, weight = rows[n]
            at += work
            total += weight * max(0, at - due)
        return total

    return min(late(order) for order in permutations(range(len(rows))))


@settings(max_examples=12)
@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 90), st.integers(1, 5)), min_size=1, max_size=5))
def test_on_one_machine_it_finds_the_least_weighted_lateness(rows: list[tuple[int, int, int]]) -> None:
    problem = one_machine(rows)
    plan = solve(problem, effort=5)
    assert plan.lateness == least_lateness(rows)
    assert plan.is_optimal
    assert plan.bound == plan.lateness
    assert lower_bound(problem) <= plan.lateness


def test_a_kit_that_is_long_overdue_is_solved_too() -> None:
    """Due 9,000 min ago in a horizon of 5,000: the heavier first, 2 · (9,000 + 10) + 9,000 + 40."""
    problem = one_machine([(30, -9000, 1), (10, -9000, 2)])
    plan = solve(problem, effort=5)
    assert (plan.lateness, plan.is_optimal) == (2 * 9010 + 9040, True)


def test_two_places_share_the_work() -> None:
    problem = Problem(
        5000,
        (Kit("k", 0),),
        tuple(Job(f"s{n}", "k", (Task(n, "cut", work),)) for n, work in enumerate((30, 20, 20, 10))),
        (StationHours("cut", 2, 0, ALWAYS),),
    )
    plan = solve(problem, effort=5)
    assert (plan.lateness, plan.is_optimal) == (40, True)
    assert faults(problem, plan) == []


def test_colours_are_sprayed_in_campaigns() -> None:
    """Four shells in two colours, 30 min between colours: one change-over is enough."""
    problem = Problem(
        5000,
        (Kit("k", 0),),
        tuple(Job(f"s{n}", "k", (Task(n, "spray", 10, campaign=colour),)) for n, colour in enumerate("rbrb")),
        (StationHours("spray", 1, 30, ALWAYS),),
    )
    assert solve(problem, effort=5).lateness == 4 * 10 + 30


def test_a_drum_shop_keeps_every_rule_and_is_never_worse() -> None:
    problem = drum_shop(8, days=40)
    best = min(dispatch(problem, rule).lateness for rule in Rule)
    plan = solve(problem, effort=4)
    assert faults(problem, plan) == []
    assert lower_bound(problem) <= plan.bound <= plan.lateness <= best


def test_a_larger_one_is_improved_piece_by_piece() -> None:
    problem = drum_shop(30, days=40)
    seen: list[tuple[float, int, int]] = []

    def watch(progress: float, lateness: int, bound: int) -> bool:
        seen.append((progress, lateness, bound))
        return len(seen) < 4

    plan = solve(problem, effort=8, watch=watch)
    assert faults(problem, plan) == []
    assert len(seen) == 4  # it stopped when it was asked to
    assert [late for _, late, _ in seen] == sorted((late for _, late, _ in seen), reverse=True)
    assert all(bound <= late for _, late, bound in seen)


def test_the_same_input_and_seed_give_the_same_plan() -> None:
    problem = drum_shop(15, days=40)
    first, again = (solve(problem, effort=2.5, seed=7) for _ in range(2))
    assert first == again


def test_a_plan_to_begin_with_is_kept_when_it_is_better() -> None:
    problem = one_machine([(10, 10, 1), (10, 20, 1)])
    begun = dispatch(problem, Rule.DUE)
    assert solve(problem, effort=1, start=begun).lateness == begun.lateness == 0


@pytest.mark.parametrize("jobs", [(), (Job("s", "k", ()),)])
def test_nothing_to_do_is_a_plan_too(jobs: tuple[Job, ...]) -> None:
    problem = Problem(DAY, (Kit("k", 10),), jobs, (StationHours("cut", 1, 0, ((0, DAY),)),))
    plan = solve(problem, effort=1)
    assert (plan.placed, plan.lateness) == ((), 0)
