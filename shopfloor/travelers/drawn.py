"""Drawn pages as they are kept, and the PDF that is made of them: what is the same for many is in the file once.

A sheaf holds the fonts, the forms (what lies under the heads of several shells; lines that WeasyPrint set) and the pages,
so that a print only puts them behind each other. Its own fonts are in it, so that it stays right when other fonts are installed meanwhile.
"""

from __future__ import annotations

import io
import json
import re
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from shopfloor.travelers.pdf_objects import Objects, PdfObject

PAPERS_PT = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}  # ISO 216; 8.5 × 11 in


@dataclass(frozen=True, slots=True)
class Page:
    form: str  # what lies under it
    content: bytes  # compressed


@dataclass(frozen=True, slots=True)
class Resources:
    """The fonts and all else of the lines that were set together."""

    key: str
    objects: Objects


@dataclass(frozen=True, slots=True)
class SetForm:
    """A line that WeasyPrint set, with a margin around it for marks that reach out of the line."""

    name: str
    content: bytes  # compressed
    width: float
    height: float
    resources: Resources


@dataclass(slots=True)
class Drawn:
    """Pages with all that they need."""

    fonts: dict[str, Objects] = field(default_factory=dict)
    forms: dict[str, bytes] = field(default_factory=dict)  # compressed
    pages: list[Page] = field(default_factory=list)
    set_forms: dict[str, SetForm] = field(default_factory=dict)

    def to_bytes(self) -> bytes:
        blobs: list[bytes] = []

        def blob(content: bytes | None) -> int | None:
            if content is None:
                return None
            blobs.append(content)
            return len(blobs) - 1

        def whole(objects: Objects) -> list[list[int | None]]:
            return [[blob(each.head), blob(each.stream)] for each in objects]

        resources = {form.resources.key: form.resources.objects for form in self.set_forms.values()}
        head: dict[str, Any] = {
            "fonts": {name: whole(font) for name, font in self.fonts.items()},
            "resources": {key: whole(objects) for key, objects in resources.items()},
            "set": [
                [form.name, blob(form.content), form.width, form.height, form.resources.key]
                for form in self.set_forms.values()
            ],
            "forms": {name: blob(content) for name, content in self.forms.items()},
            "pages": [[page.form, blob(page.content)] for page in self.pages],
        }
        head["lengths"] = [len(each) for each in blobs]
        return json.dumps(head).encode() + b"\n" + b"".join(blobs)

    @classmethod
    def from_bytes(cls, kept: bytes) -> Drawn:
        first = kept.index(b"\n") + 1
        head = json.loads(kept[:first])
        blobs = []
        for length in head["lengths"]:
            blobs.append(kept[first : first + length])
            first += length

        def whole(numbers: Iterable[tuple[int, int | None]]) -> Objects:
            return tuple(PdfObject(blobs[o], None if s is None else blobs[s]) for o, s in numbers)

        resources = {key: Resources(key, whole(objects)) for key, objects in head["resources"].items()}
        return cls(
            fonts={name: whole(font) for name, font in head["fonts"].items()},
            set_forms={
                name: SetForm(name, blobs[number], width, height, resources[key])
                for name, number, width, height, key in head["set"]
            },
            forms={name: blobs[number] for name, number in head["forms"].items()},
            pages=[Page(form, blobs[number]) for form, number in head["pages"]],
        )


def squeezed(content: bytes) -> bytes:
    return zlib.compress(content, 6)


class _File:
    """The objects of a PDF in the order of their numbers (ISO 32000-1, 7.5)."""

    def __init__(self) -> None:
        self.objects: list[bytes] = []

    def add(self, written: bytes = b"") -> int:
        self.objects.append(written)
        return len(self.objects)

    def stream(self, content: bytes, entries: bytes = b"/Filter/FlateDecode") -> int:
        return self.add(b"<<%b/Length %d>>stream\n%b\nendstream" % (entries, len(content), content))

    def whole(self, objects: Objects) -> int:
        base = len(self.objects) + 1
        for part in objects:
            head = re.sub(rb"\0(\d+)\0", lambda match: b"%d 0 R" % (base + int(match[1])), part.head)
            if part.stream is None:
                self.add(head)
            else:
                self.stream(part.stream, head.removeprefix(b"<<").removesuffix(b">>"))
        return base

    def written(self, root: int, info: int) -> bytes:
        out = io.BytesIO()
        out.write(b"%PDF-1.7\n%\xc3\xa9\xc3\xa8\n")
        places = []
        for number, written in enumerate(self.objects, start=1):
            places.append(out.tell())
            out.write(b"%d 0 obj\n%b\nendobj\n" % (number, written))
        table = out.tell()
        out.write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1))
        out.write(b"".join(b"%010d 00000 n \n" % place for place in places))
        out.write(b"trailer\n<</Size %d/Root %d 0 R/Info %d 0 R>>\n" % (len(places) + 1, root, info))
        out.write(b"startxref\n%d\n%%%%EOF\n" % table)
        return out.getvalue()


