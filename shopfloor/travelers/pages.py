"""Travelers as PDF: what many shells share is laid out once and put under each shell's own head.

Laying a page out costs a hundred times what drawing it again costs, and the pages of a kit differ in little more than
the serial number.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string
from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    FloatObject,
    IndirectObject,
    NameObject,
    NumberObject,
    StreamObject,
)

from shopfloor.paper import pdf_from_html, pdf_from_template
from shopfloor.travelers.sheet import Traveler, TravelerBody

MOST_PAGES = 2
HEADS_AT_ONCE = 25  # the memory of a render grows with its pages


@dataclass(frozen=True, slots=True)
class Imprint:
    """What every page of a print says about the print itself."""

    shop: str
    paper: str
    printed_at: datetime
    printed_by: str


@dataclass(frozen=True, slots=True)
class Marked:
    """A traveler with what tells this paper from others of the same shell: “COPY 2” and what to do about it."""

    traveler: Traveler
    mark: str = ""
    words: str = ""


def travelers_pdf(sheets: Sequence[Marked], imprint: Imprint) -> bytes:
    """One PDF with the pages of all ``sheets``, in their order."""
    writer = PdfWriter()
    bodies: dict[str, list[IndirectObject]] = {}
    under: list[list[IndirectObject]] = []
    for sheet in sheets:
        html = _body(sheet.traveler.body, imprint.paper, sheet.traveler.body.densities[0])
        if html not in bodies:
            pages = _laid_out(sheet.traveler.body, imprint.paper)
            bodies[html] = [_as_form(page, writer) for page in pages]
        under.append(bodies[html])
    for start in range(0, len(sheets), HEADS_AT_ONCE):
        chunk = slice(start, start + HEADS_AT_ONCE)
        _put_together(writer, sheets[chunk], under[chunk], imprint)
    names = ", ".join(sheet.traveler.head.serial for sheet in sheets[:5]) + (" …" if len(sheets) > 5 else "")
    writer.add_metadata({"/Title": f"Travelers {names}" if len(sheets) > 1 else f"Traveler {names}"})
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _body(body: TravelerBody, paper: str, density: str) -> str:
    return render_to_string("travelers/body.html", {"sheet": body, "paper": paper, "density": density})


def _laid_out(body: TravelerBody, paper: str) -> Sequence[PageObject]:
    """The pages of a body, its lines as far apart as two pages allow; more pages only when even the closest don't do."""
    pages: Sequence[PageObject] = []
    for density in body.densities:
        pages = PdfReader(io.BytesIO(pdf_from_html(_body(body, paper, density), css="traveler.css"))).pages
        if len(pages) <= MOST_PAGES:
            break
    return pages


def _put_together(
    writer: PdfWriter, sheets: Sequence[Marked], under: Sequence[list[IndirectObject]], imprint: Imprint
) -> None:
    heads = pdf_from_template(
        "travelers/heads.html",
        {
            "heads": [
                {"head": sheet.traveler.head, "mark": sheet.mark, "words": sheet.words, "page": page, "of": len(forms)}
                for sheet, forms in zip(sheets, under, strict=True)
                for page in range(1, len(forms) + 1)
            ],
            "imprint": imprint,
        },
        css="traveler.css",
    )
    pages = PdfReader(io.BytesIO(heads)).pages
    forms = [form for of_shell in under for form in of_shell]
    for page, form in zip(pages, forms, strict=True):
        _lay_under(writer.add_page(page), form, writer)


def _as_form(page: PageObject, writer: PdfWriter) -> IndirectObject:
    """A page as a form XObject (ISO 32000-1, 8.10): drawn on as many pages as one likes, stored once."""
    form = StreamObject()
    contents = page.get_contents()
    form.set_data(b"" if contents is None else contents.get_data())
    form.update(
        {
            NameObject("/Type"): NameObject("/XObject"),
            NameObject("/Subtype"): NameObject("/Form"),
            NameObject("/FormType"): NumberObject(1),
            NameObject("/BBox"): ArrayObject(FloatObject(edge) for edge in page.mediabox),
            NameObject("/Resources"): page["/Resources"].clone(writer),
        }
    )
    return writer._add_object(form.flate_encode())


def _lay_under(page: PageObject, form: IndirectObject, writer: PdfWriter) -> None:
    # Pages of one document share their resources; this one gets its own, because each has another body under it.
    shared: Any = page["/Resources"]
    drawn = DictionaryObject(shared.get("/XObject", DictionaryObject()).get_object())
    drawn[NameObject("/Body")] = form
    resources = DictionaryObject(shared)
    resources[NameObject("/XObject")] = drawn
    page[NameObject("/Resources")] = resources
    own = page.get_contents()
    contents = StreamObject()
    contents.set_data(b"q /Body Do Q q " + (b"" if own is None else own.get_data()) + b" Q")
    page[NameObject("/Contents")] = writer._add_object(contents.flate_encode())
