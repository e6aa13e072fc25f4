"""Travelers as PDF: what many shells share is laid out once and put under each shell's own head.

Laying a page out costs a hundred times what drawing it again costs, and the pages of a kit differ in little more than
the serial number. Three layers make a page: the body; the head over it; and the imprint, which says of which print this
paper is. Body and head are made ahead in sheaves of several shells, the imprint when somebody prints.
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
from shopfloor.travelers.facts import TravelerHead
from shopfloor.travelers.kept import Pages
from shopfloor.travelers.sheet import TravelerBody

MOST_PAGES = 2


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


def body_pdf(body: TravelerBody, paper: str) -> bytes:
    """The pages of a body, its lines as far apart as two pages allow; more pages only when even the closest don't do."""
    pdf = b""
    for density in body.densities:
        html = render_to_string("travelers/body.html", {"sheet": body, "paper": paper, "density": density})
        pdf = pdf_from_html(html, css="traveler.css")
        if len(PdfReader(io.BytesIO(pdf)).pages) <= MOST_PAGES:
            break
    return pdf


def sheaf_pdf(sheets: Sequence[tuple[TravelerHead, bytes]], *, shop: str, paper: str) -> tuple[bytes, list[int]]:
    """Each head on every page of its body, one shell after the other; and how many pages each shell has."""
    writer = PdfWriter()
    bodies = {body: [_as_form(page, writer) for page in PdfReader(io.BytesIO(body)).pages] for _, body in sheets}
    under = [bodies[body] for _, body in sheets]
    heads = pdf_from_template(
        "travelers/heads.html",
        {
            "heads": [
                {"head": head, "page": page, "of": len(forms)}
                for (head, _), forms in zip(sheets, under, strict=True)
                for page in range(1, len(forms) + 1)
            ],
            "shop": shop,
            "paper": paper,
        },
        css="traveler.css",
    )
    pages = PdfReader(io.BytesIO(heads)).pages
    forms = [form for of_shell in under for form in of_shell]
    for page, form in zip(pages, forms, strict=True):
        _lay_under(writer.add_page(page), form, writer)
    return _written(writer), [len(forms) for forms in under]


def print_pdf(pieces: Sequence[tuple[Pages, Mark]], imprint: Imprint, title: str) -> bytes:
    """One PDF with the pages of all shells in their order, each with the imprint of this print."""
    writer = PdfWriter()
    readers = {pages.sheaf: PdfReader(io.BytesIO(pages.sheaf.read_bytes())) for pages, _ in pieces}
    marks = list(dict.fromkeys(mark for _, mark in pieces))
    over = pdf_from_template("travelers/imprint.html", {"marks": marks, "imprint": imprint}, css="traveler.css")
    forms = {mark: _as_form(page, writer) for mark, page in zip(marks, PdfReader(io.BytesIO(over)).pages, strict=True)}
    draw = StreamObject()
    draw.set_data(b"q /Imprint Do Q")
    drawn = writer._add_object(draw)
    for pages, mark in pieces:
        for page in readers[pages.sheaf].pages[pages.first : pages.first + pages.count]:
            _lay_over(writer.add_page(page), forms[mark], drawn)
    writer.add_metadata({"/Title": title})
    return _written(writer)


def _written(writer: PdfWriter) -> bytes:
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


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
    _may_draw(page, "/Body", form)
    own = page.get_contents()
    contents = StreamObject()
    contents.set_data(b"q /Body Do Q q " + (b"" if own is None else own.get_data()) + b" Q")
    page[NameObject("/Contents")] = writer._add_object(contents.flate_encode())


def _lay_over(page: PageObject, form: IndirectObject, drawn: IndirectObject) -> None:
    """What the page draws already leaves the state of drawing as it was, so that more can follow (8.2, 7.8.2)."""
    _may_draw(page, "/Imprint", form)
    page[NameObject("/Contents")] = ArrayObject([page.raw_get("/Contents"), drawn])


def _may_draw(page: PageObject, name: str, form: IndirectObject) -> None:
    # Pages of one document share their resources; this one gets its own, because each has another form on it.
    shared: Any = page["/Resources"]
    drawn = DictionaryObject(shared.get("/XObject", DictionaryObject()).get_object())
    drawn[NameObject(name)] = form
    resources = DictionaryObject(shared)
    resources[NameObject("/XObject")] = drawn
    page[NameObject("/Resources")] = resources
