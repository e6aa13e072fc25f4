"""Control charts: what they say of made-up processes, and what must hold of any."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from quality.statistics import (
    Chart,
    StatisticsError,
    count_chart,
    individuals_chart,
    means_chart,
    proportion_chart,
)
from quality.statistics.charts import D2, D3

readings = st.lists(st.floats(-1000, 1000, allow_nan=False), min_size=2, max_size=60)


@pytest.mark.parametrize("size", range(2, 11))
def test_the_constants_are_those_of_a_normal_distribution(size: int) -> None:
    """Mean and standard deviation of the range, integrated over the distribution itself."""

    def cdf_of_range(width: float) -> float:
        def inside(x: float) -> float:
            between = stats.norm.cdf(x + width) - stats.norm.cdf(x)
            return float(size * stats.norm.pdf(x) * between ** (size - 1))

        return float(integrate.quad(inside, -8, 8, limit=200)[0])

    mean = integrate.quad(lambda w: 1 - cdf_of_range(w), 0, 10, limit=100)[0]
    square = integrate.quad(lambda w: 2 * w * (1 - cdf_of_range(w)), 0, 10, limit=100)[0]
    assert D2[size] == pytest.approx(mean, abs=6e-4)
    assert D3[size] == pytest.approx((square - mean**2) ** 0.5, abs=6e-4)


def test_means_and_ranges_by_hand() -> None:
    """Means 2, 3, 4; ranges 2, 4, 3: R̄ = 3, sigma = 3/1.693, limits 3 ± 3·sigma/√3."""
    chart = means_chart([[1, 2, 3], [1, 3, 5], [3, 3, 6]])
    level, spread = chart.panels
    assert list(level.values) == [2, 3, 4]
    assert list(spread.values) == [2, 4, 3]
    assert chart.sigma == pytest.approx(3 / 1.693)
    assert level.high[0] == pytest.approx(3 + 1.023 * 3, abs=0.002)
    assert level.low[0] == pytest.approx(3 - 1.023 * 3, abs=0.002)
    assert spread.high[0] == pytest.approx(2.574 * 3, abs=0.003)
    assert spread.low[0] is None


def test_limits_of_a_proportion_follow_the_size_of_each_group() -> None:
    panel = proportion_chart([1, 1, 0], [10, 40, 10]).panels[0]
    assert panel.centre[0] == pytest.approx(2 / 60)
    assert panel.high[1] < panel.high[0] == panel.high[2]
    assert panel.low == (None, None, None)


def test_a_moving_range_begins_with_the_second_reading() -> None:
    chart = individuals_chart([1.0, 4.0, 2.0])
    assert chart.panels[1].values == (3.0, 2.0)
    assert chart.panels[1].first == 1


def test_a_process_left_alone_seldom_signals_and_a_moved_one_does() -> None:
    draw = random.Random(5)
    steady = [draw.gauss(10, 1) for _ in range(200)]
    moved = steady[:100] + [value + 4 for value in steady[100:130]]
    alone = len({signal.place for signal in individuals_chart(steady).panels[0].signals})
    assert alone <= 12  # the rules together answer about 1 in 90 on their own, and runs answer several times
    assert {signal.rule for signal in individuals_chart(moved).panels[0].signals} >= {1, 4}


@given(readings, st.floats(-500, 500), st.floats(0.1, 10))
def test_a_shift_shifts_and_a_scale_scales(values: list[float], shift: float, scale: float) -> None:
    before = individuals_chart(values)
    after = individuals_chart([value * scale + shift for value in values])
    assert after.sigma == pytest.approx(before.sigma * scale, abs=1e-6)
    assert after.panels[0].centre[0] == pytest.approx(before.panels[0].centre[0] * scale + shift, abs=1e-6)
    assert after.panels[0].high[0] == pytest.approx(before.panels[0].high[0] * scale + shift, abs=1e-5)


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), min_size=2, max_size=40))
def test_limits_enclose_the_centre(groups: list[tuple[int, int]]) -> None:
    found = [some for some, _ in groups]
    charts: list[Chart] = [
        count_chart(found),
        proportion_chart(found, [some + more + 1 for some, more in groups]),
        individuals_chart([float(n) for n in found]),
    ]
    for panel in (panel for chart in charts for panel in chart.panels):
        for low, centre, high in zip(panel.low, panel.centre, panel.high, strict=True):
            assert (low is None or low <= centre) and centre <= high + 1e-12


@pytest.mark.parametrize(
    "draw",
    [
        lambda: individuals_chart([1.0]),
        lambda: means_chart([[1, 2]]),
        lambda: means_chart([[1, 2], [1, 2, 3]]),
        lambda: means_chart([[1], [2]]),
        lambda: means_chart([[1.0] * 11, [2.0] * 11]),
        lambda: proportion_chart([1, 3], [2, 2]),
        lambda: proportion_chart([0, 0], [0, 2]),
        lambda: count_chart([3]),
        lambda: count_chart([3, -1]),
    ],
)
def test_too_little_or_senseless_is_refused_in_words(draw: object) -> None:
    with pytest.raises(StatisticsError) as refused:
        draw()  # type: ignore[operator]
    assert refused.value.message.endswith(".")
