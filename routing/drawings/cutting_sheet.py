"""One stock sheet with its blanks as the saw takes them; the grain of the face veneers runs from left to right."""

from __future__ import annotations

from routing.drawings.common import DASH, FIRM, HEAVY, SMALL, TEXT, THIN, Drawing, rectangle, text_width
from routing.specs.cutting_plan import SheetLayout, StockSheet

WIDTH, LEFT, TOP = 590.0, 30.0, 30.0
PAD = 3.0  # words keep this from the lines
LINE = 8.6


def cutting_sheet_svg(stock: StockSheet, layout: SheetLayout) -> str:
    """To scale. Blanks carry their label and size, along × across the grain in mm; offcuts worth keeping are dashed.

    A blank too small for its words gets a number; the words stand under the sheet.
    """
    scale = (WIDTH - LEFT - 8) / stock.length_mm
    width, height = stock.length_mm * scale, stock.width_mm * scale
    bottom = TOP + height
    drawing = Drawing()
    drawing.path(rectangle(LEFT, TOP, width, height), weight=HEAVY)
    keys: list[str] = []
    for offcut in layout.offcuts:
        box = _box(offcut.x_mm, offcut.y_mm, offcut.along_grain_mm, offcut.across_grain_mm, scale)
        x, y, w, h = box
        if w > 3 and h > 3:
            # A little inside its place, so that the dashes are not lost on the lines of its neighbours.
            drawing.path(rectangle(x + 1.2, y + 1.2, w - 2.4, h - 2.4), weight=THIN, dash=DASH)
        _words(drawing, box, "keep", _size(offcut.along_grain_mm, offcut.across_grain_mm), keys, bold=False)
    for blank in layout.blanks:
        box = _box(blank.x_mm, blank.y_mm, blank.along_grain_mm, blank.across_grain_mm, scale)
        drawing.path(rectangle(*box), weight=FIRM)
        _words(drawing, box, blank.label, _size(blank.along_grain_mm, blank.across_grain_mm), keys, bold=True)
    drawing.dimension(LEFT, TOP, LEFT + width, TOP, f"{stock.length_mm:g} mm along the grain", off=12)
    drawing.dimension(LEFT, bottom, LEFT, TOP, f"{stock.width_mm:g}", off=12)
    below = bottom + 11
    drawing.line(LEFT, below, LEFT + 44, below, weight=FIRM)
    drawing.arrow(LEFT, below, 180, length=7)
    drawing.arrow(LEFT + 44, below, 0, length=7)
    drawing.text(LEFT + 49, below + 2.6, "grain")
    drawing.text(LEFT + width, below + 2.6, f"sheet {layout.number}, {layout.used_pct:.0f} % used", anchor="end")
    for line in _lines(keys, width):
        below += LINE
        drawing.text(LEFT, below + 4, line, size=SMALL)
    title = f"Sheet {layout.number} of {stock.name}: {len(layout.blanks)} blanks, {layout.used_pct:.0f} % used"
    return drawing.svg(WIDTH, below + 9, title=title, name="cutting-sheet")


def _box(x: float, y: float, along: float, across: float, scale: float) -> tuple[float, float, float, float]:
    return LEFT + x * scale, TOP + y * scale, along * scale, across * scale


def _size(along: float, across: float) -> str:
    return " × ".join(f"{mm:.1f}".removesuffix(".0") for mm in (along, across))


def _words(
    drawing: Drawing, box: tuple[float, float, float, float], label: str, size: str, keys: list[str], *, bold: bool
) -> None:
    """Two lines, one line, or a number that the list under the sheet explains; turned where the blank stands upright."""
    x, y, w, h = box
    turn = -90.0 if h > w else 0.0
    long, short = max(w, h) - 2 * PAD, min(w, h) - PAD
    middle_x, middle_y = x + w / 2, y + h / 2

    def put(words: str, aside: float, type_size: float, strong: bool) -> None:
        """``aside`` is how far below the middle the base line lies, as the words are read."""
        across, down = (aside, 0.0) if turn else (0.0, aside)
        drawing.text(middle_x + across, middle_y + down, words, size=type_size, anchor="middle", turn=turn, bold=strong)

    if short >= 2 * LINE and max(text_width(label, TEXT, bold=bold), text_width(size, TEXT)) <= long:
        put(label, -1.4, TEXT, bold)
        put(size, 7.4, TEXT, False)
        return
    for type_size in (TEXT, SMALL):
        one = f"{label}  {size}"
        if short >= type_size * 0.9 and text_width(one, type_size, bold=bold) <= long:
            put(f"{label}, {size}", type_size * 0.36, type_size, bold)
            return
    keys.append(f"{len(keys) + 1}: {label}, {size}")
    fitting = min(SMALL, min(w, h) * 0.95)
    put(str(len(keys)), fitting * 0.36, fitting, True)


def _lines(keys: list[str], width: float) -> list[str]:
    lines: list[str] = []
    for key in keys:
        if lines and text_width(f"{lines[-1]};  {key}", SMALL) <= width:
            lines[-1] += f"; {key}"
        else:
            lines.append(key)
    return lines
