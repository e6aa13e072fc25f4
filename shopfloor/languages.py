"""In which language an answer is given. No cookie decides it, and nothing that the browser says.

The office is in English. A tablet speaks the language of who is signed in at it, else the shop's, also on the pages that
it shares with the office. Paper of the floor, and the page behind a card's code, are in the
shop's language, whoever prints.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from quality.models import Person
from routing.languages import for_the_record, speak, spoken_in
from routing.models import Shop


class BeginsInEnglish:
    """Every request begins in English; what one switched to does not stay for the next."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with for_the_record():
            return self.get_response(request)


def speak_with(person: Person | None, shops: str | None = None) -> None:
    """Answer in the language of who stands at the tablet, else in the shop's; None: look which that is."""
    language = person.language if person else ""
    speak(language or (Shop.current().language if shops is None else shops))


def in_the_shops() -> AbstractContextManager[None]:
    """For paper, and for whoever is nobody's."""
    return spoken_in(Shop.current().language)
