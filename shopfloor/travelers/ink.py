"""What is drawn on one page or part of one, as the operators of PDF (ISO 32000-1, annex A).

Everything is in points from the top left corner, y downwards, as people read; ``Ink`` turns it round.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from xml.etree import ElementTree

from shopfloor.travelers.drawn import SetForm
from shopfloor.travelers.lines import Line, Style, Words
from shopfloor.travelers.pdf_objects import Objects
from shopfloor.travelers.texts import MARGIN, Texts
from shopfloor.travelers.type_case import Face, tidy

MM = 72 / 25.4
THIN, FIRM, HEAVY = 0.4, 0.8, 1.6
HAIR_GREY, NOTE_GREY = 0.467, 0.2


class Ink:
    """Collects what is drawn, and in which fonts."""

    def __init__(self, texts: Texts, height: float) -> None:
        self.texts = texts
        self.case = texts.case
        self.fonts: set[str] = set()
        self.set_forms: dict[str, SetForm] = {}
        self.height = height
        self.drawn: list[str] = []
        self._grey: float | None = None

    def content(self) -> bytes:
        return "\n".join(self.drawn).encode("ascii")

    def fonts_used(self) -> dict[str, Objects]:
        return {name: self.case.fonts[name] for name in sorted(self.fonts)}

    def text(self, x: float, base: float, words: str, style: Style, *, spaced: float = 0.0) -> None:
        """Plain words."""
        self._colour(style.grey)
        font, glyphs = self.case.shown(tidy(words), style.face)
        self.fonts.add(font)
        at = f"{x:.2f} {self.height - base:.2f}"
        before, after = (f" {spaced:.3f} Tc", "0 Tc ") if spaced else ("", "")
        self.drawn.append(f"BT{before}\n/{font} {style.size:g} Tf 1 0 0 1 {at} Tm {glyphs}Tj\n{after}ET")

    def line(self, x: float, top: float, line: Line) -> None:
        if line.form is not None:
            self.form(line, (1.0, 0.0, 0.0, 1.0), x, self.height - top - line.base)
        for words in line.words:
            self.text(x, top + line.base, words.text, words.style)
            x += self.case.width(words.text, words.style.face) * words.style.size

    def form(self, line: Line, turned: tuple[float, float, float, float], x: float, y: float) -> None:
        """A line that was set, the beginning of its base line at this place of the page or drawing."""
        form = line.form
        assert form is not None
        self.set_forms[form.name] = form
        a, b, c, d = turned
        above = form.height - MARGIN - line.base
        x, y = x - a * MARGIN - c * above, y - b * MARGIN - d * above
        self.drawn.append(f"q {a:.4f} {b:.4f} {c:.4f} {d:.4f} {x:.2f} {y:.2f} cm /{form.name} Do Q")

    def rule(self, x1: float, y1: float, x2: float, y2: float, weight: float, *, grey: float = 0.0) -> None:
        # Thin filled boxes: they come out alike on every printer.
        half = weight / 2
        if y1 == y2:
            self.fill(x1, y1 - half, x2 - x1, weight, grey=grey)
        else:
            self.fill(x1 - half, y1, weight, y2 - y1, grey=grey)

    def fill(self, x: float, y: float, width: float, height: float, *, grey: float = 0.0) -> None:
        self._colour(grey)
        self.drawn.append(f"{x:.2f} {self.height - y - height:.2f} {width:.2f} {height:.2f} re f")

    def frame(self, x: float, y: float, width: float, height: float, weight: float, *, dashed: bool = False) -> None:
        """A box whose line lies inside of its measures."""
        half = weight / 2
        box = f"{x + half:.2f} {self.height - y - height + half:.2f} {width - weight:.2f} {height - weight:.2f} re S"
        self.drawn.append(f"q 0 G {weight:g} w {'[2.4 1.6] 0 d ' if dashed else ''}{box} Q")

    def svg(self, x: float, y: float, scale: float, svg: str) -> None:
        """One of our own drawings, ``scale`` points for each of its units."""
        self._grey = None
        self.drawn.append(f"q {scale:.4f} 0 0 {-scale:.4f} {x:.2f} {self.height - y:.2f} cm")
        drawing = ElementTree.fromstring(svg)  # noqa: S314 (made here a moment ago)
        _Drawing(self, size_of(svg)[0]).draw(drawing, _Pen())
        self.drawn.append("Q")

    def _colour(self, grey: float) -> None:
        if grey != self._grey:
            self._grey = grey
            self.drawn.append(f"{grey:g} g")


@dataclass(frozen=True, slots=True)
class _Pen:
    fill: str = "black"
    stroke: str = "none"
    width: str = "1"
    dash: str = ""
    join: str = "miter"


_GREYS = {"currentColor": "0", "black": "0", "#000": "0", "#fff": "1"}
_DRAWN_BY = {"fill": "fill", "stroke": "stroke", "stroke-width": "width", "stroke-dasharray": "dash"} | {
    "stroke-linejoin": "join"
}
_OTHER = {"class", "role", "viewBox", "font-family", "d", "x", "y", "font-size", "text-anchor", "font-weight"} | {
    *("transform", "width", "height", "cx", "cy", "r")
}


class _Drawing:
    """Draws what the shop's drawings consist of, and refuses all else of SVG, so that nothing is left out unseen."""

    def __init__(self, ink: Ink, wide: float) -> None:
        self.ink = ink
        self.wide = wide
        self.out = ink.drawn

    def draw(self, element: ElementTree.Element, pen: _Pen) -> None:
        tag = element.tag.rpartition("}")[2]
        if tag in ("title", "desc"):
            return
        if unknown := element.keys() - _DRAWN_BY.keys() - _OTHER:
            raise ValueError(f"no drawing of the shop has {', '.join(sorted(unknown))} on a <{tag}>")
        pen = replace(pen, **{_DRAWN_BY[name]: value for name, value in element.items() if name in _DRAWN_BY})
        match tag:
            case "svg" | "g":
                if element.get("transform"):
                    raise ValueError("no group of a drawing on paper is turned")
                for child in element:
                    self.draw(child, pen)
            case "path":
                self.shape(path(element.get("d", "")), pen)
            case "circle":
                x, y, r = (float(element.get(name, 0)) for name in ("cx", "cy", "r"))
                self.shape(path(f"M{x - r} {y}a{r} {r} 0 1 1 {2 * r} 0a{r} {r} 0 1 1 {-2 * r} 0Z"), pen)
            case "text":
                self.words(element, pen)
            case _:
                raise ValueError(f"no drawing of the shop has a <{tag}>")

    def shape(self, drawn: str, pen: _Pen) -> None:
        how = {(True, True): "B", (True, False): "f", (False, True): "S"}.get(
            (pen.fill != "none", pen.stroke != "none")
        )
        if how is None or not drawn:
            return
        state = "q"
        if pen.fill != "none":
            state += f" {_GREYS[pen.fill]} g"
        if pen.stroke != "none":
            state += f" {_GREYS[pen.stroke]} G {pen.width} w"
            state += " 1 j" if pen.join == "round" else ""
            state += f" [{pen.dash}] 0 d" if pen.dash else ""
        self.out.append(f"{state} {drawn} {how} Q")

    def words(self, element: ElementTree.Element, pen: _Pen) -> None:
        if len(element):
            raise ValueError("no words of a drawing have parts of their own")
        words = _words_of(element, float(_GREYS[pen.fill]))
        line = self.ink.texts.line(words.text, words.style)
        size, x, y = words.style.size, float(element.get("x", 0)), float(element.get("y", 0))
        anchor = element.get("text-anchor", "start")
        cos, sin, cx, cy = 1.0, 0.0, 0.0, 0.0
        if turned := element.get("transform"):
            degrees, cx, cy = (float(n) for n in turned.removeprefix("rotate(").removesuffix(")").split())
            cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        scale = 1.0
        if line.form is not None and not turned:
            # How wide foreign letters are nobody knew who drew: what would run out of the drawing is set smaller.
            room = {"start": self.wide - x, "middle": 2 * min(x, self.wide - x), "end": x}[anchor]
            scale = min(1.0, max(room, size) / max(line.width, size))
        before = {"start": 0.0, "middle": line.width / 2, "end": line.width}[anchor] * scale
        dx, dy = x - before - cx, y - cy
        x, y = cx + dx * cos - dy * sin, cy + dx * sin + dy * cos
        if line.form is not None:
            self.ink.form(line, (scale * cos, scale * sin, scale * sin, -scale * cos), x, y)
        for part in line.words:
            font, glyphs = self.ink.case.shown(part.text, part.style.face)
            self.ink.fonts.add(font)
            at = f"{cos:.4f} {sin:.4f} {sin:.4f} {-cos:.4f} {x:.2f} {y:.2f} Tm"
            self.out.append(f"BT {_GREYS[pen.fill]} g\n/{font} {size:g} Tf {at} {glyphs}Tj\nET")


