"""What holds for all drawings: valid, escaped, named, self-contained, legible, everything inside the frame."""

from __future__ import annotations

import re

import pytest

from routing.drawings import template_pages
from routing.drawings.common import FIRM, HAIR, HEAVY, SEAM, THIN, Drawing
from tests.routing.drawings.examples import DRUMS, every_drawing, hole_map, sheet_of
from tests.routing.drawings.reading import NS, box_of, overlapping, points_of, root, words

KINDS = [kind for kind in every_drawing("x") if not kind.startswith("template ")] + ["template 1"]
NASTY = """</text><script>&"'"""


@pytest.mark.parametrize("kind", KINDS)
def test_names_are_escaped_and_said(kind: str) -> None:
    svg = every_drawing(NASTY)[kind]
    assert "<script" not in svg
    assert any((element.text or "").find("<script>") >= 0 for element in root(svg).iter())


@pytest.mark.parametrize("kind", KINDS)
def test_it_stands_alone_under_a_strict_policy_and_beside_others(kind: str) -> None:
    svg = every_drawing("plate 1")[kind]
    assert not re.search(r"\s(style|id|href|on\w+)=", svg)
    assert "url(" not in svg
    top = root(svg)
    assert top.get("role") == "img"
    assert top[0].tag == f"{NS}title"
    assert top[0].text


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "ring"])
def test_everything_is_inside_the_frame(kind: str) -> None:
    svg = every_drawing("birch plate")[kind]
    width, height = box_of(svg)
    for word in words(svg):
        assert word.box[0] >= -0.5, word
        assert word.box[1] >= -0.5, word
        assert word.box[2] <= width + 0.5, word
        assert word.box[3] <= height + 0.5, word
    if kind == "kit":
        return  # its rings are scaled
    for path in root(svg).iter(f"{NS}path"):
        for line in points_of(path.get("d") or ""):
            for x, y in line:
                assert -0.01 <= x <= width + 0.01
                assert -0.01 <= y <= height + 0.01


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "ring"])
def test_no_words_stand_on_others(kind: str) -> None:
    assert overlapping(words(every_drawing("birch plate")[kind])) == []


@pytest.mark.parametrize("drum", DRUMS)
def test_no_words_stand_on_others_in_the_map_of_a_real_drum(drum: str) -> None:
    assert overlapping(words(hole_map(sheet_of(drum))), slack=0.9) == []


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("ring", "kit")])
def test_lines_have_the_weights_of_all_drawings(kind: str) -> None:
    """A template is drawn in millimetres, at true scale: its weights are those of the others on a traveler."""
    own = (template_pages.HEAVY, template_pages.FIRM, template_pages.THIN, template_pages.HAIR)
    weights = own if kind.startswith("template") else (HEAVY, FIRM, THIN, HAIR, SEAM)
    drawn = {
        float(path.get("stroke-width") or 0) for path in root(every_drawing("birch plate")[kind]).iter(f"{NS}path")
    }
    assert drawn - {0.0} <= set(weights) and drawn != {0.0}


def test_a_template_has_the_weights_of_a_traveler() -> None:
    own = (template_pages.HEAVY, template_pages.FIRM, template_pages.THIN, template_pages.HAIR)
    for here, there in zip(own, (HEAVY, FIRM, THIN, HAIR), strict=True):
        assert here == pytest.approx(there * 0.31, rel=0.4)  # a unit on a traveler is about 0.3 mm


def test_the_check_for_overlapping_words_can_fail() -> None:
    drawing = Drawing()
    drawing.text(10, 10, "one")
    drawing.text(12, 10, "other")
    drawing.text(60, 10, "far")
    assert overlapping(words(drawing.svg(100, 20, title="a", name="b"))) == [("one", "other")]
