"""The picture of a plan: bars stand where their times are, closed hours shrink, and late is told without colour."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest

from routing.drawings.common import FIRM, HAIR, HEAVY
from routing.drawings.gantt import (
    BAR,
    CLOSED_SHRINK,
    DWELL,
    HEAD,
    LANE,
    WIDTH,
    BarKind,
    GanttBar,
    GanttRow,
)
from tests.routing.drawings.examples import plan_over_time
from tests.routing.drawings.reading import NS, Point, box_of, overlapping, points_of, root, solids, strokes, words

MONDAY = datetime(2026, 11, 30, tzinfo=UTC)


def at(hours: float) -> datetime:
    return MONDAY + timedelta(hours=hours)


def bar(first: float, last: float, label: str = "", kind: BarKind = "work", *, late: bool = False) -> GanttBar:
    return GanttBar(at(first), at(last), label, kind, late)


def picture(
    *bars: GanttBar, last: float = 10.0, closed: tuple[tuple[float, float], ...] = (), now: float | None = None
) -> str:
    return plan_over_time(
        [GanttRow("press", bars)],
        begins=at(0),
        ends=at(last),
        closed=[(at(a), at(b)) for a, b in closed],
        now=None if now is None else at(now),
    )


def boxes(svg: str, weight: float = FIRM, tall: float = BAR) -> list[tuple[float, float, float]]:
    """Left, right and top of the bars of one height, by their level edges above the legend."""
    levels = [line for line in strokes(svg, weight) if len(line) == 2 and line[0][1] == line[1][1]]
    found = []
    for (x1, y1), (x2, _) in levels:
        for (x3, y3), (x4, _) in levels:
            if (x1, x2) == (x3, x4) and abs(y3 - y1 - tall) < 0.02 and y1 < box_of(svg)[1] - 2 * LANE:
                found.append((x1, x2, y1))
    return sorted(found)


def left_edge(svg: str) -> float:
    """Where the rows begin: the upright line beside the names."""
    return min(a[0] for a, b, *_ in strokes(svg, FIRM) if a[0] == b[0] and a[1] == HEAD)


def hatching(svg: str) -> list[Point]:
    """The ends of slanting hairs above the legend."""
    slanting = [line for line in strokes(svg, HAIR) if line[0][0] != line[1][0] and line[0][1] != line[1][1]]
    return [point for line in slanting for point in line if line[0][1] <= HEAD + LANE + 0.01]


def test_a_bar_stands_where_its_times_are() -> None:
    svg = picture(bar(2, 5))
    left = left_edge(svg)
    per_hour = (WIDTH - 2 - left) / 10
    ((first, last, _),) = boxes(svg)
    assert first == pytest.approx(left + 2 * per_hour, abs=0.02)
    assert last - first == pytest.approx(3 * per_hour, abs=0.02)


def test_closed_hours_take_an_eighth_of_their_length() -> None:
    svg = picture(bar(1, 2), bar(4, 6), last=24, closed=((8, 24),))
    (a, b, _), (c, d, _) = boxes(svg)
    per_hour = b - a
    assert d - c == pytest.approx(2 * per_hour, abs=0.03)
    assert WIDTH - 2 - left_edge(svg) == pytest.approx((8 + 16 / CLOSED_SHRINK) * per_hour, abs=0.2)


def test_only_closed_hours_are_hatched() -> None:
    svg = picture(bar(1, 2), last=24, closed=((8, 24),))
    left = left_edge(svg)
    closes = left + (WIDTH - 2 - left) * 8 / (8 + 16 / CLOSED_SHRINK)
    slanting = hatching(svg)
    assert len(slanting) > 10
    assert min(x for x, _ in slanting) >= closes - 0.05
    assert "closed, drawn at an eighth of its length" in [word.text for word in words(svg)]
    assert hatching(picture(bar(1, 2), last=24)) == []


def test_closed_hours_that_overlap_are_counted_once() -> None:
    assert picture(bar(1, 2), last=24, closed=((8, 20), (10, 12), (19, 24))) == picture(
        bar(1, 2), last=24, closed=((8, 24),)
    )


def test_a_wait_is_thinner_than_work() -> None:
    svg = picture(bar(1, 2), bar(2, 9, "", "dwell"))
    assert len(boxes(svg)) == 1
    assert len(boxes(svg, tall=DWELL)) == 1
    assert DWELL < BAR / 2


def test_late_is_a_heavy_outline_with_a_strip_and_a_wedge() -> None:
    on_time, late = picture(bar(1, 3)), picture(bar(1, 3, late=True))
    assert boxes(on_time, HEAVY) == [] and len(boxes(on_time)) == 1
    ((left, right, top),) = boxes(late, HEAVY)
    above_legend = [solid for solid in solids(late) if solid[0][1] < HEAD + LANE]
    strip, wedge = sorted(above_legend, key=len, reverse=True)
    assert {round(x, 1) for x, _ in strip} == {round(left, 1), round(right, 1)}
    assert len(wedge) == 4  # three corners, closed
    assert max(x for x, _ in wedge) == pytest.approx(right, abs=0.02)
    assert "late" in [word.text for word in words(late)] and "late" not in [word.text for word in words(on_time)]
    assert top > HEAD


def test_a_late_bar_too_short_for_the_signs_is_all_ink() -> None:
    svg = picture(bar(1, 1.05, late=True))
    ((left, right, top),) = boxes(svg, HEAVY)
    corners = [(left, top), (right, top), (right, top + BAR), (left, top + BAR)]
    assert max(math.dist(*pair) for pair in zip(corners, solids(svg)[0][:4], strict=True)) < 0.03


def test_bars_that_overlap_stand_below_each_other() -> None:
    svg = picture(bar(1, 4), bar(2, 5), bar(4, 6))
    tops = {round(first, 1): top for first, _, top in boxes(svg)}
    one, two, three = (tops[key] for key in sorted(tops))
    assert two - one == pytest.approx(LANE)
    assert three == one


def test_what_lies_outside_is_left_out_and_what_reaches_out_is_open() -> None:
    svg = picture(bar(-5, -1, "before"), bar(-1, 5, "reaches in"), bar(9, 12), bar(11, 12, "after"))
    said = [word.text for word in words(svg)]
    assert "reaches in" in said and "before" not in said and "after" not in said
    left = left_edge(svg)
    uprights = [
        line[0][0] for line in strokes(svg, FIRM) if line[0][0] == line[1][0] and line[1][1] - line[0][1] == BAR
    ]
    (first, last, _), (third, fourth, _) = boxes(svg)
    assert first == pytest.approx(left)
    assert fourth == pytest.approx(WIDTH - 2)
    ends = sorted(round(x, 2) for x in uprights)
    assert round(last, 2) in ends and round(third, 2) in ends
    assert round(first, 2) not in ends and round(fourth, 2) not in ends


def test_a_label_stands_in_its_bar_beside_it_or_not_at_all() -> None:
    inside = next(w for w in words(picture(bar(1, 5, "OW2600012"))) if w.text == "OW2600012")
    ((left, right, _),) = boxes(picture(bar(1, 5, "OW2600012")))
    assert left < inside.box[0] and inside.box[2] < right
    beside = next(w for w in words(picture(bar(1, 1.2, "OW2600012"))) if w.text == "OW2600012")
    ((_, right, _),) = boxes(picture(bar(1, 1.2, "OW2600012")))
    assert beside.box[0] > right
    crowded = picture(bar(1, 1.2, "OW2600012"), bar(1.3, 1.5, "OW2600013"))
    said = [word.text for word in words(crowded)]
    assert "OW2600012" not in said and "OW2600013" in said


@pytest.mark.parametrize("days", [1, 2, 5, 7, 14, 31])
def test_words_never_meet_however_long_the_plan(days: int) -> None:
    closed = [(day * 24 + a, day * 24 + b) for day in range(days) for a, b in ((0, 7), (12, 12.5), (16, 24))]
    bars = [
        bar(24 * day + hour, 24 * day + hour + 0.4, f"OW26{day:02d}{hour:03d}")
        for day in range(days)
        for hour in (7, 9, 13)
    ]
    svg = picture(*bars, last=24 * days, closed=tuple(closed), now=9.3)
    assert overlapping(words(svg)) == []
    days_named = [word.text for word in words(svg) if word.box[3] < HEAD / 2]
    assert len(days_named) == days


def test_hours_are_named_where_the_shop_is_open() -> None:
    svg = picture(last=24, closed=((0, 7), (16, 24)))
    hours = [int(word.text) for word in words(svg) if word.text.isdigit()]
    assert hours == list(range(7, 17))


def test_now_is_marked_only_when_it_is_there() -> None:
    assert "now" in [word.text for word in words(picture(now=5))]
    assert "now" not in [word.text for word in words(picture(now=11))]
    assert "now" not in [word.text for word in words(picture())]


def test_it_is_told_in_words_too() -> None:
    svg = picture(bar(1, 3, "OW2600001"), bar(3, 4, "OW2600002", late=True))
    top = root(svg)
    assert top[0].text == "Plan from 2026-11-30 00:00 to 2026-11-30 10:00"
    assert top[1].tag == f"{NS}desc"
    assert top[1].text == "press: 2 from 2026-11-30 01:00 to 2026-11-30 04:00, late: OW2600002."


def test_a_long_name_takes_two_lines_before_the_rows_begin() -> None:
    name = "Spray booth for all colours and clear coats"
    svg = plan_over_time([GanttRow(name, [bar(0, 1, "OW1")]), GanttRow("press", [])], begins=at(0), ends=at(1))
    lines = [word for word in words(svg) if word.text in name]
    assert " ".join(line.text for line in lines) == name
    assert max(line.box[2] for line in lines) < left_edge(svg)
    assert overlapping(words(svg)) == []


def test_a_name_that_is_longer_still_is_cut_and_said_whole() -> None:
    name = "Spray booth for all colours and clear coats, with the small oven and the drying racks behind it"
    svg = plan_over_time([GanttRow(name, [])], begins=at(0), ends=at(1))
    cut = next(word for word in words(svg) if word.text.endswith("…"))
    assert cut.box[2] < left_edge(svg)
    assert name in [title.text for title in root(svg).iter(f"{NS}title")]


def test_no_rows_are_drawn_too() -> None:
    svg = plan_over_time([], begins=at(0), ends=at(24), closed=[(at(0), at(24))], now=at(3))
    assert "nan" not in svg and box_of(svg)[0] == WIDTH


def test_a_picture_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="ends after it begins"):
        plan_over_time([], begins=at(2), ends=at(2))


def test_bars_take_the_lines_away_behind_them() -> None:
    svg = picture(bar(1, 3))
    cleared = [p.get("d") or "" for p in root(svg).iter(f"{NS}path") if p.get("class") == "drawing-paper"]
    corners: list[Point] = points_of(cleared[0])[0]
    ((left, right, top),) = boxes(svg)
    assert math.dist(corners[0], (left, top)) < 0.03
    assert math.dist(corners[2], (right, top + BAR)) < 0.03