def ask_for_words(texts: Texts, svg: str) -> None:
    """Have the words of a drawing set that are not drawn: it is drawn long after its sheet was laid out."""
    if not texts.are_plain(svg):
        Ink(texts, 0.0).svg(0.0, 0.0, 1.0, svg)


def _words_of(element: ElementTree.Element, grey: float) -> Words:
    face: Face = "bold" if element.get("font-weight") == "bold" else "text"
    return Words(element.text or "", Style(float(element.get("font-size", 0)), face, grey=grey))


def size_of(svg: str) -> tuple[float, float]:
    """Width and height of a drawing in its own units."""
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    if box is None:
        raise ValueError("a drawing without a viewBox has no size")
    return float(box[1]), float(box[2])


_COUNTS: Mapping[str, int] = {"M": 2, "L": 2, "H": 1, "V": 1, "A": 7, "Z": 0}


@lru_cache(maxsize=256)
def path(d: str) -> str:
    """The path data of SVG 1.1 (8.3) that the drawings use, as path operators."""
    out: list[str] = []
    x = y = start_x = start_y = 0.0
    for command, inside in re.findall(r"([A-Za-z])([^A-Za-z]*)", d):
        numbers = [float(n) for n in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", inside)]
        kind, relative = command.upper(), command.islower()
        count = _COUNTS.get(kind)
        if count is None or (len(numbers) % count if count else numbers):
            raise ValueError(f"no drawing of the shop has “{command}{inside}” in a path")
        if kind == "Z":
            out.append("h")
            x, y = start_x, start_y
            continue
        for at in range(0, len(numbers), count):
            given = numbers[at : at + count]
            old_x, old_y = (x, y)
            if kind == "H":
                x = given[0] + (old_x if relative else 0.0)
            elif kind == "V":
                y = given[0] + (old_y if relative else 0.0)
            else:
                x, y = given[-2] + (old_x if relative else 0.0), given[-1] + (old_y if relative else 0.0)
            if kind == "M" and at == 0:
                out.append(f"{x:.2f} {y:.2f} m")
                start_x, start_y = x, y
            elif kind == "A":
                out += _arc(old_x, old_y, given[0], given[1], bool(given[3]), bool(given[4]), x, y)
            else:
                out.append(f"{x:.2f} {y:.2f} l")
    return " ".join(out)


def _arc(x1: float, y1: float, rx: float, ry: float, large: bool, sweep: bool, x2: float, y2: float) -> list[str]:
    """A circular arc as cubic curves of at most a quarter (the centre as SVG 1.1, F.6.5, finds it)."""
    if rx != ry:
        raise ValueError("no drawing of the shop has an ellipse")
    half_x, half_y = (x2 - x1) / 2, (y2 - y1) / 2
    half = math.hypot(half_x, half_y)
    if half == 0:
        return []
    r = max(rx, half)
    off = math.sqrt(max(0.0, r * r - half * half)) / half * (1 if large != sweep else -1)
    cx, cy = (x1 + x2) / 2 - half_y * off, (y1 + y2) / 2 + half_x * off
    first, last = math.atan2(y1 - cy, x1 - cx), math.atan2(y2 - cy, x2 - cx)
    turn = last - first
    if sweep and turn <= 0:
        turn += 2 * math.pi
    if not sweep and turn >= 0:
        turn -= 2 * math.pi
    count = math.ceil(abs(turn) / (math.pi / 2) - 1e-9)
    reach = 4 / 3 * math.tan(turn / count / 4) * r
    curves = []
    for n in range(count):
        a, b = first + turn * n / count, first + turn * (n + 1) / count
        ax, ay, bx, by = cx + r * math.cos(a), cy + r * math.sin(a), cx + r * math.cos(b), cy + r * math.sin(b)
        curves.append(
            f"{ax - reach * math.sin(a):.2f} {ay + reach * math.cos(a):.2f} "
            f"{bx + reach * math.sin(b):.2f} {by - reach * math.cos(b):.2f} {bx:.2f} {by:.2f} c"
        )
    return curves
