"""The page of words: what each part of a ring says, every state, every figure, every term of the trade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import TextChoices
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopfloor import words
from shopfloor.sign import SIGN
from shopfloor.tablet_station import layout_here


@dataclass(frozen=True, slots=True)
class States:
    anchor: str
    title: str
    short: str
    entries: Sequence[tuple[TextChoices, str]]
    has_chips: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    anchor: str
    title: str
    short: str
    entries: Sequence[tuple[str, str]]


STATES = [
    States("shells", "A shell is", "shells", words.OF_SHELLS, has_chips=True),
    States("orders", "An order is", "orders", words.OF_ORDERS, has_chips=True),
    States("stations", "What is done at a station", "stations", words.OF_STATIONS),
    States("problems", "A shell on hold is", "problems", words.OF_PROBLEMS),
    States("dwells", "Between two steps a shell is", "dwells", words.OF_DWELLS),
    States("defects", "A defect is", "defects", words.OF_DEFECTS),
    States("bags", "A bag is", "bags", words.OF_BAGS),
    States("lots", "A lot is", "lots", words.OF_LOTS),
    States("requests", "A customer's request is", "requests", words.OF_REQUESTS),
    States("plans", "A plan is", "plans", words.OF_PLANS),
]
WORDS = [
    Words("figures", "Figures", "figures", sorted(words.OF_FIGURES.items())),
    Words("trade", "Words of the trade", "the trade", words.OF_THE_TRADE),
]


@require_safe
def glossary(request: HttpRequest) -> HttpResponse:
    context = {"steps": words.OF_STEPS, "states": STATES, "words": WORDS, "sections": [*STATES, *WORDS], "sign": SIGN}
    return render(request, "guide/glossary.html", context | layout_here(request))
