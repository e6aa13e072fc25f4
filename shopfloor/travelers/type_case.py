"""The letters of the paper: widths, glyphs and the fonts themselves, taken once from a page that WeasyPrint set.

WeasyPrint asks the machine's own font library which font has which letter, makes small fonts of those letters alone and
shapes what has to be shaped. It takes 0.3 ms for each piece of text, though, so that here it sets every letter once per
process; after that a line of a traveler is a sum of widths.
"""

from __future__ import annotations

import hashlib
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any, Literal

from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NullObject, StreamObject

from shopfloor.paper import require_printing

Face = Literal["text", "bold", "title", "figures"]
FACES: dict[Face, str] = {
    "text": '400 10px "DejaVu Sans Condensed", sans-serif',
    "bold": 'bold 10px "DejaVu Sans Condensed", sans-serif',
    "title": 'bold 10px "DejaVu Serif Condensed", serif',
    "figures": 'bold 10px "DejaVu Sans Mono", monospace',
}
SET_PX = 10.0
# What the shop's own words need; any other letter is set when it is met.
_EVERY_DAY = "".join(chr(c) for c in (*range(0x20, 0x7F), *range(0xA1, 0xAD), *range(0xAE, 0x180))) + (
    "–—‘’“”„•…′″−≤≥≈→×⚠▨½¼¾⅛⅜⅝⅞♭♯□"
)
_MARK, _UNKNOWN = "|", "□"
_LINE = 60  # letters of one line of the page that is set
_SHAPED = {"Mn", "Mc", "Me"}  # marks: what stands around them is set together


@dataclass(frozen=True, slots=True)
class FontObject:
    """One object of a font's own; ``\\0n\\0`` in its head stands for the n-th object of the same font."""

    head: bytes
    stream: bytes | None


Font = tuple[FontObject, ...]  # the first is the one that pages name


@dataclass(frozen=True, slots=True)
class Piece:
    """A letter, or a word that is shaped as a whole: glyphs of one font or more."""

    width: float  # in sizes
    runs: tuple[tuple[str, float, str], ...]  # font, its place in sizes, glyphs as hexadecimal or an array of them


def is_shaped(word: str) -> bool:
    """Whether its letters change or turn with their neighbours, as in Arabic, Hebrew, Hindi or Thai."""
    return not word.isascii() and any(
        unicodedata.category(c) in _SHAPED or unicodedata.bidirectional(c) in ("R", "AL") for c in word
    )


