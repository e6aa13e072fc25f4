"""Objects of a PDF with all that they refer to, taken out of one file so that they can be put into another."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import Any

from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NullObject, StreamObject


@dataclass(frozen=True, slots=True)
class PdfObject:
    """One of several; ``\\0n\\0`` in its head stands for the n-th of them."""

    head: bytes
    stream: bytes | None


Objects = tuple[PdfObject, ...]  # the first is the one that pages name


def objects_of(wanted: Any) -> Objects:
    """An object with all that it refers to, written out."""
    order: list[Any] = [wanted]
    found: list[PdfObject] = []

    def name(target: IndirectObject) -> bytes:
        known = [each.idnum if isinstance(each, IndirectObject) else 0 for each in order]
        if target.idnum not in known:
            order.append(target)
            known.append(target.idnum)
        return b"\0%d\0" % known.index(target.idnum)

    def written(value: Any) -> bytes:
        if isinstance(value, IndirectObject):
            return name(value)
        if isinstance(value, DictionaryObject):
            inside = b" ".join(key.encode() + b" " + written(dict.__getitem__(value, key)) for key in value)
            return b"<<" + inside + b">>"
        if isinstance(value, ArrayObject):
            return b"[" + b" ".join(written(list.__getitem__(value, n)) for n in range(len(value))) + b"]"
        if isinstance(value, NullObject):
            return b"null"
        out = io.BytesIO()
        value.write_to_stream(out)
        return out.getvalue()

    at = 0
    while at < len(order):
        value = order[at].get_object()
        at += 1
        if isinstance(value, StreamObject):
            head = DictionaryObject({key: dict.__getitem__(value, key) for key in value if key != "/Length"})
            found.append(PdfObject(written(head), value._data))
        else:
            found.append(PdfObject(written(value), None))
    return tuple(found)


def digest_of(objects: Objects) -> str:
    return hashlib.sha256(b"".join(each.head + (each.stream or b"") for each in objects)).hexdigest()[:10]
