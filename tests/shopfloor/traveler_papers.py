"""Travelers as PDF without a print, and where their letters stand, read back by a program that is not ours."""

from __future__ import annotations

from dataclasses import dataclass

import pypdfium2

from routing.models import Shell
from shopfloor.travelers.drawn import Drawn, pdf_of
from shopfloor.travelers.facts import read
from shopfloor.travelers.pages import body_pages, sheaf_pages
from shopfloor.travelers.sheet import Traveler, travelers_from
from shopfloor.travelers.texts import Texts
from tests.shopfloor.paper import pages_of

BASE = "https://floor.example"


def papers_of(*travelers: Traveler, paper: str = "A4") -> bytes:
    texts = Texts()
    sheets = [(each.head, body_pages(each.body, paper, texts)) for each in travelers]
    kept, counts = sheaf_pages(sheets, shop="Ottermill Drum Works", paper=paper, texts=texts)
    sheaf = Drawn.from_bytes(kept)
    assert sum(counts) == len(sheaf.pages)
    return pdf_of([(page, b"") for page in sheaf.pages], [sheaf], paper=paper, title="t")


def text_of(pdf: bytes) -> str:
    return " ".join(pages_of(pdf))


def travelers(shells: list[Shell]) -> list[Traveler]:
    return travelers_from(read([shell.serial for shell in shells], base_url=BASE))


def bare(words: str) -> str:
    """Where lines end is the paper's own affair."""
    return "".join(words.split())


def edges_of(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """What is left white at each side of each page, as shares of its width and height."""
    found = []
    for page in pypdfium2.PdfDocument(pdf):
        picture = page.render(scale=1, grayscale=True).to_pil()
        left, top, right, bottom = picture.point(lambda dot: 255 * (dot < 200)).getbbox()
        width, height = picture.size
        found.append((left / width, top / height, 1 - right / width, 1 - bottom / height))
    return found


@dataclass(frozen=True)
class Letter:
    """Where the ink of a letter is, from the top left corner of its page, in points."""

    letter: str
    page: int
    left: float
    top: float
    right: float
    bottom: float


def letters_of(pdf: bytes) -> list[Letter]:
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(pdf)):
        text = page.get_textpage()
        height = page.get_height()
        for n in range(text.count_chars()):
            if (letter := text.get_text_range(n, 1)).strip():
                left, bottom, right, top = text.get_charbox(n)
                found.append(Letter(letter, number, left, height - top, right, height - bottom))
    return found
