"""Reading printed paper back: text, sizes and codes, as a person with a scanner would."""

from __future__ import annotations

import io

import pypdfium2
import zxingcpp
from pypdf import PdfReader

A4 = (595, 842)  # points, ISO 216
LETTER = (612, 792)  # points, 8.5 × 11 in
A6_ACROSS = (420, 298)


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page, with single spaces."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def sizes_of(pdf: bytes) -> set[tuple[int, int]]:
    return {(round(p.mediabox.width), round(p.mediabox.height)) for p in PdfReader(io.BytesIO(pdf)).pages}


def codes_of(pdf: bytes) -> list[str]:
    """What a scanner reads on each page, from a picture of it at 150 dpi."""
    found = []
    for page in pypdfium2.PdfDocument(pdf):
        found += [code.text for code in zxingcpp.read_barcodes(page.render(scale=150 / 72).to_pil())]
    return found
