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
NOT_READ = ("style", "script", "code")  # for machines
SAID_BY_ATTRIBUTES = {"alt", "aria-label", "aria-description", "placeholder", "title", "hx-confirm"}
# Signs of units, files and formats are the same in every language.
SIGNS = {"mm", "in", "kg", "min", "CSV", "JSON", "Cp", "Cpk", "Pp", "Ppk", "PIN"}
SILENT_TAGS = {"translate", "if", "elif", "url", "meaning"}  # they ask, compare, or are given a name
# Letters between spaces or at the ends: “x 2”, “A4” are no words.
WORD = re.compile(r"[^\W\d_]{2,}")
HANDED_ON = re.compile(r"""(?P<quote>["'])(?P<words>.*?)(?P=quote)""")


def words_in(text: str) -> list[str]:
    return [word for word in WORD.findall(text) if word not in SIGNS]


class Said(HTMLParser):
    """What a page says outside of its tags, and in the attributes that are read aloud."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.said: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in NOT_READ
        self.said += [value for name, value in attrs if name in SAID_BY_ATTRIBUTES and value and words_in(value)]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in NOT_READ

    def handle_data(self, data: str) -> None:
        if not self.silent and words_in(data):
            self.said.append(" ".join(data.split()))


def unmarked(source: str) -> Iterator[str]:
    """Each text of a template that no translation could reach."""
    page, within = [], ""
    for token in Lexer(source).tokenize():
        name = token.contents.split(" ", 1)[0] if token.token_type == TokenType.BLOCK else ""
        if name in ("blocktranslate", "comment") or token.contents == "block body_class":
            within = name
        elif name == f"end{within}" and within:
            within = ""
        elif within:
            continue
        elif token.token_type == TokenType.TEXT:
            page.append(token.contents)
        elif token.token_type in (TokenType.BLOCK, TokenType.VAR) and name not in SILENT_TAGS:
            yield from handed_on(token.contents)
    reader = Said()
    reader.feed("".join(page))
    reader.close()
    yield from reader.said


def handed_on(contents: str) -> Iterator[str]:
    """Words in quotes that a tag is given as they are: ``_("Save")`` is asked for, ``"Save"`` is not."""
    for found in HANDED_ON.finditer(contents):
        before = contents[: found.start()]
        is_form = re.search(r"\|(date|time|short_time|floatformat|yesno|stringformat):$", before)
        is_said = re.match(r"[A-Z][a-z]+|\S+ \S", found["words"]) and words_in(found["words"])
        if is_said and not is_form and not before.endswith("_("):
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
        ('{{ due|date:"D j M" }}', []),
        ('{% words _("One") count _("Many") %}', []),
        ("{% block body_class %}wall{% endblock %}<p>Wall</p>", ["Wall"]),
        ("<code>curl -H</code>", []),
        ('{{ who|default:"nobody there" }}', ["nobody there"]),
        ('{% if state == "on_hold" %}{% include "board/_tabs.html" with view="stations" %}{% endif %}', []),
    ],
)
def test_the_check_sees_what_is_said(source: str, said: list[str]) -> None:
    assert list(unmarked(source)) == said
