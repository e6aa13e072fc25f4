"""A paper template at true scale that wraps round the outside of the shell, on as few sheets as it takes.

Coordinates are millimetres on paper. Sheets overlap; in each overlap both carry the same registration crosses, so that
they can be laid over each other against the light. Two check rulers, along and across, show whether the printer kept
the size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from routing.drawings.common import Box, Drawing, circle, least_covered, rectangle, text_width

Paper = Literal["A4", "Letter"]
SIZES: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}

MARGIN = 10.0  # what office printers leave white, and some
LEFT_BAND = 8.0  # the upright ruler
FOOT = 20.0  # the level ruler and the words
OVERLAP = 12.0
RULER = 100.0
HEAVY, FIRM, THIN, HAIR = 0.5, 0.3, 0.18, 0.1
TEXT, SMALL = 3.4, 2.9
CHAIN, DASH = "5 1.2 1 1.2", "2.4 1.4"
CROSS = 5.0  # arm of a registration cross
CLEAR = 15.0  # so far from holes is far enough for one
HOLE_ARM = 4.0  # how far the cross of a hole reaches over its rim


@dataclass(frozen=True, slots=True)
class TemplateHole:
    number: int
    arc_mm: float
    height_mm: float
    diameter_mm: float
    feature: str = ""


@dataclass(frozen=True, slots=True)
class Tile:
    """What part of the unrolled shell one sheet shows: arcs from ``left_mm``, heights from ``top_mm``."""

    name: str  # row as a letter, column as a number
    row: int
    column: int
    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class Tiling:
    page_width_mm: float
    page_height_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]


def plan_tiles(circumference_mm: float, height_mm: float, paper: Paper = "A4") -> Tiling:
    """The fewest sheets, upright or across, that show the whole shell and a tab of one overlap at its end.

    Circumference 200 to 4000 mm, height 20 to 1000 mm; ValueError outside.
    """
    if not 200 <= circumference_mm <= 4000 or not 20 <= height_mm <= 1000:
        raise ValueError("a template is made for shells of 200 to 4000 mm round and 20 to 1000 mm high")
    upright = SIZES[paper]
    return min(
        (_tiling(page, circumference_mm, height_mm) for page in (upright[::-1], upright)),
        key=lambda tiling: len(tiling.tiles),
    )


def template_tiles(
    *,
    circumference_mm: float,
    height_mm: float,
    holes: Sequence[TemplateHole],
    seam_arcs_mm: Sequence[float],
    seam_runs: Sequence[tuple[float, float, float, float]] = (),
    name: str,
    paper: Paper = "A4",
) -> list[str]:
    """One SVG for each sheet, sized in mm, to be printed at 100 %. ``name`` says whose template it is."""
    tiling = plan_tiles(circumference_mm, height_mm, paper)
    marks = _registration_marks(tiling, circumference_mm, holes)
    return [
        _sheet(tile, tiling, circumference_mm, height_mm, holes, seam_arcs_mm, seam_runs, marks, name)
        for tile in tiling.tiles
    ]


def _tiling(page: tuple[float, float], circumference: float, height: float) -> Tiling:
    wide = page[0] - 2 * MARGIN - LEFT_BAND
    tall = page[1] - 2 * MARGIN - FOOT
    columns = max(1, math.ceil(circumference / (wide - OVERLAP) - 1e-9))
    rows = max(1, math.ceil((height - OVERLAP) / (tall - OVERLAP) - 1e-9))
    tiles = []
    for row in range(rows):
        for column in range(columns):
            left, top = column * (wide - OVERLAP), row * (tall - OVERLAP)
            right = min(left + wide, circumference + OVERLAP)
            bottom = min(top + tall, height)
            tiles.append(Tile(_name(row, column), row, column, left, top, right, bottom))
    return Tiling(page[0], page[1], rows, columns, tuple(tiles))


def _name(row: int, column: int) -> str:
    return f"{chr(65 + row)}{column + 1}"


def _registration_marks(
    tiling: Tiling, circumference: float, holes: Sequence[TemplateHole]
) -> list[tuple[float, float]]:
    """Two crosses in each overlap of neighbours, where they keep furthest from holes."""

    def clearest(candidates: list[tuple[float, float]]) -> tuple[float, float]:
        """The first of those that are clear enough, else the clearest."""

        def clearance(place: tuple[float, float]) -> float:
            return min(
                (math.hypot(place[0] - h.arc_mm, place[1] - h.height_mm) - h.diameter_mm / 2 for h in holes),
                default=CLEAR,
            )

        return max(candidates, key=lambda place: min(clearance(place), CLEAR))

    def along(low: float, high: float) -> list[list[float]]:
        """Seven places in each outer third, away from the corners, where four sheets meet."""
        low, high = low + OVERLAP + CROSS, high - OVERLAP - CROSS
        if high < low:
            low = high = (low + high) / 2
        return [[end + (other - end) * 0.06 * n for n in range(7)] for end, other in ((low, high), (high, low))]

    marks: set[tuple[float, float]] = set()
    for tile in tiling.tiles:
        if tile.column + 1 < tiling.columns:
            x = tile.right_mm - OVERLAP / 2
            marks.update(clearest([(x, y) for y in places]) for places in along(tile.top_mm, tile.bottom_mm))
        if tile.row + 1 < tiling.rows:
            y, right = tile.bottom_mm - OVERLAP / 2, min(tile.right_mm, circumference)
            marks.update(clearest([(x, y) for x in places]) for places in along(tile.left_mm, right))
    return sorted(marks)


def _sheet(
    tile: Tile,
    tiling: Tiling,
    circumference: float,
    height: float,
    holes: Sequence[TemplateHole],
    seams: Sequence[float],
    runs: Sequence[tuple[float, float, float, float]],
    marks: Sequence[tuple[float, float]],
    name: str,
) -> str:
    # Where arc 0 and height 0 lie on this sheet.
    zero_x, zero_y = MARGIN + LEFT_BAND - tile.left_mm, MARGIN - tile.top_mm
    window = (
        zero_x + tile.left_mm,
        zero_y + tile.top_mm,
        zero_x + tile.right_mm,
        zero_y + tile.bottom_mm,
    )
    drawing = Drawing()
    _shell(drawing, tile, zero_x, zero_y, circumference, height, seams)
    for run in runs:
        part = _cut_out(run, tile)
        if part is not None:
            x0, y0, x1, y1 = part
            drawing.line(zero_x + x0, zero_y + y0, zero_x + x1, zero_y + y1, weight=FIRM, dash=CHAIN)
    _joins(drawing, tile, tiling, window)
    here = [(zero_x + arc, zero_y + level) for arc, level in marks if _shows(tile, arc, level)]
    _crosses(drawing, here)
    lines = [zero_x + arc for arc in seams if tile.left_mm <= arc <= tile.right_mm]
    lines += [window[2] - OVERLAP] if tile.column + 1 < tiling.columns else []
    taken = [(x - 0.5, window[1], x + 0.5, window[3]) for x in lines]
    taken += [(x - CROSS, y - CROSS, x + CROSS, y + CROSS) for x, y in here]
    _holes(drawing, tile, zero_x, zero_y, holes, taken, window)
    _rulers(drawing, tiling)
    _foot(drawing, tile, tiling, circumference, height, name)
    title = f"Drilling template {name}, sheet {tile.name} of {len(tiling.tiles)}, true scale"
    return drawing.svg(tiling.page_width_mm, tiling.page_height_mm, title=title, name="template-page", unit="mm")


def _shows(tile: Tile, arc: float, level: float) -> bool:
    return tile.left_mm <= arc <= tile.right_mm and tile.top_mm <= level <= tile.bottom_mm


def _crosses(drawing: Drawing, places: Sequence[tuple[float, float]]) -> None:
    """Registration crosses: one quarter filled, so that nobody drills them."""
    lines = rings = ""
    r = CROSS / 2
    for x, y in places:
        lines += f"M{x - CROSS:.2f} {y:.2f}h{2 * CROSS:.2f}M{x:.2f} {y - CROSS:.2f}v{2 * CROSS:.2f}"
        rings += circle(x, y, r)
        drawing.solid(f"M{x:.2f} {y:.2f}h{r:.2f}A{r:.2f} {r:.2f} 0 0 1 {x:.2f} {y + r:.2f}Z")
    drawing.path(lines, weight=THIN)
    drawing.path(rings, weight=FIRM)


def _shell(
    drawing: Drawing,
    tile: Tile,
    zero_x: float,
    zero_y: float,
    circumference: float,
    height: float,
    seams: Sequence[float],
) -> None:
    """Edges, the two ends, and the seams of the plates, as far as this sheet shows them."""
    left, right = zero_x + tile.left_mm, zero_x + min(tile.right_mm, circumference)
    top, bottom = zero_y + tile.top_mm, zero_y + tile.bottom_mm
    for level, words, aside in ((0.0, "batter edge", 4.2), (height, "resonant edge", -1.8)):
        if tile.top_mm <= level <= tile.bottom_mm:
            y = zero_y + level
            drawing.line(left, y, right, y, weight=HEAVY)
            drawing.text((left + right) / 2, y + aside, words, size=SMALL, anchor="middle", clear=True)
    for arc, words in ((0.0, "0: on the outer seam"), (circumference, "this end meets 0")):
        if tile.left_mm <= arc <= tile.right_mm:
            x = zero_x + arc
            drawing.line(x, top, x, bottom, weight=HEAVY)
            drawing.text(x - 1.2 if arc else x + 4.0, (top + bottom) / 2, words, size=SMALL, anchor="middle", turn=-90)
    if tile.right_mm > circumference:
        x = zero_x + tile.right_mm
        drawing.path(f"M{right:.2f} {top + 2:.2f}H{x:.2f}V{bottom - 2:.2f}H{right:.2f}", weight=THIN, dash=DASH)
        drawing.text(
            right + OVERLAP / 2 + 1, (top + bottom) / 2, "tab, goes under", size=SMALL, anchor="middle", turn=-90
        )
    for arc in sorted({round(seam % circumference, 2) for seam in seams}):
        if 0.5 < arc < circumference - 0.5 and tile.left_mm <= arc <= tile.right_mm:
            x = zero_x + arc
            drawing.text(
                x - 1.0,
                top + (bottom - top) * 0.3,
                f"plate seam {arc / circumference * 360:.0f}°",
                size=SMALL,
                anchor="middle",
                turn=-90,
            )


def _cut_out(run: tuple[float, float, float, float], tile: Tile) -> tuple[float, float, float, float] | None:
    """The part of a line that this sheet shows, or None."""
    x0, y0, x1, y1 = run
    first, last = 0.0, 1.0
    for start, end, low, high in ((x0, x1, tile.left_mm, tile.right_mm), (y0, y1, tile.top_mm, tile.bottom_mm)):
        if start == end:
            if not low <= start <= high:
                return None
            continue
        enter, leave = sorted(((low - start) / (end - start), (high - start) / (end - start)))
        first, last = max(first, enter), min(last, leave)
    if last - first < 1e-9:
        return None
    return x0 + (x1 - x0) * first, y0 + (y1 - y0) * first, x0 + (x1 - x0) * last, y0 + (y1 - y0) * last


def _holes(
    drawing: Drawing,
    tile: Tile,
    zero_x: float,
    zero_y: float,
    holes: Sequence[TemplateHole],
    lines: Sequence[Box],
    frame: Box,
) -> None:
    """Every hole whose middle this sheet shows; what lies in an overlap is on both sheets. Words keep off ``lines``."""
    circles = crosses = ""
    taken: list[Box] = [*lines, *drawing.taken]
    here = []
    for hole in holes:
        if _shows(tile, hole.arc_mm, hole.height_mm):
            x, y, r = zero_x + hole.arc_mm, zero_y + hole.height_mm, hole.diameter_mm / 2
            arm = r + HOLE_ARM
            circles += circle(x, y, r)
            crosses += f"M{x - arm:.2f} {y:.2f}h{2 * arm:.2f}M{x:.2f} {y - arm:.2f}v{2 * arm:.2f}"
            taken += [
                (x - r, y - r, x + r, y + r),
                (x - arm, y - 0.4, x + arm, y + 0.4),
                (x - 0.4, y - arm, x + 0.4, y + arm),
            ]
            here.append((hole, x, y, r))
    for hole, x, y, r in here:
        words = f"{hole.number}: Ø {hole.diameter_mm:g}"
        wide = max(text_width(words, TEXT, bold=True), text_width(hole.feature, SMALL))
        tall = TEXT + (SMALL + 0.6 if hole.feature else 0.0)
        out, far = r + 1.0, r + HOLE_ARM + 1.0
        corners = [
            (x + sx * out - (wide if sx < 0 else 0), y + sy * out - (tall if sy < 0 else 0))
            for sy in (-1, 1)
            for sx in (1, -1)
        ]
        corners += [(x - wide / 2, y - far - tall), (x - wide / 2, y + far)]
        corners += [(x + far, y - tall / 2), (x - far - wide, y - tall / 2)]
        corners += [(x + out, y - far - tall), (x + out, y + far), (x - out - wide, y - far - tall)]
        box = least_covered([(left, top, left + wide, top + tall) for left, top in corners], taken, frame)
        taken.append(box)
        drawing.text(box[0], box[1] + TEXT * 0.85, words, size=TEXT, bold=True)
        drawing.text(box[0], box[3] - 0.6, hole.feature, size=SMALL)
    drawing.path(circles, weight=FIRM)
    drawing.path(crosses, weight=HAIR)


def _joins(drawing: Drawing, tile: Tile, tiling: Tiling, window: Box) -> None:
    """Where to cut this sheet and where its neighbours' edges come to lie. The crosses keep clear of the middles."""
    left, top, right, bottom = window
    middle_x, middle_y = (left + right) / 2, (top + bottom) / 2
    if tile.column:
        drawing.line(left, top, left, bottom, weight=THIN)
        drawing.text(left + 3.6, middle_y, "cut here", size=SMALL, anchor="middle", turn=-90)
    if tile.column + 1 < tiling.columns:
        x = right - OVERLAP
        drawing.line(x, top, x, bottom, weight=THIN, dash=DASH)
        words = f"{_name(tile.row, tile.column + 1)} from here"
        drawing.text(x + 3.6, middle_y, words, size=SMALL, anchor="middle", turn=-90)
    if tile.row:
        drawing.line(left, top, right, top, weight=THIN)
        drawing.text(middle_x, top + 3.6, "cut here", size=SMALL, anchor="middle")
    if tile.row + 1 < tiling.rows:
        y = bottom - OVERLAP
        drawing.line(left, y, right, y, weight=THIN, dash=DASH)
        drawing.text(middle_x, y + 3.6, f"{_name(tile.row + 1, tile.column)} from here", size=SMALL, anchor="middle")


