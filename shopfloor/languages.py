"""In which language an answer is given. No cookie decides it, and nothing that the browser says.

The office is in English. A tablet speaks the language of who is signed in at it, else the shop's, also on the pages that
it shares with the office. Travelers, cards, bag labels and the page behind a card's code are in the shop's language,
whoever prints.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from quality.models import Person
from routing.languages import Language, speak, spoken_in
from routing.models import Shop


class BeginsInEnglish:
    """Every request begins in English; what one switched to does not stay for the next."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with spoken_in(Language.ENGLISH):
            return self.get_response(request)


def speak_with(person: Person | None, shops: str | None = None) -> None:
    """Answer in the language of who stands at the tablet, else in the shop's; None: look which that is."""
    language = person.language if person else ""
    speak(language or (Shop.current().language if shops is None else shops))
