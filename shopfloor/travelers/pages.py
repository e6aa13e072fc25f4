"""Travelers as PDF: what many shells share is laid out once and put under each shell's own head.

The pages of a kit differ in little more than the serial number. Three layers make a page: the body; the head over it; and
the imprint, which says of which print this paper is. Body and head are made ahead in sheaves of several shells, the
imprint when somebody prints.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path

from shopfloor.travelers.body import ask_for_body, body_drawn
from shopfloor.travelers.drawn import Drawn, Page, pdf_of, squeezed
from shopfloor.travelers.facts import TravelerHead
from shopfloor.travelers.head import Imprint, Mark, head_ink, imprint_ink
from shopfloor.travelers.kept import Pages
from shopfloor.travelers.sheet import TravelerBody
from shopfloor.travelers.texts import Texts

__all__ = ["Imprint", "Mark", "ask_for_texts", "body_pages", "print_pdf", "sheaf_pages"]


def body_pages(body: TravelerBody, paper: str, texts: Texts) -> bytes:
    """The pages of a body, as they are kept."""
    return body_drawn(body, paper, texts).to_bytes()


def ask_for_texts(
    heads: Iterable[TravelerHead], bodies: Iterable[TravelerBody], *, shop: str, paper: str, texts: Texts
) -> None:
    """Have what is not drawn of all these set in one document."""
    for body in bodies:
        ask_for_body(body, paper, texts)
    for head in heads:
        if not texts.are_plain((head, shop)):
            head_ink(head, shop=shop, paper=paper, page=1, of=1, texts=texts)
    texts.set_wanted()


def sheaf_pages(
    sheets: Sequence[tuple[TravelerHead, bytes]], *, shop: str, paper: str, texts: Texts
) -> tuple[bytes, list[int]]:
    """Each head on every page of its body, one shell after the other; and how many pages each shell has.

    ``ask_for_texts`` comes first: what it was not asked for is set here, one document for each page.
    """
    bodies = {body: Drawn.from_bytes(body) for _, body in sheets}
    sheaf = Drawn()
    # A form is called after what it draws: bodies of several sheaves may be in one print.
    names: dict[bytes, list[str]] = {}
    for kept, body in bodies.items():
        names[kept] = [f"B{hashlib.sha256(body.forms[page.form]).hexdigest()[:16]}" for page in body.pages]
        sheaf.fonts |= body.fonts
        sheaf.set_forms |= body.set_forms
        sheaf.forms |= {n: body.forms[page.form] for n, page in zip(names[kept], body.pages, strict=True)}
    for head, kept in sheets:
        for number, name in enumerate(names[kept], start=1):
            make = partial(head_ink, head, shop=shop, paper=paper, page=number, of=len(names[kept]), texts=texts)
            ink = texts.settled(make)
            sheaf.fonts |= ink.fonts_used()
            sheaf.set_forms |= ink.set_forms
            sheaf.pages.append(Page(name, squeezed(ink.content())))
    return sheaf.to_bytes(), [len(names[kept]) for _, kept in sheets]


def print_pdf(pieces: Sequence[tuple[Pages, Mark]], imprint: Imprint, title: str) -> bytes:
    """One PDF with the pages of all shells in their order, each with the imprint of this print."""
    sheaves: dict[Path, Drawn] = {}
    over: dict[Mark, bytes] = {}
    own = Drawn()
    texts = Texts()
    sheets: list[tuple[Page, bytes]] = []
    for pages, mark in pieces:
        if pages.sheaf not in sheaves:
            sheaves[pages.sheaf] = Drawn.from_bytes(pages.sheaf.read_bytes())
        if mark not in over:
            ink = texts.settled(partial(imprint_ink, imprint, mark, texts))
            own.fonts |= ink.fonts_used()
            own.set_forms |= ink.set_forms
            over[mark] = ink.content()
        some = sheaves[pages.sheaf].pages[pages.first : pages.first + pages.count]
        sheets += [(page, over[mark]) for page in some]
    return pdf_of(sheets, [*sheaves.values(), own], paper=imprint.paper, title=title)