def _rulers(drawing: Drawing, tiling: Tiling) -> None:
    """100 mm each way, ticked every 10."""
    x, y = MARGIN + LEFT_BAND, tiling.page_height_mm - MARGIN - FOOT + 6
    ticks = f"M{x:.2f} {y:.2f}h{RULER:.2f}"
    for n in range(11):
        ticks += f"M{x + n * 10:.2f} {y:.2f}v{-4 if n % 5 == 0 else -2.5}"
    drawing.text(x + RULER + 2, y, "100 mm: check both rulers; print at 100 %", size=SMALL, bold=True)
    x, y = MARGIN + 3.0, MARGIN
    ticks += f"M{x:.2f} {y:.2f}v{RULER:.2f}"
    for n in range(11):
        ticks += f"M{x:.2f} {y + n * 10:.2f}h{4 if n % 5 == 0 else 2.5}"
    drawing.path(ticks, weight=FIRM)
    drawing.text(x - 0.8, y + RULER / 2, "100 mm", size=SMALL, anchor="middle", turn=-90)


def _foot(drawing: Drawing, tile: Tile, tiling: Tiling, circumference: float, height: float, name: str) -> None:
    left, base = MARGIN + LEFT_BAND, tiling.page_height_mm - MARGIN
    # A small key of all sheets, this one filled.
    cell = min(3.4, 7.0 / tiling.rows)
    x, y = tiling.page_width_mm - MARGIN - tiling.columns * cell, base - 6.6 - tiling.rows * cell
    cells = [(x + c * cell, y + r * cell) for r in range(tiling.rows) for c in range(tiling.columns)]
    drawing.path("".join(rectangle(cx, cy, cell, cell) for cx, cy in cells), weight=THIN)
    drawing.solid(rectangle(x + tile.column * cell, y + tile.row * cell, cell, cell))
    drawing.text(left, base - 8.0, f"Sheet {tile.name}", size=4.4, bold=True)
    start = left + text_width(f"Sheet {tile.name}", 4.4, bold=True) + 4
    words = f"{name}: {circumference:.1f} round, {height:.1f} high"
    while text_width(words, TEXT) > x - 3 - start and len(name) > 3:
        name = name[:-2].rstrip() + "…"
        words = f"{name}: {circumference:.1f} round, {height:.1f} high"
    drawing.text(start, base - 8.0, words, size=TEXT)
    drawing.text(
        left,
        base - 3.9,
        "Batter edge up, 0 on the outer seam. Round the shell the ends may stay 0.3 mm apart: the paper's thickness. "
        "Check one hole with a tape before drilling.",
        size=2.4,
    )
    drawing.text(
        left,
        base - 0.6,
        "Caution: clamp the shell, back up the side where the drill comes out, wear eye protection; local rules come first.",
        size=2.4,
        bold=True,
    )