def pdf_of(sheets: Sequence[tuple[Page, bytes]], drawn: Iterable[Drawn], *, paper: str, title: str) -> bytes:
    """One file with pages of several sheaves in the given order; over each lies what is beside it, drawn last."""
    file = _File()
    fonts: dict[str, Objects] = {}
    forms: dict[str, bytes] = {}
    set_forms: dict[str, SetForm] = {}
    wanted = {page.form for page, _ in sheets}
    for each in drawn:
        fonts |= each.fonts
        forms |= {name: content for name, content in each.forms.items() if name in wanted}
        set_forms |= each.set_forms
    if set_forms:
        used = _set_forms_used([*forms.values(), *(page.content for page, _ in sheets)], [last for _, last in sheets])
        set_forms = {name: form for name, form in set_forms.items() if name in used}
    width, height = PAPERS_PT[paper]
    fonts_written = _named(file, {name: file.whole(font) for name, font in fonts.items()})
    set_numbers = _set_written(file, set_forms.values())
    set_written = b"/XObject %d 0 R" % _named(file, set_numbers) if set_numbers else b""
    box = b"[0 0 %.2f %.2f]" % (width, height)
    form = b"/Type/XObject/Subtype/Form/BBox%b/Resources<</Font %d 0 R%b>>/Filter/FlateDecode"
    form %= box, fonts_written, set_written
    form_numbers = {name: file.stream(content, form) for name, content in forms.items()}
    resources = file.add(b"<</Font %d 0 R/XObject %d 0 R>>" % (fonts_written, _named(file, form_numbers | set_numbers)))
    under = {name: file.stream(squeezed(b"/%b Do" % name.encode())) for name in forms}
    over = {content: file.stream(squeezed(content)) for content in dict.fromkeys(content for _, content in sheets)}
    parent = file.add()
    kids = []
    for page, last in sheets:
        layers = (under[page.form], file.stream(page.content), over[last])
        kids.append(
            file.add(
                b"<</Type/Page/Parent %d 0 R/Contents[%b]>>" % (parent, b" ".join(b"%d 0 R" % each for each in layers))
            )
        )
    file.objects[parent - 1] = b"<</Type/Pages/MediaBox%b/Resources %d 0 R/Count %d/Kids[%b]>>" % (
        *(box, resources, len(kids)),
        b" ".join(b"%d 0 R" % kid for kid in kids),
    )
    root = file.add(b"<</Type/Catalog/Pages %d 0 R/Lang(en)/ViewerPreferences<</DisplayDocTitle true>>>>" % parent)
    info = file.add(b"<</Title<%b>>>" % ("\ufeff" + title).encode("utf-16-be").hex().encode())
    return file.written(root, info)


def _set_forms_used(compressed: Iterable[bytes], plain: Iterable[bytes]) -> set[str]:
    """A sheaf has those of several shells: what another customer's paper says is in no file of this one's."""
    contents = {*map(zlib.decompress, compressed), *plain}
    return {name.decode() for content in contents for name in re.findall(rb"/(S\w+) Do", content)}


def _set_written(file: _File, set_forms: Iterable[SetForm]) -> dict[str, int]:
    resources: dict[str, int] = {}
    numbers = {}
    for form in set_forms:
        if form.resources.key not in resources:
            resources[form.resources.key] = file.whole(form.resources.objects)
        entries = b"/Type/XObject/Subtype/Form/BBox[0 0 %.2f %.2f]/Resources %d 0 R/Filter/FlateDecode"
        numbers[form.name] = file.stream(
            form.content, entries % (form.width, form.height, resources[form.resources.key])
        )
    return numbers


def _named(file: _File, numbers: dict[str, int]) -> int:
    return file.add(b"<<%b>>" % b"".join(b"/%b %d 0 R" % (name.encode(), n) for name, n in numbers.items()))
