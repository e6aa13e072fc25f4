"""Control charts and Pareto pictures: every point stands at its height, marks and limits say what they are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from routing.drawings.control_chart import DrawnPanel, control_chart_svg
from routing.drawings.pareto import DrawnBar, pareto_svg
from tests.routing.drawings.reading import overlapping
from tests.routing.drawings.reading import words as placed_words


def words_of(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter() if element.tag.endswith("text")]


def panel(values: list[float], **fields: object) -> DrawnPanel:
    size = len(values)
    given = {"centre": [2.0] * size, "low": [1.0] * size, "high": [3.0] * size, **fields}
    return DrawnPanel("readings", values, **given)  # type: ignore[arg-type]


def test_limits_carry_their_values_and_marks_their_rule() -> None:
    svg = control_chart_svg(
        [panel([2.0, 3.4, 1.9], marks={1: "1"})], labels=["a", "b", "c"], title="Depth", unit="mm", allowed=(0.5, 3.5)
    )
    words = words_of(svg)
    for said in ("readings, mm", "centre 2", "upper 3", "lower 1", "allowed from 0.5", "allowed to 3.5", "1", "a", "c"):
        assert said in words
    assert "<title>Depth</title>" in svg


def test_equal_steps_stand_equally_far_apart() -> None:
    svg = control_chart_svg([panel([1.0, 2.0, 3.0])], labels=[], title="t")
    line = max(re.findall(r"M[\d.]+ [\d.]+(?:L[\d.]+ [\d.]+){2}(?!L)", svg), key=len)
    points = [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", line)]
    assert points[0][1] - points[1][1] == pytest.approx(points[1][1] - points[2][1], abs=0.02)
    assert points[1][0] - points[0][0] == pytest.approx(points[2][0] - points[1][0], abs=0.02)


def test_two_panels_share_one_axis() -> None:
    moving = DrawnPanel("moving range", [1.0, 1.0], [1.0] * 2, [None] * 2, [3.0] * 2, first=1)
    words = words_of(control_chart_svg([panel([1.0, 2.0, 3.0]), moving], labels=["x", "y", "z"], title="t"))
    assert {"readings", "moving range"} <= set(words)
    assert words.count("x") == 1


def test_many_points_leave_room_between_labels() -> None:
    many = [float(n % 7) for n in range(300)]
    words = words_of(control_chart_svg([panel(many)], labels=[f"OW26{n:05d}" for n in range(300)], title="t"))
    named = [word for word in words if word.startswith("OW26")]
    assert 3 < len(named) < 20
    assert "OW2600299" in named


@pytest.mark.parametrize("values", [[5.0], [0.0, 0.0], [-3.0, -3.0, -3.0]])
def test_a_flat_line_is_drawn_too(values: list[float]) -> None:
    size = len(values)
    svg = control_chart_svg([DrawnPanel("flat", values, values, [None] * size, values)], labels=["a"] * size, title="t")
    assert "nan" not in svg and "inf" not in svg


def test_nothing_is_no_chart() -> None:
    with pytest.raises(ValueError, match="at least one point"):
        control_chart_svg([], labels=[], title="t")
    with pytest.raises(ValueError, match="nothing to count"):
        pareto_svg([], title="t")


def test_a_long_name_of_a_bar_takes_two_lines_and_a_longer_one_is_said_whole() -> None:
    two = "Run in the lacquer below a lug, seen after the second coat"
    three = f"{two}, on the side of the batter head and nowhere else on the shell"
    svg = pareto_svg([DrawnBar(two, 8, 0.8), DrawnBar(three, 2, 1.0)], title="Defects")
    words = words_of(svg)
    assert two in " ".join(words)
    assert any(word.endswith("…") for word in words)
    assert f"<title>{three}</title>" in svg and f"<title>{two}</title>" not in svg
    assert overlapping(placed_words(svg)) == []


def test_bars_are_as_long_as_their_counts() -> None:
    svg = pareto_svg([DrawnBar("run", 8, 0.8), DrawnBar("dust", 2, 1.0)], title="Defects")
    words = words_of(svg)
    assert {"run", "dust", "8", "2", "80 %", "100 %"} <= set(words)
    outlines = re.search(r'<path d="([^"]+)" stroke-width="0.9"', svg)
    assert outlines is not None
    widths = [float(width) for width in re.findall(r"h([\d.]+)v", outlines[1])]
    assert widths[0] == pytest.approx(4 * widths[1], rel=0.01)


def test_a_long_tail_is_counted_in_one_row() -> None:
    words = words_of(pareto_svg([DrawnBar(f"d{n}", 20 - n, 0.5) for n in range(20)], title="t"))
    assert "5 more" in words
    assert "d19" not in words


def test_names_are_only_words() -> None:
    assert "<b>" not in pareto_svg([DrawnBar("<b>&", 1, 1.0)], title="<i>")
