"""Whatever a template says goes through gettext: its text, what its attributes say, and words handed to a tag."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.conf import settings
from django.template.base import Lexer, TokenType

TEMPLATES = Path(settings.BASE_DIR) / "templates"
SAID_BY_ATTRIBUTES = {"alt", "aria-label", "aria-description", "placeholder", "title", "hx-confirm"}
# Signs of units, files and formats are the same in every language.
SIGNS = {
    "mm",
    "cm",
    "in",
    "kg",
    "kPa",
    "Hz",
    "kHz",
    "min",
    "px",
    "CSV",
    "JSON",
    "PDF",
    "xlsx",
    "SVG",
    "DXF",
    "QR",
    "HTTP",
    "URL",
}
SIGNS |= {
    "RH",
    "MC",
    "lb",
    "oz",
    "ml",
    "psi",
    "bar",
    "MPa",
    "kN",
    "Cp",
    "Cpk",
    "Pp",
    "Ppk",
    "Letter",
    "PIN",
    "ID",
    "API",
    "Ctrl",
}
# Letters between spaces or at the ends: “x 2”, “A4” are no words.
WORD = re.compile(r"[^\W\d_]{2,}")
HANDED_ON = re.compile(r"""(?<![\w(])(?P<before>[\w|.]*:?\(?)(?P<quote>["'])(?P<words>.*?)(?P=quote)""")


def words_in(text: str) -> list[str]:
    return [word for word in WORD.findall(text) if word not in SIGNS]


class Said(HTMLParser):
    """What a page says outside of its tags, and in the attributes that are read aloud."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.said: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in ("style", "script")
        self.said += [value for name, value in attrs if name in SAID_BY_ATTRIBUTES and value and words_in(value)]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self.silent and words_in(data):
            self.said.append(" ".join(data.split()))


def unmarked(source: str) -> Iterator[str]:
    """Each text of a template that no translation could reach."""
    page, within = [], ""
    for token in Lexer(source).tokenize():
        name = token.contents.split(" ", 1)[0] if token.token_type == TokenType.BLOCK else ""
        if name in ("blocktranslate", "comment"):
            within = name
        elif name == f"end{within}" and within:
            within = ""
        elif within:
            continue
        elif token.token_type == TokenType.TEXT:
            page.append(token.contents)
        elif token.token_type in (TokenType.BLOCK, TokenType.VAR) and name != "translate":
            yield from handed_on(token.contents)
    reader = Said()
    reader.feed("".join(page))
    reader.close()
    yield from reader.said


def handed_on(contents: str) -> Iterator[str]:
    """Words in quotes that a tag is given as they are: ``_("Save")`` is asked for, ``"Save"`` is not."""
    for found in HANDED_ON.finditer(contents):
        asked = contents[: found.start("quote")].endswith("_(")
        form = re.search(r"\|(date|time|short_time|floatformat|yesno|stringformat):$", contents[: found.start("quote")])
        if not asked and not form and re.match(r"[A-Z][a-z]+|\S+ \S", found["words"]) and words_in(found["words"]):
            yield found["words"]


@pytest.mark.parametrize("path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_a_template_says_everything_through_gettext(path: Path) -> None:
    assert list(unmarked(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("<p>Nothing waits.</p>", ["Nothing waits."]),
        ('<p>{% translate "Nothing waits." %}</p>', []),
        ("<p>{% blocktranslate %}Nothing waits.{% endblocktranslate %}</p>", []),
        ('<tr{% if late %} class="late day"{% endif %}><td>{{ mass }} kg</td>', []),
        ('<img alt="A ring">', ["A ring"]),
        ('{% lead "orders:list" "Open the orders" %}', ["Open the orders"]),
        ('{% lead "orders:list" _("Open the orders") %}', []),
        ('{% number_block _("Pot life") life "min" _("at most") %}', []),
        ('{% number_block _("Pot life") life "at most" %}', ["at most"]),
        ('{{ due|date:"D j M" }}', []),
        ('{{ who|default:"nobody there" }}', ["nobody there"]),
        ('{% if state == "on_hold" %}{% include "board/_tabs.html" with view="stations" %}{% endif %}', []),
    ],
)
def test_the_check_sees_what_is_said(source: str, said: list[str]) -> None:
    assert list(unmarked(source)) == said
