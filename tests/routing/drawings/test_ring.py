"""The ring says the state of every step by shape and in words."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ET

import pytest

from routing.drawings.ring import WORDS, RingSegment, ring_svg, ring_words

NS = "{http://www.w3.org/2000/svg}"


def shapes(svg: str) -> list[tuple[str | None, ...]]:
    root = ET.fromstring(svg)
    return [
        (path.get("d"), path.get("fill"), path.get("stroke-width"), path.get("stroke-dasharray"))
        for path in root.iter(f"{NS}path")
    ]


@pytest.mark.parametrize("pair", list(itertools.combinations(WORDS, 2)))
def test_two_states_never_look_alike_without_colour(pair: tuple[str, str]) -> None:
    first, second = (shapes(ring_svg([RingSegment("done"), RingSegment(state)])) for state in pair)
    assert first != second


def test_segments_of_one_state_share_a_path() -> None:
    svg = ring_svg([RingSegment("done")] * 9 + [RingSegment("ready")] + [RingSegment("waiting")] * 4)
    assert len(shapes(svg)) == 3


@pytest.mark.parametrize("count", [1, 2, 3, 14, 40])
def test_any_number_of_steps_gives_valid_xml_inside_its_box(count: int) -> None:
    for state in WORDS:
        root = ET.fromstring(ring_svg([RingSegment(state)] * count, size_px=24))
        assert root.get("viewBox") == "0 0 100 100"
        assert root.get("width") == "24"


def test_it_says_its_state_in_words_and_escapes_them() -> None:
    segments = [RingSegment("done", "cut"), RingSegment("ready", "edge <b>"), RingSegment("waiting", "pack")]
    assert ring_words(segments) == "Step 2 of 3: edge <b>, ready"
    assert "<b>" not in ring_svg(segments)
    assert ET.fromstring(ring_svg(segments))[0].text == "Step 2 of 3: edge <b>, ready"
    assert ring_words([RingSegment("done")] * 3) == "3 of 3 steps done"
    assert ring_words([]) == "No steps yet"


def test_an_unknown_state_is_an_error() -> None:
    with pytest.raises(ValueError, match="unknown state"):
        ring_svg([RingSegment("lost")])


def test_no_style_attribute_that_a_strict_policy_would_drop() -> None:
    assert "style=" not in ring_svg([RingSegment(state) for state in WORDS])
