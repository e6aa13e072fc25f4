"""The head of a traveler: whose drum it is, its ring and its code; on every page the serial number. And the imprint, which
says of which print this paper is. Everything stands at its fixed place.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from routing.drawings.ring import RingSegment, ring_svg
from shopfloor.qr import qr_svg
from shopfloor.travelers.drawn import PAPERS_PT
from shopfloor.travelers.facts import TravelerHead
from shopfloor.travelers.ink import FIRM, HAIR_GREY, HEAVY, MM, THIN, Ink
from shopfloor.travelers.lines import Line, Style, Words, break_lines
from shopfloor.travelers.type_case import TypeCase, type_case

EDGE = 9 * MM
RING, QR, SHORT, SHORT_RIGHT = 27 * MM, 30 * MM, 36 * MM, 38 * MM
FACTS_TOP, FACTS_HIGH = 41 * MM, 12 * MM
LOCAL_RULES = "Local rules, safety data sheets and licensed practice come first."
SMALL = Style(7.4, leading=1.0)
_LABEL = Style(7.5)
# For whom it is, in ever smaller type: of the label, the name and the reference.
_FOR = ((7.5, 10.0, 7.5), (7.0, 8.5, 7.0), (0.0, 8.0, 6.8), (0.0, 6.4, 6.4))


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


def head_ink(head: TravelerHead, *, shop: str, paper: str, page: int, of: int) -> Ink:
    """What stands over the body of one page of a shell."""
    case = type_case()
    width, height = PAPERS_PT[paper]
    ink = Ink(case, height)
    # Beside the mark of a copy, which begins at 70 mm.
    _fitted(ink, EDGE, 5.8 * MM, shop, Style(9, "title", 1.3), 59 * MM)
    serial = (Words(f"{head.serial}  ", Style(10, "figures", 1.0)), Words(f"page {page} of {of}", Style(9)))
    (place,) = break_lines(case, serial, 90 * MM)[:1]
    ink.line(width - EDGE - place.width, 5.6 * MM, place)
    ink.rule(EDGE, 11 * MM, width - EDGE, 11 * MM, HEAVY)
    if page == 1:
        _first_page(ink, head, width)
    local = case.width(LOCAL_RULES, "text") * SMALL.size
    ink.text(width - EDGE - local, height - 6 * MM, LOCAL_RULES, SMALL)
    return ink


def imprint_ink(imprint: Imprint, mark: Mark) -> Ink:
    case = type_case()
    ink = Ink(case, PAPERS_PT[imprint.paper][1])
    if mark.mark:
        style = Style(10, "bold")
        wide = case.width(mark.mark, "bold") * style.size + 8 * MM
        ink.fill(70 * MM, 4.4 * MM, wide, 5.6 * MM)
        ink.text(74 * MM, 4.4 * MM + 2.8 * MM + 0.36 * style.size, mark.mark, replace(style, grey=1.0))
    at = timezone.localtime(imprint.printed_at)
    said = f"Revision {mark.revision}, printed {at:%Y-%m-%d %H:%M} by {imprint.printed_by}. {mark.words}".strip()
    lines = break_lines(case, [Words(said, SMALL)], 110 * MM)
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
    _fitted(ink, left, 11.6 * MM, f"{head.size} {head.role}", Style(19, "title", 1.15), room)
    finish = Style(11)
    for smaller in (11, 9.5, 8, 7):
        finish = Style(smaller, leading=1.2)
        (line, *more) = break_lines(
            ink.case, [Words(f"{head.line},", replace(finish, face="bold")), Words(f" {head.finish}", finish)], room
        )
        if not more:
            break
    ink.line(left, 19.4 * MM, line)
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
    issued = timezone.localtime(head.issued_at)
    for x, room, label, fact, more in (
        (EDGE, SHORT - pad, "Order", head.order, head.place_in_kit),
        (due + pad, SHORT_RIGHT - 2 * pad, "Due", f"{head.due:%Y-%m-%d}", ""),
        (revision + pad, SHORT_RIGHT - pad, "Spec revision", str(head.revision), f"{issued:%Y-%m-%d %H:%M}"),
    ):
        top = FACTS_TOP + 0.4 * MM
        for words, style in ((label, _LABEL), (fact, Style(11, "bold", 1.15)), (more, _LABEL)):
            top += _fitted(ink, x, top, words, style, room)
    top = FACTS_TOP + 0.4 * MM
    for line in _for(ink.case, head, due - for_x - 2 * pad):
        ink.line(for_x + pad, top, line)
        top += line.height


def _for(case: TypeCase, head: TravelerHead, room: float) -> Iterator[Line]:
    """For whom it is, as large as there is room for all of it."""
    most = FACTS_HIGH - 0.8 * MM
    lines: list[Line] = []
    for label, name, reference in _FOR:
        lines = []
        if label:
            lines += break_lines(case, [Words("For", Style(label))], room)
        lines += break_lines(case, [Words(head.customer, Style(name, "bold", 1.12))], room)
        lines += break_lines(case, [Words(head.customer_reference, Style(reference, leading=1.12))], room)
        if sum(line.height for line in lines) <= most:
            break
    for line in lines:
        if line.height > most:
            return
        most -= line.height
        yield line


def _fitted(ink: Ink, x: float, top: float, words: str, style: Style, room: float) -> float:
    """One line, smaller where the words are too many; returns its height."""
    if words:
        wide = ink.case.width(words, style.face) * style.size
        size = style.size * min(1.0, room / max(wide, 0.01))
        ink.text(x, top + style.size * style.leading / 2 + 0.346 * style.size, words, replace(style, size=size))
    return style.size * style.leading
