"""The outside of the shell unrolled, batter edge on top: every hole, the hardware over it, the plate seams.

Places are given from two zeros, as one lays them out with a tape: below the map the arc along the outside from the
datum (the outer seam), above it the angle; on the left the height from the batter edge, on the right the height from the
other one. Seen from outside, arcs and angles grow to the right.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from routing.drawings.common import (
    CHAIN,
    FIRM,
    HEAVY,
    SMALL,
    THIN,
    Anchor,
    Box,
    Drawing,
    circle,
    least_covered,
    rectangle,
    spread,
    text_width,
)

WIDTH = 590.0
LEFT, RIGHT = 62.0, 556.0
TOP = 69.0
MOST_HEIGHT = 230.0
APART = 7.6  # of figures that stand side by side
LEAST_RADIUS = 1.3
LONGEST_NAME = 20
CROSS = 2.0


@dataclass(frozen=True, slots=True)
class MapHole:
    number: int
    arc_mm: float
    height_mm: float
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class MapPiece:
    name: str
    kind: str
    arc_mm: float
    height_mm: float
    round_mm: float
    axial_mm: float


def hole_map_svg(
    *,
    circumference_mm: float,
    height_mm: float,
    holes: Sequence[MapHole],
    pieces: Sequence[MapPiece],
    seam_arcs_mm: Sequence[float],
    seam_runs: Sequence[tuple[float, float, float, float]] = (),
) -> str:
    """The map, one scale in both directions.

    ``seam_arcs_mm`` marks the seams at the edges of the map, ``seam_runs`` draws them. Raises ValueError for a shell without circumference or height."""
    if not (circumference_mm > 0 and height_mm > 0):
        raise ValueError("a hole map needs a circumference and a height")
    scale = min((RIGHT - LEFT) / circumference_mm, MOST_HEIGHT / height_mm)
    width, depth = circumference_mm * scale, height_mm * scale
    right, bottom = LEFT + width, TOP + depth
    drawing = Drawing()
    drawing.path(rectangle(LEFT, TOP, width, depth), weight=HEAVY)
    drawing.path("".join(_footprint(piece, scale, width) for piece in pieces), weight=THIN)
    seams = sorted({round(arc % circumference_mm, 2) for arc in seam_arcs_mm})
    for arc in seams:
        x = LEFT + arc * scale
        drawing.solid(f"M{x:.2f} {TOP:.2f}l-2.2 -4.2h4.4ZM{x:.2f} {bottom:.2f}l-2.2 4.2h4.4Z")
    for x0, y0, x1, y1 in seam_runs:
        drawing.line(LEFT + x0 * scale, TOP + y0 * scale, LEFT + x1 * scale, TOP + y1 * scale, weight=FIRM, dash=CHAIN)
    _holes(drawing, holes, scale, [LEFT + arc * scale for arc in seams], (LEFT, TOP, right, bottom))
    _angles(drawing, holes, seams, circumference_mm, scale)
    below = _arcs(drawing, holes, pieces, circumference_mm, scale, bottom)
    _heights(drawing, holes, height_mm, scale, right)
    drawing.dimension(LEFT, 14, right, 14, f"once round: {circumference_mm:.1f} mm")
    for line in _diameters(holes):
        below += 9
        drawing.text(LEFT, below, line)
    title = f"Hole map, outside unrolled: {len(holes)} holes on {circumference_mm:.1f} by {height_mm:.1f} mm"
    return drawing.svg(WIDTH, below + 4, title=title, name="hole-map")


def _footprint(piece: MapPiece, scale: float, width: float) -> str:
    """The rectangle that a piece covers; one that crosses the datum shows at both ends of the map, open there."""
    x = LEFT + (piece.arc_mm - piece.round_mm / 2) * scale
    y = TOP + (piece.height_mm - piece.axial_mm / 2) * scale
    w, h = piece.round_mm * scale, piece.axial_mm * scale
    if x < LEFT:
        x += width
    over = x + w - (LEFT + width)
    if over <= 0:
        return rectangle(x, y, w, h)
    return (
        f"M{LEFT + width:.2f} {y:.2f}H{x:.2f}v{h:.2f}H{LEFT + width:.2f}"
        f"M{LEFT:.2f} {y:.2f}h{over:.2f}v{h:.2f}H{LEFT:.2f}"
    )


def _holes(drawing: Drawing, holes: Sequence[MapHole], scale: float, seams: Sequence[float], frame: Box) -> None:
    circles = crosses = ""
    taken: list[Box] = [(seam - 1, frame[1], seam + 1, frame[3]) for seam in seams]
    placed = []
    for hole in holes:
        x, y = LEFT + hole.arc_mm * scale, TOP + hole.height_mm * scale
        r = max(hole.diameter_mm * scale / 2, LEAST_RADIUS)
        arm = r + CROSS
        circles += circle(x, y, r)
        crosses += f"M{x - arm:.2f} {y:.2f}h{2 * arm:.2f}M{x:.2f} {y - arm:.2f}v{2 * arm:.2f}"
        placed.append((hole, x, y, r))
        taken.append((x - arm, y - arm, x + arm, y + arm))
    drawing.path(circles, weight=FIRM)
    drawing.path(crosses, weight=THIN)
    for hole, x, y, r in placed:
        box = _place_number(str(hole.number), x, y, r, taken, frame)
        taken.append(box)
        drawing.text((box[0] + box[2]) / 2, box[3] - 0.6, str(hole.number), size=SMALL, anchor="middle", clear=True)


def _place_number(words: str, x: float, y: float, r: float, taken: Sequence[Box], frame: Box) -> Box:
    """Beside the hole where it covers least: first choice up and to the right."""
    wide, tall = text_width(words, SMALL), SMALL * 0.85
    near, far = r + 1.0, r + CROSS + 1.0
    corners = [
        (x + near, y - near - tall),
        (x - near - wide, y - near - tall),
        (x + near, y + near),
        (x - near - wide, y + near),
        (x + far, y - tall / 2),
        (x - far - wide, y - tall / 2),
        (x - wide / 2, y - far - tall),
        (x - wide / 2, y + far),
    ]
    return least_covered([(left, top, left + wide, top + tall) for left, top in corners], taken, frame)


def _columns(holes: Iterable[MapHole]) -> list[float]:
    return sorted({round(hole.arc_mm, 1) for hole in holes})


def _upright(drawing: Drawing, marks: Sequence[tuple[float, str, bool]], edge: float, out: float, high: float) -> None:
    """Figures turned upright at the ends of lines that lead to the map's edge; ``out`` −1 above, 1 below."""
    places = spread([x for x, _, _ in marks], APART, LEFT - 6, high + 6)
    lines = ""
    for (x, words, bold), place in zip(marks, places, strict=True):
        lines += f"M{x:.2f} {edge + out * 1.0:.2f}V{edge + out * 5:.2f}L{place:.2f} {edge + out * 11:.2f}v{out * 2:.0f}"
        drawing.text(
            place + SMALL * 0.36,
            edge + out * 14.5,
            words,
            size=SMALL,
            turn=-90,
            bold=bold,
            anchor="start" if out < 0 else "end",
        )
    drawing.path(lines, weight=THIN)


