"""The languages of the shop, and how each writes numbers, days and times. What a record says is always in English."""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import date, datetime

from django.db import models
from django.utils import timezone, translation
from django.utils.formats import date_format, get_format

_LOCALES = {"": "en-gb", "en": "en-gb"}  # days as 2026-03-01, the clock with 24 hours


class Language(models.TextChoices):
    ENGLISH = "en", "English"
    GERMAN = "de", "Deutsch"
    SPANISH = "es", "español"


def speak(language: str) -> None:
    """Answer in this language until the end of the request."""
    translation.activate(_LOCALES.get(language, language))


def spoken_in(language: str) -> AbstractContextManager[None]:
    return translation.override(_LOCALES.get(language, language))


def for_the_record() -> AbstractContextManager[None]:
    """What is stored says the same whoever stores it."""
    return spoken_in(Language.ENGLISH)


def present_language() -> str:
    """The language that is spoken now, as HTML names it."""
    return (translation.get_language() or "en").partition("-")[0]


def numeral(value: float, how: str = "g") -> str:
    """A number with the decimal sign of the language. ``how`` as Python's ``format`` has it."""
    return localized(format(value, how))


def localized(number: str) -> str:
    """The decimal sign of a number that is written with a point."""
    sign = get_format("DECIMAL_SEPARATOR")
    return number if sign == "." else number.replace(".", sign)


def day(on: date) -> str:
    return date_format(on, "SHORT_DATE_FORMAT")


def moment(at: datetime) -> str:
    """Day and time of the shop's clock."""
    return date_format(timezone.localtime(at), "SHORT_DATETIME_FORMAT")
