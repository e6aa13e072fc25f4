"""The ring says the state of every step by shape and in words."""

from __future__ import annotations

import io
import itertools
import math
import re
import xml.etree.ElementTree as ET

import pypdfium2
import pytest
import weasyprint
from PIL import Image, ImageChops, ImageStat

from routing.drawings.ring import INNER, OUTER, WORDS, KitDrum, RingSegment, kit_svg, ring_svg, ring_words
from tests.routing.drawings.reading import NS, box_of, overlapping, points_of, words


def ring(*states: str) -> str:
    return ring_svg([RingSegment(state) for state in states])


def shapes(svg: str) -> list[tuple[str | None, ...]]:
    root = ET.fromstring(svg)
    return [
        (path.get("d"), path.get("fill"), path.get("stroke-width"), path.get("stroke-dasharray"))
        for path in root.iter(f"{NS}path")
    ]


def polar(point: tuple[float, float]) -> tuple[float, float]:
    """Radius and degrees clockwise from the top."""
    x, y = point[0] - 50, point[1] - 50
    return math.hypot(x, y), math.degrees(math.atan2(x, -y)) % 360


@pytest.mark.parametrize("pair", list(itertools.combinations(WORDS, 2)))
def test_two_states_never_look_alike_without_colour(pair: tuple[str, str]) -> None:
    first, second = (shapes(ring("done", state)) for state in pair)
    assert first != second


def printed_small() -> dict[str, Image.Image]:
    """A ring of 14 steps whose fifth is in each state, printed in black at the size of a line of text: 24 px."""
    rings = {state: ring(*["done"] * 4, state, *["waiting"] * 9) for state in WORDS}
    style = "<style>@page{size:24px 24px;margin:0}body{margin:0}svg{display:block;width:24px;height:24px;break-after:page}</style>"
    document = pypdfium2.PdfDocument(io.BytesIO(weasyprint.HTML(string=style + "".join(rings.values())).write_pdf()))
    pictures = {}
    for number, state in enumerate(rings):
        picture = document[number].render(scale=96 / 72).to_pil().convert("L")
        assert picture.size == (24, 24)
        pictures[state] = picture
    return pictures


def test_states_differ_by_several_pixels_of_ink_at_24_pixels() -> None:
    pictures = printed_small()
    for first, second in itertools.combinations(WORDS, 2):
        difference = ImageChops.difference(pictures[first], pictures[second])
        pixels = ImageStat.Stat(difference).sum[0] / 255
        assert pixels > 3, f"{first} and {second} differ by {pixels:.1f} pixels only"


@pytest.mark.parametrize("count", [3, 7, 14, 20])
def test_segments_follow_the_route_clockwise_from_the_top(count: int) -> None:
    for step in range(count):
        svg = ring(*["waiting"] * step, "done", *["waiting"] * (count - step - 1))
        (d,) = (path for path, fill, *_ in shapes(svg) if fill == "currentColor")
        assert d is not None
        corners = [polar(point) for point in points_of(d)[0]]
        for radius, angle in corners:
            assert min(abs(radius - INNER), abs(radius - OUTER)) < 0.02
            assert step * 360 / count < angle < (step + 1) * 360 / count


def test_gaps_between_segments_have_parallel_sides() -> None:
    (d, *_) = shapes(ring(*["done"] * 8))[0]
    assert d is not None
    # First segment's end and second segment's start: the distance is the same outside and inside.
    first, second = points_of(d)[0], points_of(d)[1]
    outside, inside = math.dist(first[1], second[0]), math.dist(first[2], second[3])
    assert outside == pytest.approx(2.4, abs=0.05)
    assert inside == pytest.approx(outside, abs=0.05)


def test_segments_of_one_state_share_a_path() -> None:
    svg = ring(*["done"] * 9, "ready", *["waiting"] * 4)
    assert len(shapes(svg)) == 3


def test_a_long_route_in_every_state_stays_a_dozen_elements() -> None:
    assert len(shapes(ring(*[*WORDS] * 3))) <= 12


@pytest.mark.parametrize("count", [1, 2, 3, 14, 40])
def test_any_number_of_steps_stays_inside_its_box(count: int) -> None:
    for state in WORDS:
        svg = ring_svg([RingSegment(state)] * count, size_px=24)
        assert ET.fromstring(svg).get("viewBox") == "0 0 100 100"
        assert ET.fromstring(svg).get("width") == "24"
        for d, _, width, _ in shapes(svg):
            half = float(width or 0) / 2
            for x, y in itertools.chain.from_iterable(points_of(d or "")):
                assert half - 0.01 <= x <= 100.01 - half
                assert half - 0.01 <= y <= 100.01 - half


def test_a_wedge_points_into_the_drum_and_breaks_a_wide_segment() -> None:
    narrow, wide = shapes(ring(*["on_hold"], *["done"] * 13)), shapes(ring("on_hold", "done", "done"))
    for found in (narrow, wide):
        tip = min(polar(point)[0] for d, fill, *_ in found if fill for point in points_of(d or "")[0])
        assert tip < INNER - 10
    assert len(wide) == len(narrow) + 1  # what is left of the segment beside the wedge


def test_it_says_its_state_in_words_and_escapes_them() -> None:
    segments = [RingSegment("done", "cut"), RingSegment("ready", "edge <b>"), RingSegment("waiting", "pack")]
    assert ring_words(segments) == "Step 2 of 3: edge <b>, ready"
    assert "<b>" not in ring_svg(segments)
    assert ET.fromstring(ring_svg(segments))[0].text == "Step 2 of 3: edge <b>, ready"
    assert ring_words([RingSegment("done")] * 3) == "3 of 3 steps done"
    assert ring_words([RingSegment("done")] * 3 + [RingSegment("skipped")]) == "3 of 4 steps done, 1 skipped"
    assert ring_words([]) == "No steps yet"
    assert ET.fromstring(ring_svg(segments, title="a & b"))[0].text == "a & b"


def test_a_hold_is_said_first() -> None:
    segments = [RingSegment("ready", "edge"), RingSegment("on_hold", "seal")]
    assert ring_words(segments) == "Step 2 of 2: seal, on hold"


def test_a_shell_without_steps_is_an_empty_ring() -> None:
    assert len(list(ET.fromstring(ring()).iter(f"{NS}circle"))) == 1


def test_an_unknown_state_is_an_error() -> None:
    with pytest.raises(ValueError, match="unknown state"):
        ring("lost")


def test_a_kit_stands_on_one_line_at_true_relative_size() -> None:
    drums = [
        KitDrum(diameter, [RingSegment("ready")], f"{diameter}×{diameter} some long name of a drum", "waits for glue")
        for diameter in (22, 8, 14)
    ]
    svg = kit_svg(drums)
    placed = [
        [float(n) for n in re.findall(r"-?[\d.]+", group.get("transform") or "")]
        for group in ET.fromstring(svg).iter(f"{NS}g")
    ]
    assert [round(scale / drum.diameter_in, 4) for (_, _, scale), drum in zip(placed, drums, strict=True)] == [0.08] * 3
    assert {round(y + 100 * scale, 1) for _, y, scale in placed} == {178.0}
    assert overlapping(words(svg)) == []
    width, height = box_of(svg)
    for word in words(svg):
        assert word.box[0] >= 0
        assert word.box[2] <= width
        assert word.box[3] <= height
