"""The head of a traveler: whose drum it is, its ring and its code; on every page the serial number. And the imprint, which
says of which print this paper is. Everything stands at its fixed place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from routing.drawings.ring import RingSegment, ring_svg
from routing.languages import day, moment
from shopfloor.qr import qr_svg
from shopfloor.travelers.drawn import PAPERS_PT
from shopfloor.travelers.facts import TravelerHead
from shopfloor.travelers.ink import FIRM, HAIR_GREY, HEAVY, MM, THIN, Ink
from shopfloor.travelers.lines import Line, Style, Words
from shopfloor.travelers.texts import Texts

EDGE = 9 * MM
RING, QR, SHORT, SHORT_RIGHT = 27 * MM, 30 * MM, 36 * MM, 38 * MM
FACTS_TOP, FACTS_HIGH = 41 * MM, 12 * MM
IMPRINT_HIGH = 4.6 * MM  # lines of it, all below the body
LOCAL_RULES = gettext_noop("Local rules, safety data sheets and licensed practice come first.")
SMALL = Style(7.4, leading=1.0)
_LABEL = Style(7.5)
# Ever smaller type, until all words fit: of what is long, of which all must be there.
_SHARES = (1.0, 0.86, 0.74, 0.64, 0.55, 0.47, 0.4, 0.34, 0.29, 0.25, 0.21)
# For whom it is: of the label, the name and the reference.
_FOR = ((7.5, 10.0, 7.5), (7.0, 8.5, 7.0), (0.0, 8.0, 6.8), *((0.0, s, s) for s in (6.4, 5.5, 4.7, 4.0, 3.4, 2.8, 2.3)))


@dataclass(frozen=True, slots=True)
class Imprint:
    """What every page of a print says about the print itself."""

    paper: str
    printed_at: datetime
    printed_by: str


@dataclass(frozen=True, slots=True)
class Mark:
    """What tells this paper from others of the same shell: its revision, “COPY 2” and what to do about it."""

    revision: int
    mark: str = ""
    words: str = ""


def head_ink(head: TravelerHead, *, shop: str, paper: str, page: int, of: int, texts: Texts) -> Ink:
    """What stands over the body of one page of a shell."""
    width, height = PAPERS_PT[paper]
    ink = Ink(texts, height)
    # Beside the mark of a copy, which begins at 70 mm.
    high = 5.0 * MM
    lines = _fitting((texts.lines([Words(shop, Style(9 * share, "title", 1.15))], 59 * MM) for share in _SHARES), high)
    _below(ink, EDGE, 5.9 * MM + (high - _height(lines)) / 2, lines)
    place = (
        texts.line(f"{head.serial}  ", Style(10, "figures", 1.0)),
        texts.line(_("page {page} of {pages}").format(page=page, pages=of), Style(9)),
    )
    x = width - EDGE - sum(line.width for line in place)
    for line in place:
        ink.line(x, 5.6 * MM + place[0].base - line.base, line)
        x += line.width
    ink.rule(EDGE, 11 * MM, width - EDGE, 11 * MM, HEAVY)
    if page == 1:
        _first_page(ink, head, width)
    rules = _(LOCAL_RULES)
    ink.text(width - EDGE - _wide(texts, rules), height - 6 * MM, rules, SMALL)
    return ink


def _wide(texts: Texts, words: str) -> float:
    return texts.case.width(words, "text") * SMALL.size


def imprint_ink(imprint: Imprint, mark: Mark, texts: Texts) -> Ink:
    ink = Ink(texts, PAPERS_PT[imprint.paper][1])
    if mark.mark:
        style = Style(10, "bold")
        wide = texts.case.width(mark.mark, "bold") * style.size + 8 * MM
        ink.fill(70 * MM, 4.4 * MM, wide, 5.6 * MM)
        ink.text(74 * MM, 4.4 * MM + 2.8 * MM + 0.36 * style.size, mark.mark, replace(style, grey=1.0))
    said = _("Revision {revision}, printed {time} by {name}.").format(
        revision=mark.revision, time=moment(imprint.printed_at), name=imprint.printed_by
    )
    room = min(110 * MM, PAPERS_PT[imprint.paper][0] - 2 * EDGE - _wide(texts, _(LOCAL_RULES)) - 2 * MM)
    words = f"{said} {mark.words}".strip()
    ever_smaller = (texts.lines([Words(words, replace(SMALL, size=SMALL.size * share))], room) for share in _SHARES)
    lines = _fitting(ever_smaller, IMPRINT_HIGH)
    base = ink.height - 6 * MM
    for line in reversed(lines):
        ink.line(EDGE, base - line.base, line)
        base -= line.height
    return ink


def _first_page(ink: Ink, head: TravelerHead, width: float) -> None:
    ink.svg(EDGE, 12.3 * MM, RING / 100, ring_svg([RingSegment(state, title) for state, title in head.steps]))
    across = Style(14, "title", 1.0)
    wide = ink.case.width(head.diameter, "title") * across.size
    ink.text(EDGE + (RING - wide) / 2, 12.3 * MM + RING / 2 + 0.36 * across.size, head.diameter, across)
    left, room = 42 * MM, width - 84 * MM
    size = f"{head.size} {head.role}"
    title = (ink.texts.lines([Words(size, Style(19 * share, "title", 1.15))], room) for share in _SHARES)
    _below(ink, left, 11.6 * MM, _fitting(title, 19 * 1.15))
    named = (
        ink.texts.lines(
            [Words(f"{head.line},", Style(11 * share, "bold")), Words(f" {head.finish}", Style(11 * share))], room
        )
        for share in _SHARES
    )
    _below(ink, left, 19.4 * MM, _fitting(named, 5.5 * MM))
    ink.text(left, 24.9 * MM + 23 * 0.9, head.serial, Style(23, "figures", 1.1), spaced=0.03 * 23)
    code = qr_svg(head.address)
    modules = re.search(r'viewBox="0 0 (\d+)', code)
    assert modules is not None
    # The quiet zone is in the picture: the code itself ends at the edge.
    ink.svg(width - 7.4 * MM - QR, 11.2 * MM, QR / int(modules[1]), code)
    _facts(ink, head, width)


def _facts(ink: Ink, head: TravelerHead, width: float) -> None:
    bottom = FACTS_TOP + FACTS_HIGH
    for y in (FACTS_TOP, bottom):
        ink.rule(EDGE, y, width - EDGE, y, FIRM)
    due, revision = width - EDGE - 2 * SHORT_RIGHT, width - EDGE - SHORT_RIGHT
    for_x = EDGE + SHORT
    for x in (for_x, due, revision):
        ink.rule(x, FACTS_TOP, x, bottom, THIN, grey=HAIR_GREY)
    pad = 2 * MM
    most = FACTS_HIGH - 0.8 * MM
    for x, room, label, fact, more in (
        (EDGE, SHORT - pad, _("Order"), head.order, head.place_in_kit),
        (due + pad, SHORT_RIGHT - 2 * pad, _("Due"), day(head.due), ""),
        (revision + pad, SHORT_RIGHT - pad, _("Spec revision"), str(head.revision), moment(head.issued_at)),
    ):
        cell = (
            [
                *ink.texts.lines([Words(label, _LABEL)], room),
                *ink.texts.lines([Words(fact, Style(11 * share, "bold", 1.15))], room),
                *ink.texts.lines([Words(more, _LABEL)], room),
            ]
            for share in _SHARES
        )
        _below(ink, x, FACTS_TOP + 0.4 * MM, _fitting(cell, most))
    _below(ink, for_x + pad, FACTS_TOP + 0.4 * MM, _fitting(_for(ink.texts, head, due - for_x - 2 * pad), most))


def _for(texts: Texts, head: TravelerHead, room: float) -> Iterator[list[Line]]:
    """For whom it is, smaller each time."""
    for label, name, reference in _FOR:
        lines = texts.lines([Words(_("For"), Style(label))], room) if label else []
        lines = lines + texts.lines([Words(head.customer, Style(name, "bold", 1.12))], room)
        yield lines + texts.lines([Words(head.customer_reference, Style(reference, leading=1.12))], room)


def _fitting(ever_smaller: Iterable[list[Line]], high: float) -> list[Line]:
    """The first that is not too high. The last is so small that no name that may be kept needs a smaller one."""
    lines: list[Line] = []
    for lines in ever_smaller:
        if _height(lines) <= high + 0.01:
            break
    return lines


def _height(lines: Iterable[Line]) -> float:
    return sum(line.height for line in lines)


def _below(ink: Ink, x: float, top: float, lines: Iterable[Line]) -> None:
    for line in lines:
        ink.line(x, top, line)
        top += line.height
