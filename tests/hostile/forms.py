"""The forms of a page as a browser would find them, and what somebody might send instead of what they ask for."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin

from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import strategies as st

# What fields get in the first year: emptied, pasted, mistyped, read by a scanner from the wrong label, or meant badly.
WORDS = (
    *("", " ", "x" * 4000, "0", "-1", "1", "1,5", "1.5", "007", "1e309", "nan", "-inf", "99999999999999999999"),
    *("2147483648", "9223372036854775808", "½", "٣", "²", "2026-02-30", "0001-01-01", "9999-12-31", "2026-11-24T25:61"),
    *("2026-03-29T02:30", "23:59:60", "yesterday", "None", "null", "[]", '{"a": 1}', "true", "=1+1", "<b>&amp;</b>"),
    *("' OR '1'='1", "../../etc/passwd", "%00", "\u202e", "e\u0301", "🥁" * 40, "\r\n", "\t", "a\nb", "\x07", "\x00"),
)
FILES = (
    b"",
    b"\x00" * 64,
    b"PK\x03\x04" + b"\x00" * 40,
    b"\xff\xd8\xff\xe0" + b"\x00" * 40,
    b"\x89PNG\r\n\x1a\n" + b"\x00" * 20,
)
FILE_NAMES = ("a.csv", "a.xlsx", "a.jpg", "../a.csv", "x" * 300 + ".csv", "a.csv.exe", "\u202e.png")


@dataclass(frozen=True, slots=True)
class Field:
    name: str
    kind: str
    value: str
    choices: tuple[str, ...] = ()


@dataclass(slots=True)
class Form:
    action: str
    method: str
    fields: list[Field] = field(default_factory=list)

    @property
    def what(self) -> tuple[str, str, tuple[str, ...]]:
        """Two forms with the same fields at the same address are one."""
        return self.method, self.action, tuple(sorted({each.name for each in self.fields}))


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.page = page
        self.forms: list[Form] = []
        self.by_id: dict[str, Form] = {}
        self.select = ""
        self.choices: list[str] = []
        self.owner: Form | None = None
        self.inside: Form | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = Form(urljoin(self.page, given.get("action", "")), given.get("method", "get").upper())
            self.forms.append(self.inside)
            if "id" in given:
                self.by_id[given["id"]] = self.inside
            return
        owner = self.by_id.get(given["form"]) if "form" in given else self.inside
        name = given.get("name", "")
        if owner is None:
            return
        if tag == "select" and name:
            self.select, self.owner, self.choices = name, owner, []
        elif tag == "option" and self.select:
            self.choices.append(given.get("value", ""))
        elif tag in ("input", "textarea", "button") and name and name != "csrfmiddlewaretoken":
            owner.fields.append(
                Field(name, given.get("type", "text" if tag != "button" else "submit"), given.get("value", ""))
            )

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = None
        elif tag == "select" and self.select:
            assert self.owner is not None
            first = self.choices[0] if self.choices else ""
            self.owner.fields.append(Field(self.select, "select", first, tuple(self.choices)))
            self.select = ""


def forms_of(page: str, html: str) -> list[Form]:
    reader = _Reader(page)
    reader.feed(html)
    return reader.forms


Sent = dict[str, Any]


@st.composite
def sent_to(draw: st.DrawFn, form: Form) -> Sent:
    """Each field as it stands, left out, one of its choices, any of the words, or any text at all; files of any bytes."""
    sent: Sent = {}
    hostile = draw(st.integers(0, 3))  # how many fields in four are not as they stand
    for each in form.fields:
        if each.kind == "file":
            name = draw(st.sampled_from(FILE_NAMES))
            content = draw(st.sampled_from(FILES) | st.binary(max_size=200))
            sent[each.name] = SimpleUploadedFile(name, content)
            continue
        if draw(st.integers(0, 3)) >= hostile:
            usual = draw(st.sampled_from(each.choices)) if each.choices else each.value
            if each.kind not in ("checkbox", "radio", "submit") or draw(st.booleans()):
                sent[each.name] = usual
            continue
        if draw(st.integers(0, 5)) == 0:
            continue  # left out
        words = draw(st.sampled_from(WORDS) | st.text(max_size=30))
        words = words.encode("utf-8", "replace").decode()  # a browser sends no half characters
        sent[each.name] = [words, words] if draw(st.integers(0, 9)) == 0 else words
    return sent
