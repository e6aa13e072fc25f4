"""The page of words: what each part of a ring says, every state, every figure, every term of the trade."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import TextChoices
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _
from django.views.decorators.http import require_safe

from shopfloor import words
from shopfloor.guide.reader import speak_to_reader
from shopfloor.sign import SIGN


@dataclass(frozen=True, slots=True)
class Section:
    """Words with their meanings; a state stands as itself and is shown by its label."""

    anchor: str
    title: str
    short: str
    entries: Sequence[tuple[str, str]]
    has_chips: bool = False

    def said(self) -> dict[str, object]:
        """The same in the language that is spoken."""
        rows = [(word, gettext(_label(word)), gettext(meaning)) for word, meaning in self.entries]
        return {
            "anchor": self.anchor,
            "title": gettext(self.title),
            "short": capfirst(gettext(self.short)),
            "has_chips": self.has_chips,
            "rows": rows,
            "by_letter": sorted(rows, key=lambda row: _letters(row[1])),
        }


STATES = [
    Section("shells", _("A shell is"), _("shells"), words.OF_SHELLS, has_chips=True),
    Section("orders", _("An order is"), _("orders"), words.OF_ORDERS, has_chips=True),
    Section("stations", _("What is done at a station"), _("stations"), words.OF_STATIONS),
    Section("problems", _("A shell on hold is"), _("problems"), words.OF_PROBLEMS),
    Section("dwells", _("Between two steps a shell is"), _("dwells"), words.OF_DWELLS),
    Section("defects", _("A defect is"), _("defects"), words.OF_DEFECTS),
    Section("bags", _("A bag is"), _("bags"), words.OF_BAGS),
    Section("lots", _("A lot is"), _("lots"), words.OF_LOTS),
    Section("requests", _("A customer's request is"), _("requests"), words.OF_REQUESTS),
    Section("plans", _("A plan is"), _("plans"), words.OF_PLANS),
]
WORDS = [
    Section("figures", _("Figures"), _("figures"), list(words.OF_FIGURES.items())),
    Section("trade", _("Words of the trade"), _("the trade"), words.OF_THE_TRADE),
]


@require_safe
def glossary(request: HttpRequest) -> HttpResponse:
    reader = speak_to_reader(request)
    states, terms = [section.said() for section in STATES], [section.said() for section in WORDS]
    steps = [(state, gettext(word), gettext(meaning)) for state, word, meaning in words.OF_STEPS]
    context = {"steps": steps, "states": states, "words": terms, "sections": [*states, *terms], "sign": SIGN}
    return render(request, "guide/glossary.html", context | reader)


def _label(word: str) -> str:
    return str(word.label) if isinstance(word, TextChoices) else word


def _letters(word: str) -> str:
    """By what a word is put in order: letters without their marks, large as small."""
    return "".join(c for c in unicodedata.normalize("NFD", word.lower()) if not unicodedata.combining(c))