def tidy(words: str) -> str:
    """Composed letters, single spaces, nothing that has no shape of its own."""
    if words.isascii() and "  " not in words and words.isprintable():
        return words
    words = unicodedata.normalize("NFC", words)
    words = "".join(" " if c in "\t\r\n\u2028\u2029" else c for c in words)
    words = "".join(c for c in words if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn"))
    return re.sub(" +", " ", words)


class TypeCase:
    """All pieces of one process, and the fonts that they are of."""

    def __init__(self) -> None:
        self.fonts: dict[str, Font] = {}
        self._pieces: dict[Face, dict[str, Piece]] = {face: {} for face in FACES}
        self._plain: dict[Face, tuple[str, dict[str, float], dict[str, str]]] = {}
        self._set(list(_EVERY_DAY), plain=True)
        for face, pieces in self._pieces.items():
            main = pieces["0"].runs[0][0]
            own = {c: piece for c, piece in pieces.items() if len(piece.runs) == 1 and piece.runs[0][0] == main}
            widths = {c: piece.width for c, piece in own.items()}
            self._plain[face] = main, widths, {c: piece.runs[0][2] for c, piece in own.items()}

    def width(self, words: str, face: Face) -> float:
        """In sizes: times the size of the letters it is the width on paper."""
        try:
            return sum(map(self._plain[face][1].__getitem__, words))
        except KeyError:
            return sum(piece.width for piece in self._pieces_of(words, face))

    def shown(self, words: str, face: Face) -> Iterator[tuple[str, float, str]]:
        """Font, place in sizes and what to show of each run."""
        main, _, glyphs = self._plain[face]
        try:
            yield main, 0.0, "<" + "".join(map(glyphs.__getitem__, words)) + ">Tj"
            return
        except KeyError:
            pass
        x = 0.0
        for piece in self._pieces_of(words, face):
            for font, place, run in piece.runs:
                yield font, x + place, f"<{run}>Tj" if run[:1] != "[" else f"{run}TJ"
            x += piece.width

    def _pieces_of(self, words: str, face: Face) -> list[Piece]:
        cut: list[str] = []
        for word in re.findall(r" |[^ ]+", words):
            cut += [word] if is_shaped(word) else word
        if missing := sorted({piece for piece in cut if piece not in self._pieces[face]}):
            self._set(missing)
        return [self._pieces[face][piece] for piece in cut]

    def _set(self, pieces: Sequence[str], *, plain: bool = False) -> None:
        """Have WeasyPrint set each piece in each face, and read from its page what it did.

        ``plain``: letters that each are one glyph, many on a line. Else a line for each piece, after a mark, so that one that
        leaves nothing on the page still has its line there.
        """
        lines = (
            [pieces[at : at + _LINE] for at in range(0, len(pieces), _LINE)] if plain else [[_MARK, p] for p in pieces]
        )
        weasyprint = require_printing()
        html = "".join(
            f"<pre style='font:{escape(font)};font-kerning:none;font-variant-ligatures:{'none' if plain else 'normal'}'>"
            + "\n".join(escape("".join(line)) for line in lines)
            + "</pre>"
            for font in FACES.values()
        )
        page = f"<style>@page{{size:{_LINE * 40}px {len(lines) * len(FACES) * 20 + 99}px;margin:0}}pre{{margin:0}}</style>{html}"
        nothing = weasyprint.urls.URLFetcher(allowed_protocols=[])
        pdf = weasyprint.HTML(string=page, base_url=None, url_fetcher=nothing).write_pdf()
        (sheet,) = PdfReader(io.BytesIO(pdf)).pages
        names, widths = {}, {}
        for name, reference in sheet["/Resources"]["/Font"].items():  # type: ignore[index]
            if "/DescendantFonts" not in reference.get_object():
                continue  # letters that are pictures, which no size of type has
            font = _objects(reference)
            key = hashlib.sha256(b"".join(each.head + (each.stream or b"") for each in font)).hexdigest()[:10]
            self.fonts[f"F{key}"] = font
            names[name], widths[name] = f"F{key}", _widths(reference)
        set_lines = _lines(sheet.get_contents().get_data().decode("latin-1"))  # type: ignore[union-attr]
        for face in FACES:
            for line in lines:
                runs = next(set_lines)
                if plain:
                    self._pieces[face].update(_letters(line, runs, names, widths))
                else:
                    self._pieces[face][line[1]] = _piece(runs, names, widths) or self._pieces[face][_UNKNOWN]


@lru_cache(maxsize=1)
def type_case() -> TypeCase:
    return TypeCase()


def _lines(drawn: str) -> Iterator[list[tuple[str, float, str]]]:
    """The runs of each line of a page: font, place from the left and what is shown."""
    font, line, height = "", [], None
    tokens = r"(/\w+) [\d.]+ Tf|1 0 0 -1 ([-\d.]+) ([-\d.]+) Tm|(\[[^\]]*\]) ?TJ|(<\w*>) ?Tj"
    x = 0.0
    for named, left, top, array, string in re.findall(tokens, drawn):
        if named:
            font = named
        elif left:
            if height is not None and abs(float(top) - height) > SET_PX / 3:
                yield line
                line = []
            x, height = float(left), float(top)
        else:
            line.append((font, x, array or f"[{string}]"))
    yield line


def _letters(
    letters: Sequence[str],
    runs: Iterable[tuple[str, float, str]],
    names: Mapping[str, str],
    widths: Mapping[str, Mapping[int, float]],
) -> dict[str, Piece]:
    """Of a line where each letter is one glyph."""
    glyphs = [(font, glyph) for font, _, array in runs for glyph in _glyphs(array)]
    if len(glyphs) != len(letters):
        raise ValueError(f"{len(letters)} letters were set as {len(glyphs)} glyphs")
    return {
        letter: Piece(widths[font][int(glyph, 16)], ((names[font], 0.0, glyph),))
        for letter, (font, glyph) in zip(letters, glyphs, strict=True)
    }


def _piece(
    runs: Sequence[tuple[str, float, str]], names: Mapping[str, str], widths: Mapping[str, Mapping[int, float]]
) -> Piece | None:
    """What stands after the mark; None when that is nothing."""
    (first, x, marked), *others = runs
    mark = _glyphs(marked)[0]
    start = x + widths[first][int(mark, 16)] * SET_PX
    placed, end = [], 0.0
    for font, x, array in [(first, start, marked.replace(mark, "", 1)), *others]:
        glyphs = _glyphs(array)
        if glyphs and font in names:
            back = sum(float(number) for number in re.findall(r"(?<=>) ?(-?[\d.]+)", array))
            long = sum(widths[font][int(glyph, 16)] for glyph in glyphs) - back / 1000
            placed.append((names[font], (x - start) / SET_PX, array))
            end = max(end, (x - start) / SET_PX + long)
    return Piece(end, tuple(placed)) if placed else None


def _glyphs(array: str) -> list[str]:
    return [run[at : at + 4] for run in re.findall(r"<(\w+)>", array) for at in range(0, len(run), 4)]


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


def _objects(reference: Any) -> Font:
    """A font with all that it refers to, written out."""
    order: list[IndirectObject] = [reference]
    found: list[FontObject] = []

    def name(target: IndirectObject) -> bytes:
        known = [each.idnum for each in order]
        if target.idnum not in known:
            order.append(target)
            known.append(target.idnum)
        return b"\0%d\0" % known.index(target.idnum)

    def written(value: Any) -> bytes:
        if isinstance(value, IndirectObject):
            return name(value)
        if isinstance(value, DictionaryObject):
            inside = b" ".join(key.encode() + b" " + written(dict.__getitem__(value, key)) for key in value)
            return b"<<" + inside + b">>"
        if isinstance(value, ArrayObject):
            return b"[" + b" ".join(written(list.__getitem__(value, n)) for n in range(len(value))) + b"]"
        if isinstance(value, NullObject):
            return b"null"
        out = io.BytesIO()
        value.write_to_stream(out)
        return out.getvalue()

    at = 0
    while at < len(order):
        value = order[at].get_object()
        at += 1
        if isinstance(value, StreamObject):
            head = DictionaryObject({key: dict.__getitem__(value, key) for key in value if key != "/Length"})
            found.append(FontObject(written(head), value._data))
        else:
            found.append(FontObject(written(value), None))
    return tuple(found)
