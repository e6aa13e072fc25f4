"""The paper template is true to scale, complete, and its sheets go together."""

from __future__ import annotations

import io
import itertools
from typing import get_args

import pypdfium2
import pytest
import weasyprint

from routing.drawings.template_pages import (
    CROSS,
    FIRM,
    FOOT,
    LEFT_BAND,
    MARGIN,
    OVERLAP,
    RULER,
    SIZES,
    Paper,
    Tile,
    plan_tiles,
    template_tiles,
)
from routing.specs.sheet import SpecSheet
from tests.routing.drawings.examples import DRUMS, runs, seam_arcs, sheet_of, template_holes
from tests.routing.drawings.reading import circles, overlapping, root, strokes, words

PAPERS = get_args(Paper)


def pages(sheet: SpecSheet, paper: Paper) -> tuple[list[str], tuple[Tile, ...]]:
    drilling = sheet.drilling
    tiles = template_tiles(
        circumference_mm=drilling.circumference_mm,
        height_mm=drilling.height_mm,
        holes=template_holes(sheet),
        seam_arcs_mm=seam_arcs(sheet),
        seam_runs=runs(sheet),
        name="snare",
        paper=paper,
    )
    return tiles, plan_tiles(drilling.circumference_mm, drilling.height_mm, paper).tiles


def zero(tile: Tile) -> tuple[float, float]:
    """Where arc 0 at the batter edge would lie on this sheet."""
    return MARGIN + LEFT_BAND - tile.left_mm, MARGIN - tile.top_mm


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("drum", DRUMS)
def test_every_hole_is_at_its_true_place_on_each_sheet_that_shows_it(drum: str, paper: Paper) -> None:
    sheet = sheet_of(drum)
    svgs, tiles = pages(sheet, paper)
    seen: set[int] = set()
    for svg, tile in zip(svgs, tiles, strict=True):
        x0, y0 = zero(tile)
        drawn = {(round(x - x0, 1), round(y - y0, 1), round(2 * r, 1)) for (x, y), r in circles(svg, FIRM)}
        for hole in sheet.drilling.holes:
            if tile.left_mm <= hole.arc_mm <= tile.right_mm and tile.top_mm <= hole.height_mm <= tile.bottom_mm:
                near = [
                    place
                    for place in drawn
                    if abs(place[0] - hole.arc_mm) < 0.1
                    and abs(place[1] - hole.height_mm) < 0.1
                    and abs(place[2] - hole.diameter_mm) < 0.11
                ]
                assert near, f"hole {hole.number} is missing on sheet {tile.name}"
                seen.add(hole.number)
    assert seen == {hole.number for hole in sheet.drilling.holes}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("drum", DRUMS)
def test_sheets_cover_the_shell_and_overlap(drum: str, paper: Paper) -> None:
    drilling = sheet_of(drum).drilling
    tiling = plan_tiles(drilling.circumference_mm, drilling.height_mm, paper)
    assert len(tiling.tiles) == tiling.rows * tiling.columns
    assert {tiling.page_width_mm, tiling.page_height_mm} == set(SIZES[paper])
    row = [tile for tile in tiling.tiles if tile.row == 0]
    assert row[0].left_mm == 0
    assert row[-1].right_mm == pytest.approx(drilling.circumference_mm + OVERLAP)
    for first, second in itertools.pairwise(row):
        assert first.right_mm - second.left_mm == pytest.approx(OVERLAP)
    column = [tile for tile in tiling.tiles if tile.column == 0]
    assert column[-1].bottom_mm == drilling.height_mm
    for first, second in itertools.pairwise(column):
        assert first.bottom_mm - second.top_mm == pytest.approx(OVERLAP)
    for tile in tiling.tiles:
        assert tile.right_mm - tile.left_mm <= tiling.page_width_mm - 2 * MARGIN - LEFT_BAND + 1e-6
        assert tile.bottom_mm - tile.top_mm <= tiling.page_height_mm - 2 * MARGIN - FOOT + 1e-6


@pytest.mark.parametrize("drum", DRUMS)
def test_neighbours_share_registration_crosses_clear_of_holes(drum: str) -> None:
    sheet = sheet_of(drum)
    svgs, tiles = pages(sheet, "A4")
    marks: dict[str, set[tuple[float, float]]] = {}
    for svg, tile in zip(svgs, tiles, strict=True):
        x0, y0 = zero(tile)
        marks[tile.name] = {
            (round(x - x0, 1), round(y - y0, 1))
            for (x, y), radius in circles(svg, FIRM)
            if radius == CROSS / 2
            and not any(
                abs(hole.arc_mm - x + x0) < 0.1 and abs(hole.height_mm - y + y0) < 0.1 for hole in sheet.drilling.holes
            )
        }
    for first in tiles:
        for second in tiles:
            if (second.row - first.row, second.column - first.column) in ((0, 1), (1, 0)):
                assert len(marks[first.name] & marks[second.name]) >= 2, f"{first.name} and {second.name}"
    for arc, height in set().union(*marks.values()):
        for hole in sheet.drilling.holes:
            apart = ((arc - hole.arc_mm) ** 2 + (height - hole.height_mm) ** 2) ** 0.5
            assert apart > CROSS / 2 + hole.diameter_mm / 2


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("drum", DRUMS)
def test_each_sheet_has_two_rulers_its_name_and_readable_words(drum: str, paper: Paper) -> None:
    svgs, tiles = pages(sheet_of(drum), paper)
    for svg, tile in zip(svgs, tiles, strict=True):
        level = [line for line in strokes(svg, FIRM) if len(line) == 2 and line[0][1] == line[1][1]]
        upright = [line for line in strokes(svg, FIRM) if len(line) == 2 and line[0][0] == line[1][0]]
        assert RULER in [round(line[1][0] - line[0][0], 2) for line in level]
        assert RULER in [round(line[1][1] - line[0][1], 2) for line in upright]
        found = words(svg)
        assert f"Sheet {tile.name}" in [word.text for word in found]
        assert overlapping(found, slack=0.5) == []
        top = root(svg)
        assert (top.get("width"), top.get("height")) == tuple(
            f"{mm:g}mm" for mm in (float(n) for n in (top.get("viewBox") or "").split()[2:])
        )


def test_the_printed_ruler_is_100_mm_long() -> None:
    svgs, _ = pages(sheet_of("snare"), "A4")
    style = "<style>@page{size:297mm 210mm;margin:0}body{margin:0}svg{display:block}</style>"
    page = pypdfium2.PdfDocument(io.BytesIO(weasyprint.HTML(string=style + svgs[0]).write_pdf()))[0]
    per_mm = 8
    picture = page.render(scale=per_mm * 25.4 / 72).to_pil().convert("L")
    assert picture.width == pytest.approx(297 * per_mm, abs=2)
    y = (210 - MARGIN - FOOT + 6) * per_mm
    dark = [x for x in range(int(120 * per_mm)) if picture.getpixel((x, int(y))) < 128]
    assert (max(dark) - min(dark)) / per_mm == pytest.approx(RULER, abs=0.4)
    assert min(dark) / per_mm == pytest.approx(MARGIN + LEFT_BAND, abs=0.3)


@pytest.mark.parametrize(("round_mm", "high_mm"), [(100, 100), (5000, 100), (1000, 5), (float("nan"), 100)])
def test_what_is_no_shell_is_an_error(round_mm: float, high_mm: float) -> None:
    with pytest.raises(ValueError, match="a template is made for shells"):
        plan_tiles(round_mm, high_mm)
