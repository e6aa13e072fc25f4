"""One voice for all drawings: line weights, dimension lines and text as on a shop drawing.

Lengths are in drawing units; on a traveler one unit is about 0.3 mm. Lines of one weight are gathered into one path,
because paper takes its time for each element. Drawings carry presentation attributes only and no ids, so that any number
of them can stand on one page under a strict policy.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from html import escape
from typing import Literal

FACE = "DejaVu Sans Condensed, sans-serif"
INK = "currentColor"
HEAVY = 1.6  # what is cut
FIRM = 0.9  # what is seen
THIN = 0.45  # dimension and leader lines
HAIR = 0.3  # hatch
SEAM = 3.0  # a joint, drawn over what it joins
CHAIN = "7 2 1.2 2"  # centre lines and planes
DASH = "4 2.2"  # what is hidden or only imagined
TEXT = 7.5
SMALL = 6.6
LEADING = 1.08  # from line to line of a name, in heights of its type
ARROW, ARROW_HALF = 5.2, 0.95

Anchor = Literal["start", "middle", "end"]
Box = tuple[float, float, float, float]  # left, top, right, bottom

# Advance widths in thousandths of the size, from space to tilde, as DejaVu Sans Condensed and its bold cut give them.
_WIDTHS = (
    (286, 360, 414, 754, 572, 855, 702, 247, 351, 351, 450, 754, 286, 325, 286, 303)
    + (572,) * 10
    + (303, 303, 754, 754, 754, 478, 900, 615, 617, 628, 693, 568, 518, 697, 677, 265, 265, 590, 501, 776, 673, 708)
    + (542, 708, 625, 571, 549, 659, 615, 890, 616, 549, 616, 351, 303, 351, 754, 450, 450, 551, 571, 495, 571, 554)
    + (316, 571, 570, 250, 250, 521, 250, 876, 570, 550, 571, 571, 370, 469, 353, 570, 532, 736, 532, 532, 472, 572)
    + (303, 572, 754)
)
_BOLD_WIDTHS = (
    (313, 410, 469, 754, 626, 901, 785, 275, 411, 411, 470, 754, 342, 374, 342, 329)
    + (626,) * 10
    + (360, 360, 754, 754, 754, 522, 900, 696, 686, 660, 747, 615, 615, 738, 753, 334, 334, 697, 573, 896, 753, 765)
    + (659, 765, 693, 648, 614, 730, 696, 993, 694, 651, 652, 411, 329, 411, 754, 450, 450, 607, 644, 533, 644, 610)
    + (391, 644, 641, 308, 308, 598, 308, 938, 641, 618, 644, 644, 444, 536, 430, 641, 586, 831, 580, 586, 523, 641)
    + (329, 641, 754)
)
_SIGNS = {"°": 450, "×": 754, "Ø": 708, "–": 450, "…": 900, "±": 754}  # nearly the same in both
_FOREIGN_WIDTH = 1000  # about the widest of the letters that the face may have, and of those of a font that steps in


def text_width(words: str, size: float, *, bold: bool = False) -> float:
    """How wide words come out in the drawings' face, in the unit of ``size``; of foreign letters at most so wide."""
    widths = _BOLD_WIDTHS if bold else _WIDTHS
    return sum(widths[ord(c) - 32] if " " <= c <= "~" else _other_width(c, widths) for c in words) * size / 1000


def _other_width(letter: str, widths: tuple[int, ...]) -> int:
    """With an accent a letter is as wide as without; a mark alone stands on the letter before."""
    if letter in _SIGNS:
        return _SIGNS[letter]
    if unicodedata.combining(letter):
        return 0
    plain = unicodedata.normalize("NFD", letter)[0]
    return widths[ord(plain) - 32] if " " <= plain <= "~" else _FOREIGN_WIDTH


def in_lines(words: str, room: float, size: float, *, bold: bool = False) -> list[str]:
    """Words in as many lines as they need; only a word that is longer than a line is broken."""

    def fits(line: str) -> bool:
        return text_width(line, size, bold=bold) <= room

    lines = [""]
    for word in words.split():
        joined = f"{lines[-1]} {word}".lstrip()
        if fits(joined):
            lines[-1] = joined
        elif fits(word):
            lines.append(word)
        else:
            lines[-1] += " "
            for letter in word:
                # A mark stays with the letter that it stands on.
                if fits(lines[-1] + letter) or unicodedata.combining(letter):
                    lines[-1] += letter
                else:
                    lines.append(letter)
    return [line.strip() for line in lines]


