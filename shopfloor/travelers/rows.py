"""Rows of a traveler and how they come onto pages, each with the headings of its columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from shopfloor.travelers.ink import FIRM, HAIR_GREY, MM, THIN, Ink
from shopfloor.travelers.lines import Line, Style

EDGE, HEAD, NEXT_HEAD, FOOT = 9 * MM, 54 * MM, 12.5 * MM, 10.4 * MM
NUMBER_WIDE, RIGHT_WIDE, GUTTER = 10.4 * MM, 85.3 * MM, 2.4 * MM
COLUMNS = (
    gettext_noop("Step"),
    gettext_noop("Station and its numbers"),
    gettext_noop("Name, date, time: by hand only while the tablets are down"),
)
_HEADING = Style(7.5, leading=1.15)

Draw = Callable[[Ink, float], None]  # at this distance from the top


@dataclass(slots=True)
class Stack:
    """Things below each other; where each begins, how high it is, how it is drawn."""

    items: list[tuple[float, float, Draw]] = field(default_factory=list)
    height: float = 0.0

    def add(self, height: float, draw: Draw) -> None:
        self.items.append((self.height, height, draw))
        self.height += height

    def lines(self, x: float, lines: Iterable[Line]) -> None:
        for line in lines:
            self.add(line.height, lambda ink, top, line=line: ink.line(x, top, line))  # type: ignore[misc]

    def gap(self, height: float) -> None:
        if self.items:
            self.height += height

    def cut(self, room: float) -> tuple[Stack, Stack]:
        """What fits into ``room``, and the rest."""
        fits = [item for item in self.items if item[0] + item[1] <= room]
        rest = self.items[len(fits) :]
        if not fits or not rest:
            return self, Stack()
        from_here = rest[0][0]
        return (
            Stack(fits, fits[-1][0] + fits[-1][1]),
            Stack([(top - from_here, height, draw) for top, height, draw in rest], self.height - from_here),
        )


@dataclass(slots=True)
class Row:
    stacks: tuple[Stack, ...]
    above: float
    below: float
    rule: float = FIRM  # under it; none for the note
    grey: float = 0.0
    with_next: bool = False  # not the last of a page
    is_note: bool = False

    @property
    def height(self) -> float:
        return self.above + max(stack.height for stack in self.stacks) + self.below

    def draw(self, ink: Ink, top: float, width: float) -> None:
        if self.is_note:
            ink.frame(EDGE, top, width - 2 * EDGE, self.height - 1.6 * MM, FIRM, dashed=True)
        for stack in self.stacks:
            for offset, _high, draw in stack.items:
                draw(ink, top + self.above + offset)
        if not self.is_note:
            end = top + self.height
            ink.rule(EDGE, end, width - EDGE, end, self.rule, grey=self.grey)

    def begins_in(self, room: float) -> bool:
        """Whether something of each of its stacks fits."""
        room -= self.above + self.below
        return all(stack.items[0][1] <= room for stack in self.stacks if stack.items)

    def cut(self, room: float) -> tuple[Row, Row | None]:
        """A row that is higher than any page goes on on the next one."""
        both = [stack.cut(room - self.above - self.below) for stack in self.stacks]
        rest = tuple(after for _, after in both)
        first = Row(tuple(before for before, _ in both), self.above, self.below, THIN, HAIR_GREY, False, self.is_note)
        if not any(stack.items for stack in rest):
            return self, None
        return first, Row(rest, self.above, self.below, self.rule, self.grey, self.with_next, self.is_note)


def top_of(page: int) -> float:
    return NEXT_HEAD if page else HEAD


def _headings_height() -> float:
    return _HEADING.size * _HEADING.leading + 1.0 * MM


def draw_page(ink: Ink, rows: Sequence[Row], top: float, width: float) -> None:
    named = False
    for row in rows:
        if not row.is_note and not named:
            named = True
            at = (EDGE, EDGE + NUMBER_WIDE, width - EDGE - RIGHT_WIDE)
            base = top + _HEADING.size * (_HEADING.leading / 2 + 0.346)
            for x, words in zip(at, COLUMNS, strict=True):
                ink.text(x, base, _(words), _HEADING)
            top += _headings_height()
            ink.rule(EDGE, top, width - EDGE, top, FIRM)
        row.draw(ink, top, width)
        top += row.height


def pages_of(rows: Sequence[Row], height: float) -> list[list[Row]]:
    """Rows that belong together stay on one page; nothing is split that would fit on a page of its own."""
    whole = height - FOOT - NEXT_HEAD - _headings_height()
    pages: list[list[Row]] = [[]]
    left = height - FOOT - HEAD - _headings_height()

    def turn() -> None:
        nonlocal left
        pages.append([])
        left = whole

    for together in _units(rows):
        high = sum(row.height for row in together)
        if high > left and pages[-1] and high <= whole:
            turn()
        for row in together:
            rest: Row | None = row
            while rest is not None:
                if rest.height > left and pages[-1] and (rest.height <= whole or not rest.begins_in(left)):
                    turn()
                part, rest = (rest, None) if rest.height <= left else rest.cut(left)
                pages[-1].append(part)
                left -= part.height
                if rest is not None:
                    turn()
    return pages


def _units(rows: Sequence[Row]) -> Iterator[list[Row]]:
    unit: list[Row] = []
    for row in rows:
        unit.append(row)
        if not row.with_next:
            yield unit
            unit = []