def _angles(
    drawing: Drawing, holes: Sequence[MapHole], seams: Sequence[float], circumference: float, scale: float
) -> None:
    per_mm = 360 / circumference
    marks = [(LEFT + arc * scale, f"{arc * per_mm:.1f}".removesuffix(".0") + "°", False) for arc in _columns(holes)]
    marks += [(LEFT + arc * scale, "seam" if arc < 0.5 else f"seam {arc * per_mm:.0f}°", True) for arc in seams]
    marks.sort(key=lambda mark: mark[0])
    _upright(drawing, marks, TOP, -1, LEFT + circumference * scale)


def _arcs(
    drawing: Drawing,
    holes: Sequence[MapHole],
    pieces: Sequence[MapPiece],
    circumference: float,
    scale: float,
    bottom: float,
) -> float:
    """Arcs below the map, with the names of what stands there; gives back where the next line of words may begin."""
    columns = _columns(holes)
    names: dict[float, list[str]] = {}
    for piece in pieces:
        if piece.kind == "lug" or not columns:
            continue
        column = min(columns, key=lambda arc: (_round_apart(arc, piece.arc_mm, circumference), arc))
        if _round_apart(column, piece.arc_mm, circumference) > piece.round_mm / 2 + 1:
            continue  # held by no hole of its own
        short = piece.name if len(piece.name) <= LONGEST_NAME else piece.name[: LONGEST_NAME - 1].rstrip() + "…"
        if short not in names.setdefault(column, []):
            names[column].append(short)
    marks = []
    deepest = 0.0
    for arc in columns:
        words = "  ".join([", ".join(names[arc][:2]), f"{arc:.1f}"]) if arc in names else f"{arc:.1f}"
        marks.append((LEFT + arc * scale, words, arc in names))
        deepest = max(deepest, text_width(words, SMALL, bold=arc in names))
    _upright(drawing, marks, bottom, 1, LEFT + circumference * scale)
    return bottom + 16 + deepest


def _round_apart(first: float, second: float, circumference: float) -> float:
    apart = abs(first - second) % circumference
    return min(apart, circumference - apart)


def _heights(drawing: Drawing, holes: Sequence[MapHole], height: float, scale: float, right: float) -> None:
    levels = sorted({round(hole.height_mm, 1) for hole in holes})
    bottom = TOP + height * scale
    for side, edge in ((-1, LEFT), (1, right)):
        marks = [(TOP, "batter edge  0" if side < 0 else f"{height:.1f}")]
        marks += [(TOP + level * scale, f"{level if side < 0 else height - level:.1f}") for level in levels]
        marks.append((bottom, f"{height:.1f}" if side < 0 else "0"))
        places = spread([y for y, _ in marks], APART, TOP - 2, bottom + 2)
        lines = ""
        for (y, words), place in zip(marks, places, strict=True):
            lines += f"M{edge + side * 1.0:.2f} {y:.2f}h{side * 3}L{edge + side * 9:.2f} {place:.2f}h{side * 1.5}"
            anchor: Anchor = "end" if side < 0 else "start"
            drawing.text(edge + side * 12, place + SMALL * 0.36, words, size=SMALL, anchor=anchor)
        drawing.path(lines, weight=THIN)


def _diameters(holes: Sequence[MapHole]) -> list[str]:
    """Which holes have which diameter, in lines as wide as the map."""
    by_size: dict[float, list[int]] = {}
    for hole in sorted(holes, key=lambda hole: hole.number):
        by_size.setdefault(round(hole.diameter_mm, 2), []).append(hole.number)
    words = [
        f"Ø {size:g}: {'hole' if len(numbers) == 1 else 'holes'} {_runs(numbers)}"
        for size, numbers in sorted(by_size.items())
    ]
    lines: list[str] = []
    for part in words:
        if lines and text_width(lines[-1] + ";  " + part, 7.5) < RIGHT - LEFT:
            lines[-1] += "; " + part
        else:
            lines.append(part)
    return lines


def _runs(numbers: Sequence[int]) -> str:
    """1, 2, 3, 7 as “1–3, 7”."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        str(run[0]) if len(run) == 1 else f"{run[0]}, {run[1]}" if len(run) == 2 else f"{run[0]}–{run[-1]}"
        for run in runs
    )