def few_lines(words: str, room: float, size: float, *, most: int = 2, bold: bool = False) -> list[str]:
    """Words in at most so many lines; what does not fit is cut from the last."""
    lines = in_lines(words, room, size, bold=bold)
    if len(lines) <= most:
        return lines
    last = " ".join(lines[most - 1 :])
    while last and text_width(f"{last}…", size, bold=bold) > room:
        last = last[:-1].rstrip()
    return [*lines[: most - 1], f"{last}…"]


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places for labels in the order given (ascending), ``apart`` from each other, as near as can be to where they want
    to stand and between ``low`` and ``high``; squeezed evenly when there are too many."""
    if not wanted:
        return []
    if (len(wanted) - 1) * apart > high - low:
        apart = (high - low) / max(len(wanted) - 1, 1)
    # Labels that would touch are merged into a block about their common middle.
    blocks: list[tuple[float, int]] = []  # start, count
    for place in wanted:
        blocks.append((place, 1))
        while len(blocks) > 1 and blocks[-2][0] + blocks[-2][1] * apart > blocks[-1][0] - 1e-9:
            (first, many), (second, more) = blocks[-2], blocks[-1]
            start = (first * many + (second - many * apart) * more) / (many + more)
            blocks[-2:] = [(start, many + more)]
    places = [start + n * apart for start, count in blocks for n in range(count)]
    for n, place in enumerate(places):
        places[n] = max(place, low + n * apart)
    for n in range(len(places) - 1, -1, -1):
        places[n] = min(places[n], high - (len(places) - 1 - n) * apart)
    return places


def least_covered(candidates: Sequence[Box], taken: Sequence[Box], frame: Box) -> Box:
    """The candidate that covers least of what is there already and stays in the frame; the first of equals."""
    low_x, high_x = min(box[0] for box in candidates), max(box[2] for box in candidates)
    low_y, high_y = min(box[1] for box in candidates), max(box[3] for box in candidates)
    close = [t for t in taken if t[0] < high_x and t[2] > low_x and t[1] < high_y and t[3] > low_y]

    def cost(box: Box) -> float:
        area = (box[2] - box[0]) * (box[3] - box[1])
        inside = overlap(box, frame)
        return sum(overlap(box, other) for other in close) + (area - inside) * 2

    return min(candidates, key=cost)


def overlap(a: Box, b: Box) -> float:
    """The area that two boxes share."""
    return max(0.0, min(a[2], b[2]) - max(a[0], b[0])) * max(0.0, min(a[3], b[3]) - max(a[1], b[1]))


def circle(x: float, y: float, r: float) -> str:
    """A full circle as path data; it turns as rectangles and arrowheads do, so that solids which meet do not cancel."""
    return f"M{x - r:.2f} {y:.2f}a{r:.2f} {r:.2f} 0 1 1 {2 * r:.2f} 0a{r:.2f} {r:.2f} 0 1 1 {-2 * r:.2f} 0"


def rectangle(x: float, y: float, width: float, height: float) -> str:
    return f"M{x:.2f} {y:.2f}h{width:.2f}v{height:.2f}h{-width:.2f}Z"


def hatch(outline: Sequence[tuple[float, float]], *, apart: float, angle_deg: float = 45.0) -> str:
    """Parallel lines inside a closed polygon as path data: the sign of cut material."""
    slope = math.radians(angle_deg)
    ux, uy = math.cos(slope), -math.sin(slope)
    nx, ny = -uy, ux
    along = [(x * ux + y * uy, x * nx + y * ny) for x, y in outline]
    low, high = min(v for _, v in along), max(v for _, v in along)
    d = ""
    level = (math.floor(low / apart) + 0.5) * apart
    while level < high:
        cuts = []
        for (s1, v1), (s2, v2) in zip(along, [*along[1:], along[0]], strict=True):
            if (v1 <= level) != (v2 <= level):
                cuts.append(s1 + (s2 - s1) * (level - v1) / (v2 - v1))
        cuts.sort()
        for a, b in zip(cuts[::2], cuts[1::2], strict=False):
            d += f"M{a * ux + level * nx:.2f} {a * uy + level * ny:.2f}L{b * ux + level * nx:.2f} {b * uy + level * ny:.2f}"
        level += apart
    return d


class Drawing:
    """Collects lines by weight, solid shapes and words, then writes them as one ``<svg>``."""

    def __init__(self) -> None:
        self._lines: dict[tuple[float, str], list[str]] = {}
        self._solid: list[str] = []
        self._paper: list[str] = []
        self._words: list[str] = []
        self.taken: list[Box] = []  # room of the words so far, level or upright ones

    def path(self, d: str, *, weight: float = FIRM, dash: str = "") -> None:
        """Lines that are drawn, not filled."""
        if d:
            self._lines.setdefault((weight, dash), []).append(d)

    def line(self, x1: float, y1: float, x2: float, y2: float, *, weight: float = FIRM, dash: str = "") -> None:
        self.path(f"M{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}", weight=weight, dash=dash)

    def solid(self, d: str) -> None:
        """A shape filled with ink."""
        self._solid.append(d)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = TEXT,
        anchor: Anchor = "start",
        turn: float = 0,
        bold: bool = False,
        clear: bool = False,
        whole: str = "",
    ) -> None:
        """Words on a base line. ``clear`` takes the lines away behind them (level words only); ``whole`` is what they were
        before they were cut, said where a pointer rests on them."""
        if not words:
            return
        width = text_width(words, size, bold=bold)
        before = {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        if turn == 0:
            self.taken.append((x - before, y - size * 0.75, x - before + width, y))
        elif turn == -90:
            self.taken.append((x - size * 0.75, y + before - width, x, y + before))
        if clear:
            self._paper.append(rectangle(x - before - size * 0.1, y - size * 0.8, width + size * 0.2, size))
        turned = f' transform="rotate({turn:g} {x:.2f} {y:.2f})"' if turn else ""
        placed = "" if anchor == "start" else f' text-anchor="{anchor}"'
        weight = ' font-weight="bold"' if bold else ""
        said = f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}"{placed}{weight}{turned}>{escape(words)}</text>'
        self._words.append(f"<g><title>{escape(whole)}</title>{said}</g>" if whole else said)

    def name(
        self, x: float, y: float, lines: Sequence[str], whole: str, *, size: float, anchor: Anchor = "start"
    ) -> None:
        """A name in a few lines about the height ``y``; where it is cut it is said whole."""
        cut = whole if lines and lines[-1].endswith("…") else ""
        for n, line in enumerate(lines):
            base = y + (n - (len(lines) - 1) / 2) * size * LEADING + size * 0.36
            self.text(x, base, line, size=size, anchor=anchor, whole=cut)

    def arrow(self, x: float, y: float, towards_deg: float, *, length: float = ARROW) -> None:
        """An arrowhead whose tip is at x, y; ``towards_deg`` is where it points, 0 right, 90 up."""
        a = math.radians(towards_deg)
        ux, uy = math.cos(a), -math.sin(a)
        half = ARROW_HALF * length / ARROW
        bx, by = x - ux * length, y - uy * length
        self.solid(
            f"M{x:.2f} {y:.2f}L{bx - uy * half:.2f} {by + ux * half:.2f}L{bx + uy * half:.2f} {by - ux * half:.2f}Z"
        )

    def leader(self, points: Sequence[tuple[float, float]], words: str, *, size: float = SMALL) -> None:
        """A line from words to a thing: arrowhead at the first point, words at the last."""
        (x1, y1), (x2, y2) = points[0], points[1]
        self.path("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points), weight=THIN)
        self.arrow(x1, y1, math.degrees(math.atan2(-(y1 - y2), x1 - x2)), length=4.2)
        x, y = points[-1]
        left = x < points[-2][0]
        self.text(x - 1.5 if left else x + 1.5, y + size * 0.36, words, size=size, anchor="end" if left else "start")

    def dimension(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        words: str,
        *,
        off: float = 0.0,
        size: float = TEXT,
        beyond: Literal["start", "end"] = "end",
        bold: bool = False,
        level: bool = False,
    ) -> None:
        """A dimension line between two points, moved by ``off`` to the left of the way from the first to the second.

        The words stand above the line as it is read from below or from the right. Where the line is too short for
        arrowheads or words, they go outside, at the end named by ``beyond``. ``level`` keeps the words of an upright line
        level, beside it.
        """
        length = math.hypot(x2 - x1, y2 - y1)
        if length < 1e-6:
            return
        ux, uy = (x2 - x1) / length, (y2 - y1) / length
        nx, ny = uy, -ux
        ax, ay, bx, by = x1 + nx * off, y1 + ny * off, x2 + nx * off, y2 + ny * off
        if off:
            gap, over = math.copysign(1.2, off), math.copysign(1.8, off)
            for px, py, qx, qy in ((x1, y1, ax, ay), (x2, y2, bx, by)):
                self.line(px + nx * gap, py + ny * gap, qx + nx * over, qy + ny * over, weight=THIN)
        wide = text_width(words, size, bold=bold)
        heading = math.degrees(math.atan2(-uy, ux))
        fits_arrows = length >= 2.4 * ARROW
        if fits_arrows:
            self.line(ax, ay, bx, by, weight=THIN)
            self.arrow(ax, ay, heading + 180)
            self.arrow(bx, by, heading)
        else:
            tail = 1.7 * ARROW
            self.line(ax - ux * tail, ay - uy * tail, bx + ux * tail, by + uy * tail, weight=THIN)
            self.arrow(ax, ay, heading)
            self.arrow(bx, by, heading + 180)
        turn = -heading
        while turn > 90 - 1e-6:
            turn -= 180
        while turn <= -90 - 1e-6:
            turn += 180
        if level:
            self.text(
                max(ax, bx) + 2.2 if off >= 0 else min(ax, bx) - 2.2,
                (ay + by) / 2 + size * 0.36,
                words,
                size=size,
                anchor="start" if off >= 0 else "end",
                bold=bold,
            )
            return
        reach = 0.0
        if wide > length - (2.0 if fits_arrows else 0.0):
            reach = length / 2 + (0.0 if fits_arrows else 1.7 * ARROW) + 1.5 + wide / 2
            reach = -reach if beyond == "start" else reach
        mx, my = (ax + bx) / 2 + ux * reach, (ay + by) / 2 + uy * reach
        radians = math.radians(turn)
        # Outside, the words stand on the line's own height; inside, above it.
        lift = 1.7 if not reach or (fits_arrows is False and abs(reach) < length) else -size * 0.34
        self.text(
            mx + math.sin(radians) * lift,
            my - math.cos(radians) * lift,
            words,
            size=size,
            anchor="middle",
            turn=round(turn, 2) + 0.0,
            bold=bold,
        )

    def body(self) -> str:
        """What is drawn, without the frame around it."""
        lines = "".join(
            f'<path d="{"".join(d)}" stroke-width="{weight:g}"' + (f' stroke-dasharray="{dash}"/>' if dash else "/>")
            for (weight, dash), d in self._lines.items()
        )
        paper = (
            f'<path class="drawing-paper" d="{"".join(self._paper)}" fill="#fff" stroke="none"/>' if self._paper else ""
        )
        solid = f'<path d="{"".join(self._solid)}" fill="{INK}" stroke="none"/>' if self._solid else ""
        words = f'<g fill="{INK}" stroke="none">{"".join(self._words)}</g>' if self._words else ""
        return f"{lines}{paper}{solid}{words}"

    def clear(self, d: str) -> None:
        """Takes the lines away inside a shape, so that what is drawn over it can be read."""
        self._paper.append(d)

    def svg(
        self,
        width: float,
        height: float,
        *,
        title: str,
        name: str,
        unit: str = "",
        described: str = "",
        over: Drawing | None = None,
    ) -> str:
        """The whole drawing, scalable; with a ``unit`` it also has that size on paper. The title says it in words,
        ``described`` at length. What is ``over`` it is drawn last."""
        sized = f' width="{width:g}{unit}" height="{height:g}{unit}"' if unit else ""
        told = f"<desc>{escape(described)}</desc>" if described else ""
        return (
            f'<svg class="drawing {name}"{sized} viewBox="0 0 {width:.1f} {height:.1f}" role="img" '
            f'xmlns="http://www.w3.org/2000/svg" font-family="{FACE}" fill="none" stroke="{INK}" '
            f'stroke-linejoin="round"><title>{escape(title)}</title>{told}{self.body()}'
            f"{over.body() if over else ''}</svg>"
        )
