"""Each run rule on a row of points that meets it just so, and on one that just does not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quality.statistics import RULES, run_signals


def rules_of(values: list[float], *, zones: bool = True) -> list[tuple[int, int]]:
    size = len(values)
    return [(s.place, s.rule) for s in run_signals(values, [0.0] * size, [1.0] * size, zones=zones)]


@pytest.mark.parametrize(
    ("values", "rule", "place"),
    [
        ([0.0, 3.1], 1, 1),
        ([0.0, -3.1], 1, 1),
        ([2.1, 0.5, 2.1], 2, 2),
        ([-2.1, 2.5, -2.1], 2, 2),
        ([1.1, 1.1, -0.5, 1.1, 1.1], 3, 4),
        ([0.1] * 8, 4, 7),
        ([-0.1] * 8, 4, 7),
        ([-0.5, -0.4, -0.2, 0.1, 0.3, 0.4], 5, 5),
        ([0.5, 0.4, 0.2, 0.1, -0.3, -0.4], 5, 5),
    ],
)
def test_a_rule_that_is_met(values: list[float], rule: int, place: int) -> None:
    assert (place, rule) in rules_of(values)


@pytest.mark.parametrize(
    ("values", "rule"),
    [
        ([0.0, 3.0], 1),  # on the limit is not beyond it
        ([2.1, 0.5, 2.0], 2),
        ([2.1, 0.5, -2.1], 2),
        ([1.1, 1.1, -0.5, 1.0, 1.1], 3),
        ([0.1] * 7, 4),
        ([0.1] * 4 + [0.0] + [0.1] * 4, 4),  # on the centre is on neither side
        ([0.1, 0.2, 0.3, 0.4, 0.5], 5),
        ([0.1, 0.2, 0.3, 0.3, 0.4, 0.5], 5),
    ],
)
def test_a_rule_that_is_just_not_met(values: list[float], rule: int) -> None:
    assert rule not in [each for _, each in rules_of(values)]


def test_zones_are_left_out_where_the_spread_lies_skew() -> None:
    assert {rule for _, rule in rules_of([2.1, 2.1, 2.1, 1.1, 1.1], zones=False)} == set()


def test_a_spread_of_nothing() -> None:
    assert run_signals([1.0, 1.0], [1.0, 1.0], [0.0, 0.0]) == ()
    assert [s.rule for s in run_signals([1.0, 2.0], [1.0, 1.0], [0.0, 0.0])] == [1]


@given(st.lists(st.floats(-5, 5, allow_nan=False), max_size=40))
def test_the_mirror_image_signals_at_the_same_places(values: list[float]) -> None:
    assert rules_of(values) == rules_of([-value for value in values])
    assert all(rule in RULES and 0 <= place < len(values) for place, rule in rules_of(values))
