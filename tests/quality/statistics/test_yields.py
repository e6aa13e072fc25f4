"""Yields, ratios, Pareto, times and capability."""

from __future__ import annotations

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quality.statistics import (
    StatisticsError,
    capability,
    first_pass_yield,
    pareto,
    rework_ratio,
    rolled_yield,
    scrap_ratio,
    spread_of_times,
)
from quality.statistics.capability import ALL_ALIKE, FEW_READINGS, MOVES_ABOUT


def test_a_ratio_of_nothing_is_not_known() -> None:
    assert first_pass_yield(0, 0) is None
    assert rework_ratio(0, 0) is None
    assert scrap_ratio(0, 0) is None
    assert rolled_yield([0.9, None]) is None
    assert rolled_yield([]) == 1.0


@pytest.mark.parametrize(("some", "all_"), [(3, 2), (-1, 2), (0, -1)])
def test_more_than_all_is_refused(some: int, all_: int) -> None:
    with pytest.raises(StatisticsError):
        first_pass_yield(some, all_)


@given(st.dictionaries(st.text(min_size=1), st.integers(0, 1000)))
def test_a_pareto_falls_and_ends_at_one(counts: dict[str, int]) -> None:
    bars = pareto(counts)
    assert [bar.count for bar in bars] == sorted((n for n in counts.values() if n), reverse=True)
    if bars:
        assert bars[-1].running == pytest.approx(1)
        assert math.fsum(bar.share for bar in bars) == pytest.approx(1)


@given(st.lists(st.floats(0, 1e6), min_size=2))
def test_quartiles_are_those_of_another_tool(times: list[float]) -> None:
    found = spread_of_times(times)
    assert found is not None
    quarter, median, three = statistics.quantiles(times, n=4, method="inclusive")
    assert (found.quarter, found.median, found.three_quarters) == pytest.approx((quarter, median, three))
    assert spread_of_times([]) is None


def test_capability_by_hand() -> None:
    """Readings 9, 10, 11: mean 10, s 1. Limits 7 and 12, sigma within 0.5."""
    found = capability([9, 10, 11], low=7, high=12, sigma_within=0.5)
    assert (found.cp, found.cpk) == pytest.approx((5 / 3, 2 / 1.5))
    assert (found.pp, found.ppk) == pytest.approx((5 / 6, 2 / 3))
    assert found.outside == 0
    assert found.cautions == (FEW_READINGS,)


def test_one_limit_counts_its_side_alone() -> None:
    found = capability([9, 10, 11], low=None, high=10.5, sigma_within=0.5)
    assert (found.cp, found.pp) == (None, None)
    assert found.cpk == pytest.approx(0.5 / 1.5)
    assert found.outside == 1


def test_a_mean_outside_has_a_negative_cpk_and_no_spread_has_none() -> None:
    assert (capability([9, 10, 11], low=None, high=9, sigma_within=0.5).cpk or 0) < 0
    flat = capability([5, 5, 5], low=4, high=6, sigma_within=0)
    assert (flat.cp, flat.cpk, flat.ppk) == (None, None, None)
    assert ALL_ALIKE in flat.cautions


def test_a_process_that_moves_about_is_said_to() -> None:
    assert MOVES_ABOUT in capability([1, 2], low=0, high=3, sigma_within=1, in_control=False).cautions


@pytest.mark.parametrize(
    ("values", "low", "high"), [([1.0], 0.0, 2.0), ([1.0, 2.0], None, None), ([1.0, 2.0], 2.0, 1.0)]
)
def test_what_has_no_capability(values: list[float], low: float | None, high: float | None) -> None:
    with pytest.raises(StatisticsError):
        capability(values, low=low, high=high, sigma_within=1)


@given(st.lists(st.floats(0, 10), min_size=2, max_size=30), st.floats(0.1, 5))
def test_cpk_is_never_above_cp(values: list[float], sigma: float) -> None:
    found = capability(values, low=0, high=10, sigma_within=sigma)
    assert found.cp is not None and found.cpk is not None
    assert found.cpk <= found.cp + 1e-9
