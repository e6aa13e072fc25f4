"""Plain words in lines: where a line ends, how high it is, where its letters stand."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shopfloor.travelers.drawn import SetForm
from shopfloor.travelers.type_case import Face, TypeCase, tidy

# Half of how much higher the letters stand than they hang, in sizes: what puts them in the middle of their line.
_MIDDLE = 0.346
# Where a line may end: not within “± 1” or “74.8 g”.
_UNITS = "mm|g|kg|kN|N|N·m|%|°C|µm|ml|l|min|h|in|Hz|GU|bar"
_SPACES = re.compile(f"(?<!±)(?<!\\d) |(?<=\\d) (?!(?:{_UNITS})(?:[^\\w·]|$))")
_BREAKS = re.compile("(?<=\\w[-–])(?=[^\\W\\d_])")


@dataclass(frozen=True, slots=True)
class Style:
    size: float  # points
    face: Face = "text"
    leading: float = 1.2  # height of a line, in sizes
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Words:
    text: str
    style: Style


@dataclass(frozen=True, slots=True)
class Line:
    """Words side by side on one base line: plain ones to be drawn, or a form on which WeasyPrint set them."""

    words: tuple[Words, ...]
    width: float
    height: float
    base: float  # where the letters stand, below the top of the line
    form: SetForm | None = None


def line_of(words: tuple[Words, ...], width: float) -> Line:
    height, base = measures_of(words)
    return Line(words, width, height, base)


def measures_of(words: Iterable[Words]) -> tuple[float, float]:
    """How high a line of these is, and where its letters stand."""
    style = largest(words)
    height = style.size * style.leading
    return height, height / 2 + _MIDDLE * style.size


def largest(words: Iterable[Words]) -> Style:
    return max((each.style for each in words), key=lambda style: style.size * style.leading)


def unbroken(text: str) -> str:
    """The same words with spaces that hold together what may not be parted."""
    return " ".join(part.replace(" ", "\u00a0") for part in _SPACES.split(text))


def break_lines(case: TypeCase, text: Iterable[Words], room: float) -> list[Line]:
    """Lines of at most ``room``. A word that is longer alone is broken where the line ends."""
    setting = _Setting(case, room)
    for words in text:
        setting.add(words)
    setting.end()
    return setting.lines


class _Setting:
    """Fills one line after the other."""

    def __init__(self, case: TypeCase, room: float) -> None:
        self.lines: list[Line] = []
        self.case, self.room = case, room + 0.01
        self.runs: list[tuple[Style, list[str]]] = []
        self.used = self.with_words = 0.0  # with and without a space at the end

    def add(self, words: Words) -> None:
        style = words.style
        size, space = style.size, self.case.width(" ", style.face) * style.size
        for part, unit, after_space in _parts(self.case, words.text, style.face):
            if after_space and self.runs:
                self._put(" ", style, space)
            wide = unit * size
            if self.with_words and self.used + wide > self.room:
                self.end()
            if wide <= self.room:
                self._put(part, style, wide)
            else:
                self._letter_by_letter(part, style)

    def end(self) -> None:
        if self.with_words:
            self.lines.append(self._line())
        self.runs = []
        self.used = self.with_words = 0.0

    def _put(self, part: str, style: Style, wide: float) -> None:
        if not part:
            return
        if self.runs and self.runs[-1][0] is style:
            self.runs[-1][1].append(part)
        else:
            self.runs.append((style, [part]))
        self.used += wide
        if part != " ":
            self.with_words = self.used

    def _letter_by_letter(self, part: str, style: Style) -> None:
        for letter in part:
            wide = self.case.width(letter, style.face) * style.size
            if self.with_words and self.used + wide > self.room:
                self.end()
            self._put(letter, style, wide)

    def _line(self) -> Line:
        parts = [Words("".join(part), style) for style, part in self.runs]
        while not parts[-1].text.rstrip(" "):
            parts.pop()
        parts[-1] = Words(parts[-1].text.rstrip(" "), parts[-1].style)
        return line_of(tuple(parts), self.with_words)


@lru_cache(maxsize=4096)
def _parts(case: TypeCase, text: str, face: Face) -> tuple[tuple[str, float, bool], ...]:
    """What is never broken: its width in sizes, and whether a space stands before it."""
    return tuple(
        (part, case.width(part, face), number > 0 and place == 0)
        for number, word in enumerate(_SPACES.split(tidy(text)))
        for place, part in enumerate(_BREAKS.split(word))
    )
