"""The texts of a sheet, or of a set of sheets: plain ones are put into lines here, all others are set by WeasyPrint.

Letters that join, turn, stack or come from another font are no work for a sum of widths. A text with one of them is set as a
whole, in its styles and in the width that it has, each of its lines on a small page of its own; such a page is then a form
that is put where the line stands. All of a set of sheets are set in one document: whoever lays out does so twice, first to
say what is wanted (a text that is not set yet is endlessly high, so that every smaller size is asked for too), then with the lines.
"""

from __future__ import annotations

import hashlib
import io
import logging
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache
from html import escape
from typing import Any, TypeVar

from pypdf import PdfReader
from pypdf.generic import IndirectObject

from shopfloor.travelers.drawn import Resources, SetForm, squeezed
from shopfloor.travelers.lines import Line, Style, Words, break_lines, largest, line_of, measures_of, unbroken
from shopfloor.travelers.pdf_objects import digest_of, objects_of
from shopfloor.travelers.type_case import FACES, Face, TypeCase, legible, missing_letters, set_page, tidy, type_case

logger = logging.getLogger(__name__)
Made = TypeVar("Made")
MARGIN = 12.0  # around a line that is set, for marks that reach out of it
_ENDLESS = 6000.0  # room of what stands in one line
_PT = 0.75  # of a pixel of CSS
_Text = tuple[tuple[Words, ...], float | None]  # with its room; none for what is not broken


class Texts:
    """Lines of texts; those that WeasyPrint has to set once they are set."""

    def __init__(self, case: TypeCase | None = None) -> None:
        self.case = case or type_case()
        self._set: dict[_Text, list[Line]] = {}
        self._wanted: dict[_Text, None] = {}

    def lines(self, text: Iterable[Words], room: float) -> list[Line]:
        """Lines of at most ``room``. A word that is longer alone is broken where the line ends."""
        text = tuple(text)
        if all(_is_plain(self.case, words.text, words.style.face) for words in text):
            return break_lines(self.case, text, room)
        return self._set_lines(text, room)

    def line(self, text: str, style: Style) -> Line:
        """One line, however long."""
        if _is_plain(self.case, text, style.face):
            words = tidy(text)
            return line_of((Words(words, style),), self.case.width(words, style.face) * style.size)
        (line,) = self._set_lines((Words(text, style),), None)
        return line

    def are_plain(self, thing: Any) -> bool:
        """Whether all words of facts, of a body or of a drawing are drawn in any face."""
        return all(_is_plain(self.case, words, face) for words in _strings(thing) for face in FACES)

    def set_wanted(self) -> bool:
        """Set what was asked for and is not set yet; False when there is nothing."""
        wanted = list(self._wanted)
        self._wanted.clear()
        if wanted:
            self._set |= zip(wanted, _set(wanted), strict=True)
        return bool(wanted)

    def settled(self, make: Callable[[], Made]) -> Made:
        """What ``make`` makes when every text that it asks for is set."""
        made = make()
        while self.set_wanted():
            made = make()
        return made

    def _set_lines(self, text: tuple[Words, ...], room: float | None) -> list[Line]:
        if (text, room) in self._set:
            return self._set[text, room]
        self._wanted[text, room] = None
        return [Line((), 0.0, math.inf, 0.0)]


@lru_cache(maxsize=4096)
def _is_plain(case: TypeCase, text: str, face: Face) -> bool:
    return case.is_plain(tidy(text), face)


def _strings(thing: Any) -> Iterable[str]:
    if isinstance(thing, str):
        yield from re.findall(r"<text[^>]*>([^<]*)<", thing) if thing.startswith("<svg ") else [thing]
    elif is_dataclass(thing):
        for each in fields(thing):
            yield from _strings(getattr(thing, each.name))
    elif isinstance(thing, Sequence):
        for part in thing:
            yield from _strings(part)


def _set(wanted: Sequence[_Text]) -> list[list[Line]]:
    """The lines of each text, from one document of WeasyPrint."""
    rules, paragraphs = [], []
    for number, (text, room) in enumerate(wanted):
        height, _ = measures_of(text)
        wide = _ENDLESS if room is None else room
        rules.append(f"@page t{number}{{size:{wide + 2 * MARGIN:.3f}pt {height + 2 * MARGIN:.3f}pt;margin:{MARGIN}pt}}")
        paragraphs.append(_paragraph(number, text, height, is_broken=room is not None))
    base = "body,p{margin:0;orphans:1;widows:1;text-align:left;overflow-wrap:anywhere}.one{white-space:nowrap}"
    document = set_page(f"<style>{base}{''.join(rules)}</style>{''.join(paragraphs)}")
    with missing_letters() as missing:
        pdf = document.write_pdf()
    if missing:
        said = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in sorted(missing))
        logger.warning("No font here has %s: travelers show □ instead. A package of fonts brings them.", said)
    found: list[list[Line]] = [[] for _ in wanted]
    resources: dict[int, Resources] = {}
    for page, laid_out in zip(PdfReader(io.BytesIO(pdf)).pages, document.pages, strict=True):
        ((name, (left, _, right, _)),) = laid_out.anchors.items()
        number = int(name.removeprefix("t"))
        reference = dict.__getitem__(page, "/Resources")
        which = reference.idnum if isinstance(reference, IndirectObject) else id(reference)
        if which not in resources:
            objects = objects_of(reference)
            resources[which] = Resources(digest_of(objects), objects)
        content = page.get_contents()
        drawn = content.get_data() if content is not None else b""
        found[number].append(_line(wanted[number][0], (right - left) * _PT, drawn, resources[which]))
    if not all(found):
        raise ValueError("a text was set without a line")
    return found


def _paragraph(number: int, text: Sequence[Words], height: float, *, is_broken: bool) -> str:
    spans = "".join(
        f'<span dir="{_direction(words.text)}" style="{_css(words.style)}">{escape(unbroken(legible(words.text)))}</span>'
        for words in text
    )
    way = _direction("".join(words.text for words in text))
    how = "" if is_broken else ' class="one"'
    # The paragraph's own letters, though there are none, say where the base line is.
    own = f"page:t{number};{_css(largest(text))};line-height:{height:.3f}pt"
    return f'<p{how} dir="{way}" style="{own}"><span id="t{number}">{spans}</span></p>'


def _css(style: Style) -> str:
    weight, families = FACES[style.face]
    grey = f"{style.grey:.1%}"
    font = f"font:{weight} {style.size:.3f}pt {families};line-height:inherit"
    return escape(f"{font};color:rgb({grey},{grey},{grey})")


def _direction(words: str) -> str:
    """That of the first letter that has one (UAX #9, rules P2 and P3), as ``dir=auto`` has it."""
    sides = (unicodedata.bidirectional(letter) for letter in words)
    return "rtl" if next((side for side in sides if side in ("R", "AL", "L")), "L") != "L" else "ltr"


def _line(text: tuple[Words, ...], width: float, drawn: bytes, resources: Resources) -> Line:
    height, base = measures_of(text)
    name = hashlib.sha256(drawn + resources.key.encode()).hexdigest()[:16]
    form = SetForm(f"S{name}", squeezed(drawn), width + 2 * MARGIN, height + 2 * MARGIN, resources)
    return Line((), width, height, base, form)
