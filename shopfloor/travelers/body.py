"""The body of a traveler on its pages: a row for each visit to a station, with its numbers, caution, drawings and the box
for a name. The lines stand as far apart as two pages allow.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from routing.languages import present_language
from routing.station_numbers import StationNumber
from shopfloor.travelers.drawn import PAPERS_PT, Drawn, Page, squeezed
from shopfloor.travelers.ink import FIRM, HAIR_GREY, MM, NOTE_GREY, THIN, Ink, ask_for_words, size_of
from shopfloor.travelers.lines import Line, Style, Words
from shopfloor.travelers.rows import (
    EDGE,
    FOOT,
    GUTTER,
    HEAD,
    NUMBER_WIDE,
    RIGHT_WIDE,
    Row,
    Stack,
    draw_page,
    pages_of,
    top_of,
)
from shopfloor.travelers.sheet import TravelerBody, TravelerStation, TravelerStep
from shopfloor.travelers.texts import Texts

MOST_PAGES = 2
TRIES = 3  # to find how far apart the lines may stand
# All drawings have one text size in their own units; at this scale it is about 5 pt on paper.
LEAST_PT_PER_UNIT = 0.25 * MM
SIGNED, SIGNED_LEAST = 9.0, 6.5  # sizes of the name of who signed
LABEL_WIDE, NAME_WIDE = 40.1 * MM, 49.6 * MM


@dataclass(frozen=True, slots=True)
class Measures:
    """How large and how far apart, in points and in sizes."""

    above: float
    below: float
    text: float
    leading: float
    title: float
    title_leading: float
    figure: float
    note: float
    caution: float
    caution_leading: float
    gap: float
    box: float
    coat: float
    coat_figure: float
    coat_above: float
    unit: float  # of drawings

    def towards(self, other: Measures, share: float) -> Measures:
        return Measures(
            **{
                each.name: getattr(self, each.name) * (1 - share) + getattr(other, each.name) * share
                for each in fields(self)
            }
        )


ROOMY = Measures(
    above=1.0 * MM,
    below=1.2 * MM,
    text=8.6,
    leading=1.25,
    title=12.5,
    title_leading=1.25,
    figure=9.6,
    note=8.0,
    caution=7.7,
    caution_leading=1.25,
    gap=1.0 * MM,
    box=8.4 * MM,
    coat=8.2,
    coat_figure=9.2,
    coat_above=0.8 * MM,
    unit=0.33 * MM,
)
CLOSE = Measures(
    above=0.3 * MM,
    below=0.4 * MM,
    text=7.6,
    leading=1.1,
    title=10.5,
    title_leading=1.05,
    figure=8.3,
    note=7.0,
    caution=6.8,
    caution_leading=1.12,
    gap=0.4 * MM,
    box=6.0 * MM,
    coat=7.0,
    coat_figure=8.2,
    coat_above=0.3 * MM,
    unit=LEAST_PT_PER_UNIT,
)


def ask_for_body(body: TravelerBody, paper: str, texts: Texts) -> bool:
    """Have everything set that is not drawn, at the few distances that such a body is tried at; False when there is nothing."""
    if texts.are_plain(body):
        return False
    for share in (0.0, 0.5, 1.0):
        list(_rows(body, paper, texts, share))
    return True


def body_drawn(body: TravelerBody, paper: str, texts: Texts) -> Drawn:
    """The pages of a body, each a form of its own; more than two only when even the closest lines need them."""
    tries = TRIES
    if ask_for_body(body, paper, texts):
        texts.set_wanted()
        tries = 1
    _, height = PAPERS_PT[paper]

    def pages(share: float) -> list[list[Row]]:
        return pages_of(texts.settled(lambda: list(_rows(body, paper, texts, share))), height)

    found = pages(0.0)
    if len(found) > MOST_PAGES:
        found = pages(1.0)
        few, closer, roomier = max(MOST_PAGES, len(found)), 1.0, 0.0
        for _ in range(tries):
            between = (closer + roomier) / 2
            if len(trial := pages(between)) <= few:
                found, closer = trial, between
            else:
                roomier = between
    return texts.settled(lambda: _drawn(found, paper, texts))


def _drawn(pages: Sequence[Sequence[Row]], paper: str, texts: Texts) -> Drawn:
    width, height = PAPERS_PT[paper]
    drawn = Drawn()
    for number, rows in enumerate(pages):
        ink = Ink(texts, height)
        draw_page(ink, rows, top_of(number), width)
        drawn.forms[str(number)] = squeezed(ink.content())
        drawn.fonts |= ink.fonts_used()
        drawn.set_forms |= ink.set_forms
        drawn.pages.append(Page(str(number), b""))
    return drawn


def _rows(body: TravelerBody, paper: str, texts: Texts, share: float) -> Iterator[Row]:
    return _Layout(texts, ROOMY.towards(CLOSE, share), *PAPERS_PT[paper]).rows(body)


class _Layout:
    """The rows of a body for one paper and one set of measures."""

    def __init__(self, texts: Texts, measures: Measures, width: float, height: float) -> None:
        self.texts = texts
        self.page_high = height - HEAD - FOOT - 20 * MM  # with room for the words over a drawing
        self.m = m = measures
        self.middle = EDGE + NUMBER_WIDE
        self.right = width - EDGE - RIGHT_WIDE
        self.middle_wide = self.right - GUTTER - self.middle
        self.all_wide = width - EDGE - self.middle
        self.text = Style(m.text, leading=m.leading)
        self.figure = Style(m.figure, "bold", m.leading * m.text / m.figure)
        self.title = Style(m.title, "title", m.title_leading)
        self.note = Style(m.note, leading=m.leading, grey=NOTE_GREY)
        self.write = Style(m.note, leading=m.leading)
        self.caution = Style(m.caution, leading=m.caution_leading)
        self.caution_bold = Style(m.caution, "bold", m.caution_leading)
        self.coat = Style(m.coat, leading=1.15)
        self.coat_bold = Style(m.coat_figure, "bold", 1.15 * m.coat / m.coat_figure)
        self.coat_title = Style(m.coat_figure, "bold", 1.15)
        self.dwell = Style(m.text, "bold", m.leading)

    def rows(self, body: TravelerBody) -> Iterator[Row]:
        if body.notes or body.warnings:
            yield self._note(body)
        for station in body.stations:
            if station.many:
                yield self._visit(station)
                for step in station.steps:
                    yield self._coat(step, last=step is station.steps[-1])
            else:
                yield from self._single(station)

    def _note(self, body: TravelerBody) -> Row:
        words = [Words(_("Note.") + " ", Style(8.5, "bold", 1.3)), Words(body.notes, Style(8.5, leading=1.3))]
        stack = Stack()
        pad = 2 * MM
        width = self.middle + self.all_wide - EDGE - 2 * pad
        if body.notes:
            stack.lines(EDGE + pad, self.texts.lines(words, width))
        mind, said = Style(7.6, "bold", 1.3), Style(7.6, leading=1.3)
        warnings = [part for w in body.warnings for part in (Words(_("Mind.") + " ", mind), Words(f"{w} ", said))]
        stack.lines(EDGE + pad, self.texts.lines(warnings, width))
        return Row((stack,), 0.8 * MM, 2.4 * MM, is_note=True)

    def _visit(self, station: TravelerStation) -> Row:
        stack = Stack()
        shared = [Words(_("Every coat:") + " ", self.text), *_in_a_row(station.shared, self.text, self.dwell)]
        self._title(stack, station.name, shared if station.shared else [], self.all_wide, self.title)
        words = (
            [Words(_("Write beside each coat: {what}.").format(what=station.write) + " ", self.caution)]
            if station.write
            else []
        )
        stack.lines(self.middle, self.texts.lines([*words, *self._cautioned(station.caution)], self.all_wide))
        return Row((stack,), self.m.above, self.m.below, THIN, HAIR_GREY, with_next=True)

    def _coat(self, step: TravelerStep, *, last: bool) -> Row:
        left, right = Stack(), Stack()
        dwell = [Words(f"▨ {step.dwell}", self.dwell)] if step.dwell else []
        self._title(left, step.title, dwell, self.middle_wide, self.coat_title)
        numbers = _in_a_row(step.numbers, self.coat, self.coat_bold)
        left.lines(self.middle, self.texts.lines(numbers, self.middle_wide))
        self._box(right, step)
        how = (FIRM, 0.0) if last else (THIN, HAIR_GREY)
        return Row((self._position(step), left, right), self.m.coat_above, self.m.coat_above, *how)

    def _single(self, station: TravelerStation) -> Iterator[Row]:
        (step,) = station.steps
        beside = [svg for svg in station.drawings if not self._is_wide(svg)]
        across = [svg for svg in station.drawings if self._is_wide(svg)]
        sides = [self._sides(station, step, beside, caution_left=left) for left in (False, True)]
        left, right = min(sides, key=lambda both: max(stack.height for stack in both))
        how = (THIN, HAIR_GREY) if across else (FIRM, 0.0)
        stacks = (self._position(step), left, right)
        yield Row(stacks, self.m.above, self.m.below, *how, with_next=bool(across))
        if across:
            stack = Stack()
            for svg in across:
                self._drawings(stack, [svg], self.middle, self.all_wide)
            yield Row((stack,), self.m.above, self.m.below)

    def _sides(
        self, station: TravelerStation, step: TravelerStep, beside: Sequence[str], *, caution_left: bool
    ) -> tuple[Stack, Stack]:
        left, right = Stack(), Stack()
        dwell = [Words(f"▨ {step.dwell}", self.dwell)] if step.dwell else []
        self._title(left, station.name, dwell, self.middle_wide, self.title)
        left.gap(self.m.gap / 3)
        for number in step.numbers:
            self._number(left, number)
        self._box(right, step)
        if station.write:
            right.gap(self.m.gap)
            words = [Words(_("Write down: {what}.").format(what=station.write), self.write)]
            right.lines(self.right, self.texts.lines(words, RIGHT_WIDE))
        if beside:
            right.gap(self.m.gap / 2)
            self._drawings(right, beside, self.right, RIGHT_WIDE)
        if station.caution:
            stack, x, wide = (left, self.middle, self.middle_wide) if caution_left else (right, self.right, RIGHT_WIDE)
            stack.gap(self.m.gap)
            stack.lines(x, self.texts.lines(self._cautioned(station.caution), wide))
        return left, right

    def _position(self, step: TravelerStep) -> Stack:
        stack = Stack()
        stack.lines(EDGE, self.texts.lines([Words(str(step.position), self.title)], NUMBER_WIDE))
        return stack

    def _cautioned(self, caution: str) -> list[Words]:
        return [Words("⚠ " + _("Caution.") + " ", self.caution_bold), Words(caution, self.caution)] if caution else []

    def _title(self, stack: Stack, title: str, beside: Sequence[Words], room: float, style: Style) -> None:
        """What stands beside the title, at the right; below it where the line is too short for both."""
        lines = self.texts.lines([Words(title, style)], room)
        others = self.texts.lines(beside, room)
        if len(lines) == len(others) == 1 and lines[0].width + others[0].width + 3 * MM <= room:
            title_line, other = lines[0], others[0]

            def both(ink: Ink, top: float) -> None:
                ink.line(self.middle, top, title_line)
                ink.line(self.middle + room - other.width, top + title_line.base - other.base, other)

            stack.add(title_line.height, both)
        else:
            stack.lines(self.middle, [*lines, *others])

    def _number(self, stack: Stack, number: StationNumber) -> None:
        value = [Words(f"{number.value} {number.unit}".strip(), self.figure)] if number.value else []
        tolerance = f"{number.tolerance} {'' if number.value else number.unit}".strip()
        value += [
            Words(f" {words}", style) for words, style in ((tolerance, self.text), (number.note, self.note)) if words
        ]
        labels = self.texts.lines([Words(number.label, self.text)], LABEL_WIDE - 1.2 * MM)
        values = self.texts.lines(value, self.middle_wide - LABEL_WIDE)
        lower = max(0.0, values[0].base - labels[0].base) if labels and values else 0.0
        high = max(sum(line.height for line in labels) + lower, sum(line.height for line in values))

        def both(ink: Ink, top: float) -> None:
            for x, lines, down in ((self.middle, labels, lower), (self.middle + LABEL_WIDE, values, 0.0)):
                at = top + down
                for line in lines:
                    ink.line(x, at, line)
                    at += line.height

        stack.add(high, both)

    def _box(self, stack: Stack, step: TravelerStep) -> None:
        """Name, then date and time, by hand. What was signed on a tablet stands there in type."""
        inside = 1.2 * MM
        lines = self._signed_by(step.signed_by, NAME_WIDE - 2 * inside)
        used = sum(line.height for line in lines)
        high = max(self.m.box, used + inside)
        at = date_format(step.signed_at, "SHORT_DATETIME_FORMAT") if step.signed_at else ""

        def draw(ink: Ink, top: float) -> None:
            ink.frame(self.right, top, RIGHT_WIDE, high, FIRM)
            ink.rule(self.right + NAME_WIDE, top, self.right + NAME_WIDE, top + high, THIN)
            down = top + (high - used) / 2
            for line in lines:
                ink.line(self.right + inside, down, line)
                down += line.height
            if at:
                ink.text(self.right + NAME_WIDE + inside, top + high / 2 + 0.346 * self.text.size, at, self.text)

        stack.add(high, draw)

    def _signed_by(self, name: str, room: float) -> list[Line]:
        """On one line; a long name smaller, but never too small to be read: rather on more lines, and the box grows."""
        if not name:
            return []
        large = self.texts.line(name, Style(SIGNED, "bold"))
        broken = self.texts.lines([Words(name, Style(SIGNED_LEAST, "bold", 1.1))], room)
        if large.width <= room:
            return [large]
        size = SIGNED * room / large.width
        if size < SIGNED_LEAST or large.form is not None:
            return broken
        return [self.texts.line(name, Style(size, "bold"))]

    def _is_wide(self, svg: str) -> bool:
        return size_of(svg)[0] * LEAST_PT_PER_UNIT > RIGHT_WIDE

    def _drawings(self, stack: Stack, drawings: Sequence[str], x: float, room: float) -> None:
        """Side by side, in the middle; smaller than usual where the room asks for it."""
        for svg in drawings:
            ask_for_words(self.texts, svg)
        sizes = [size_of(svg) for svg in drawings]
        apart = 2 * MM
        scale = min(self.m.unit, (room - apart * (len(sizes) - 1)) / sum(wide for wide, high in sizes))
        scale = min(scale, self.page_high / max(high for wide, high in sizes))
        used = sum(wide for wide, high in sizes) * scale + apart * (len(sizes) - 1)

        def draw(ink: Ink, top: float) -> None:
            at = x + (room - used) / 2
            for svg, (wide, _high) in zip(drawings, sizes, strict=True):
                ink.svg(at, top, scale, svg)
                at += wide * scale + apart

        stack.add(max(high for wide, high in sizes) * scale, draw)


def _in_a_row(numbers: Sequence[StationNumber], text: Style, figure: Style) -> list[Words]:
    """Numbers one after the other, for coats: “wet film 90 µm · material 21 ml”."""
    words: list[Words] = []
    for number in numbers:
        words.append(Words(f"{'· ' if words else ''}{_within(number.label)} ", text))
        words.append(Words(f"{number.value} {number.unit}".strip(), figure))
        words.append(Words(f" {number.tolerance} " if number.tolerance else " ", text))
    return words


def _within(label: str) -> str:
    """A label within a sentence: German nouns keep their capitals."""
    return label if present_language() == "de" else label.lower()
