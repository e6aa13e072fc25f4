"""The outside of the shell unrolled: every hole, the hardware over it, the plate seams, with arc and height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import FIRM, HEAVY, THIN, dimension, drawing, line, path, text

WIDTH = 560.0
LEFT, TOP = 30.0, 30.0
MOST_HEIGHT, LEAST_HEIGHT = 230.0, 70.0


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
) -> str:
    """True to scale round and along. The batter edge is at the top, the datum (outer seam) at both sides."""
    scale = (WIDTH - LEFT - 14) / circumference_mm
    if height_mm * scale > MOST_HEIGHT:
        scale = MOST_HEIGHT / height_mm
    width, depth = circumference_mm * scale, height_mm * scale
    bottom = TOP + depth
    parts = [path(f"M{LEFT} {TOP}h{width:.2f}v{depth:.2f}h{-width:.2f}Z", weight=HEAVY)]
    for arc in sorted({round(arc, 2) for arc in seam_arcs_mm}):
        x = LEFT + arc * scale
        if 0.5 < arc < circumference_mm - 0.5:
            parts.append(line(x, TOP, x, bottom, weight=FIRM, dash="6 2 1.5 2"))
            parts.append(text(x + 1.5, bottom - 2, "seam", size=5))
    outlines = ""
    for piece in pieces:
        outlines += _box(piece, scale, width)
    parts.append(path(outlines, weight=THIN))
    circles = crosses = ""
    for hole in holes:
        x, y, r = LEFT + hole.arc_mm * scale, TOP + hole.height_mm * scale, max(hole.diameter_mm * scale / 2, 1.1)
        circles += f"M{x - r:.2f} {y:.2f}a{r:.2f} {r:.2f} 0 1 0 {2 * r:.2f} 0a{r:.2f} {r:.2f} 0 1 0 {-2 * r:.2f} 0"
        crosses += f"M{x - r - 1.5:.2f} {y:.2f}h{2 * r + 3:.2f}M{x:.2f} {y - r - 1.5:.2f}v{2 * r + 3:.2f}"
        parts.append(text(x + r + 0.8, y - r - 0.4, str(hole.number), size=5.2))
    parts.append(path(circles, weight=0.9))
    parts.append(path(crosses, weight=0.3))
    parts.extend(_lines_of_lugs(pieces, scale, bottom))
    parts.append(dimension(LEFT, TOP, LEFT + width, TOP, f"circumference {circumference_mm:.1f} mm", off=14, size=7))
    parts.append(dimension(LEFT, bottom, LEFT, TOP, f"{height_mm:.1f}", off=12, size=7))
    parts.append(text(LEFT, TOP - 3, "0 = outer seam", size=6))
    parts.append(text(LEFT + width, TOP - 3, "batter edge", size=6, anchor="end"))
    title = f"Hole map, outside unrolled: {len(holes)} holes on {circumference_mm:.0f} by {height_mm:.0f} mm"
    return drawing(WIDTH, bottom + 26, "".join(parts), title=title, name="hole-map")


def _box(piece: MapPiece, scale: float, width: float) -> str:
    """The footprint; one that crosses the datum is drawn at both sides."""
    x, y = LEFT + (piece.arc_mm - piece.round_mm / 2) * scale, TOP + (piece.height_mm - piece.axial_mm / 2) * scale
    w, h = piece.round_mm * scale, piece.axial_mm * scale
    if x < LEFT:
        return f"M{LEFT} {y:.2f}H{x + w:.2f}v{h:.2f}H{LEFT}M{LEFT + width:.2f} {y:.2f}H{x + width:.2f}v{h:.2f}H{LEFT + width:.2f}"
    if x + w > LEFT + width:
        return f"M{LEFT + width:.2f} {y:.2f}H{x:.2f}v{h:.2f}H{LEFT + width:.2f}M{LEFT} {y:.2f}H{x + w - width:.2f}v{h:.2f}H{LEFT}"
    return f"M{x:.2f} {y:.2f}h{w:.2f}v{h:.2f}h{-w:.2f}Z"


def _lines_of_lugs(pieces: Sequence[MapPiece], scale: float, bottom: float) -> list[str]:
    """Under the map: the arc of every vertical on which something stands, lugs by number, the rest by name."""
    parts: list[str] = []
    placed: list[tuple[float, int]] = []
    seen: set[tuple[str, float]] = set()
    for piece in sorted(pieces, key=lambda p: p.arc_mm):
        key = (piece.kind, round(piece.arc_mm, 1))
        if key in seen:
            continue
        seen.add(key)
        x = LEFT + piece.arc_mm * scale
        words = f"{piece.arc_mm:.1f}" if piece.kind == "lug" else f"{piece.name} {piece.arc_mm:.1f}"
        reach = len(words) * 2.7
        row = next(r for r in range(4) if all(abs(x - other) > reach or used != r for other, used in placed) or r == 3)
        placed.append((x, row))
        parts.append(line(x, bottom, x, bottom + 2.5 + row * 6, weight=THIN))
        parts.append(text(x, bottom + 8 + row * 6, words, size=5.2, anchor="middle", bold=piece.kind != "lug"))
    return parts
