"""One stock sheet with its blanks as the saw takes them; grain runs from left to right."""

from __future__ import annotations

from routing.drawings.common import FIRM, HEAVY, THIN, dimension, drawing, line, path, text
from routing.specs.cutting_plan import SheetLayout, StockSheet

WIDTH, LEFT, TOP = 420.0, 26.0, 26.0
LEAST_TO_WRITE = 26.0


def cutting_sheet_svg(stock: StockSheet, layout: SheetLayout) -> str:
    """To scale. Blanks carry their label and size, offcuts worth keeping their size in brackets."""
    scale = (WIDTH - LEFT - 12) / stock.length_mm
    width, height = stock.length_mm * scale, stock.width_mm * scale
    parts = [path(f"M{LEFT} {TOP}h{width:.2f}v{height:.2f}h{-width:.2f}Z", weight=HEAVY)]
    for offcut in layout.offcuts:
        x, y, w, h = _box(offcut.x_mm, offcut.y_mm, offcut.along_grain_mm, offcut.across_grain_mm, scale)
        parts.append(
            f'<path d="M{x:.2f} {y:.2f}h{w:.2f}v{h:.2f}h{-w:.2f}Z" stroke-width="{THIN}" stroke-dasharray="3 2"/>'
        )
        if w > LEAST_TO_WRITE and h > 7:
            words = f"({offcut.along_grain_mm:.0f} × {offcut.across_grain_mm:.0f})"
            parts.append(text(x + w / 2, y + h / 2 + 2, words, size=5.5, anchor="middle"))
    for blank in layout.blanks:
        x, y, w, h = _box(blank.x_mm, blank.y_mm, blank.along_grain_mm, blank.across_grain_mm, scale)
        parts.append(path(f"M{x:.2f} {y:.2f}h{w:.2f}v{h:.2f}h{-w:.2f}Z", weight=FIRM))
        size = f"{blank.along_grain_mm:.0f} × {blank.across_grain_mm:.0f}"
        turn = -90.0 if h > w else 0.0
        long, short = max(w, h), min(w, h)
        if long > LEAST_TO_WRITE and short > 12:
            dx, dy = (3.2, 0.0) if turn else (0.0, 3.2)
            parts.append(
                text(x + w / 2 - dx, y + h / 2 - dy + 1.8, blank.label, size=5.5, anchor="middle", turn=turn, bold=True)
            )
            parts.append(text(x + w / 2 + dx, y + h / 2 + dy + 1.8, size, size=5.5, anchor="middle", turn=turn))
        elif long > LEAST_TO_WRITE and short > 5:
            parts.append(
                text(x + w / 2, y + h / 2 + 1.8, f"{blank.label} {size}", size=4.8, anchor="middle", turn=turn)
            )
    parts.append(dimension(LEFT, TOP, LEFT + width, TOP, f"{stock.length_mm:.0f} mm, along the grain", off=8))
    parts.append(dimension(LEFT, TOP + height, LEFT, TOP, f"{stock.width_mm:.0f}", off=8))
    arrow = TOP + height + 8
    parts.append(line(LEFT, arrow, LEFT + 40, arrow, weight=THIN))
    parts.append(path(f"M{LEFT + 40} {arrow}l-5 -1.6v3.2Z", weight=0, fill="currentColor"))
    parts.append(text(LEFT + 44, arrow + 2, "grain", size=6))
    title = f"Sheet {layout.number} of {stock.name}: {len(layout.blanks)} blanks, {layout.used_pct:.0f} % used"
    return drawing(WIDTH, TOP + height + 16, "".join(parts), title=title, name="cutting-sheet")


def _box(x: float, y: float, along: float, across: float, scale: float) -> tuple[float, float, float, float]:
    return LEFT + x * scale, TOP + y * scale, along * scale, across * scale
