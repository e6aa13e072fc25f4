"""The letters of the paper: widths, glyphs and the fonts themselves, taken once from a page that WeasyPrint set.

Plain are the letters of every day that the main font of a face has: one glyph each, side by side from left to right. Those
are set once per process; after that a line of a traveler is a sum of widths. A text with any other letter is never drawn
from here: ``texts.py`` has it set as a whole.
"""

from __future__ import annotations

import io
import logging
import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from html import escape
from typing import Any, Literal

from pypdf import PdfReader
from pypdf.generic import ArrayObject

from shopfloor.paper import require_printing
from shopfloor.travelers.pdf_objects import Objects, digest_of, objects_of

Face = Literal["text", "bold", "title", "figures"]
# Weight and families, as CSS has them.
FACES: dict[Face, tuple[str, str]] = {
    "text": ("400", '"DejaVu Sans Condensed", sans-serif'),
    "bold": ("bold", '"DejaVu Sans Condensed", sans-serif'),
    "title": ("bold", '"DejaVu Serif Condensed", serif'),
    "figures": ("bold", '"DejaVu Sans Mono", monospace'),
}
SET_PX = 10.0
# What the shop's own words need.
_EVERY_DAY = "".join(chr(c) for c in (*range(0x20, 0x7F), *range(0xA1, 0xAD), *range(0xAE, 0x180))) + (
    "–—‘’“”„•…′″−≤≥≈→×⚠▨½¼¾⅛⅜⅝⅞♭♯□"
)
_LINE = 60  # letters of one line of the page that is set
_NEVER_A_LETTER = re.compile("[\ufdd0-\ufdef\ufffe\uffff]")


def tidy(words: str) -> str:
    """Composed letters, single spaces, nothing that has no shape of its own."""
    if words.isascii() and "  " not in words and words.isprintable():
        return words
    return _single_spaces("".join(c for c in legible(words) if unicodedata.category(c) != "Cf"))


def legible(words: str) -> str:
    """The same with the signs that have no shape but shape their neighbours or say which way they run."""
    words = unicodedata.normalize("NFC", words)
    words = "".join(" " if c in "\t\r\n\u2028\u2029" else c for c in words)
    return _single_spaces(
        "".join(c for c in words if unicodedata.category(c) not in ("Cc", "Cs") and not _NEVER_A_LETTER.match(c))
    )


def _single_spaces(words: str) -> str:
    return re.sub(" +", " ", words)


class TypeCase:
    """The plain letters of each face, and the fonts that they are of."""

    def __init__(self) -> None:
        self.fonts: dict[str, Objects] = {}
        self._plain: dict[Face, tuple[str, dict[str, float], dict[str, str]]] = {}
        self._set()

    def is_plain(self, words: str, face: Face = "text") -> bool:
        """Of what ``tidy`` leaves of the words."""
        return self._plain[face][1].keys() >= set(words)

    def width(self, words: str, face: Face) -> float:
        """Of plain words, in sizes: times the size of the letters it is the width on paper."""
        return sum(map(self._plain[face][1].__getitem__, words))

    def shown(self, words: str, face: Face) -> tuple[str, str]:
        """Of plain words: their font, and their glyphs as the operand of PDF."""
        font, _, glyphs = self._plain[face]
        return font, "<" + "".join(map(glyphs.__getitem__, words)) + ">"

    def _set(self) -> None:
        """Have WeasyPrint set each letter in each face, and read from its page what it did."""
        lines = [_EVERY_DAY[at : at + _LINE] for at in range(0, len(_EVERY_DAY), _LINE)]
        html = "".join(
            f"<pre style='font:{weight} {SET_PX:g}px {families};font-kerning:none;font-variant-ligatures:none'>"
            + "\n".join(map(escape, lines))
            + "</pre>"
            for weight, families in FACES.values()
        )
        size = f"size:{_LINE * 40}px {len(lines) * len(FACES) * 20 + 99}px"
        with missing_letters() as nowhere:
            pdf = set_page(f"<style>@page{{{size};margin:0}}body,pre{{margin:0}}</style>{html}").write_pdf()
        (sheet,) = PdfReader(io.BytesIO(pdf)).pages
        names, widths = {}, {}
        for name, reference in sheet["/Resources"]["/Font"].items():  # type: ignore[index]
            font = objects_of(reference)
            names[name], widths[name] = f"F{digest_of(font)}", _widths(reference)
            self.fonts[names[name]] = font
        glyphs = _glyphs(sheet.get_contents().get_data().decode("latin-1"))  # type: ignore[union-attr]
        for face in FACES:
            placed = [(letter, *next(glyphs)) for letter in _EVERY_DAY]
            main = next(font for letter, font, _ in placed if letter == "0")
            own = {letter: glyph for letter, font, glyph in placed if font == main and letter not in nowhere}
            wide = {letter: widths[main][int(glyph, 16)] for letter, glyph in own.items()}
            self._plain[face] = names[main], wide, own
        if next(glyphs, None):
            raise ValueError("more glyphs were set than there are letters")


@lru_cache(maxsize=1)
def type_case() -> TypeCase:
    return TypeCase()


def set_page(html: str) -> Any:
    """A document that WeasyPrint laid out, with nothing fetched for it."""
    weasyprint = require_printing()
    nothing = weasyprint.urls.URLFetcher(allowed_protocols=[])
    return weasyprint.HTML(string=f"<!doctype html>{html}", base_url=None, url_fetcher=nothing).render()


@contextmanager
def missing_letters() -> Iterator[set[str]]:
    """The letters that no font here has, of what is written meanwhile: WeasyPrint says each in its log and draws □."""
    missing: set[str] = set()

    def note(record: logging.LogRecord) -> bool:
        if isinstance(record.args, tuple) and str(record.msg).startswith(".notdef glyph"):
            missing.add(str(record.args[0]))
            return False
        return True

    log = logging.getLogger("weasyprint")
    log.addFilter(note)
    try:
        yield missing
    finally:
        log.removeFilter(note)


def _glyphs(drawn: str) -> Iterator[tuple[str, str]]:
    """Font and glyph of each letter of a page, in the order in which they were set."""
    font = ""
    for named, array, string in re.findall(r"(/\w+) [\d.]+ Tf|\[([^\]]*)\] ?TJ|(<\w*>) ?Tj", drawn):
        font = named or font
        for run in re.findall(r"<(\w+)>", array or string):
            for at in range(0, len(run), 4):
                yield font, run[at : at + 4]


def _widths(reference: Any) -> dict[int, float]:
    """By glyph, in sizes (ISO 32000-1, 9.7.4.3)."""
    (below,) = reference.get_object()["/DescendantFonts"].get_object()
    found: dict[int, float] = {}
    entries = list(below.get_object().get("/W", []))
    while entries:
        first, after = int(entries.pop(0)), entries.pop(0)
        if isinstance(after, ArrayObject):
            found.update((first + n, float(width) / 1000) for n, width in enumerate(after))
        else:
            wide = float(entries.pop(0)) / 1000
            found.update((glyph, wide) for glyph in range(first, int(after) + 1))
    return found
