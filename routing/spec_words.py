"""Sentences of a spec in the language that is spoken. The core is pure and knows English.

A frozen spec keeps the English sentence. The form it was made of reads its values back, and the same form in another
language takes them, numbers with the decimal sign of that language. What can be read in two ways that differ stays in
English.
"""

from __future__ import annotations

import re
from functools import cache, cached_property, lru_cache
from string import Formatter

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

import routing.specs.check_character
import routing.specs.cutting_plan
import routing.specs.sheet  # noqa: F401  (with all that a tablet or a paper says of a drum)
from routing.languages import localized, present_language
from routing.specs.sentences import forms

_MOST_COLONS = 20  # a sentence within another ends in one; what has more is none of the core's
_NUMBER = r"[-+]?(?:\d+(?:\.\d+)?(?:e[-+]\d+)?|inf|nan)"
_FIGURES = r"[-\d.°, ]+"
_LISTS = {"angles", "gaps", "places"}  # figures, one after the other
_SENTENCES = {"advice", "reason", "turns", "which"}  # said in another language themselves, else the whole is not
_WORDS = {"grain", "label", "parts", "surface"}  # said in another language if they are words of the program
_TEXTS = {"bag", "character", "coat", "drum", "drums", "feature", "fitting", "glue", "hardware"}  # as they are: names
_TEXTS |= {"other", "part", "plate", "screw", "serial", "thread", "threads", "unit"}  # that the shop gave, and units

_OF_THE_PROGRAM = frozenset(
    {
        *("around", "axial", "inside", "outside"),
        *(gettext_noop("tension rods"), gettext_noop("lugs"), gettext_noop("lug screws"), gettext_noop("claws")),
        *(gettext_noop("lug screw washers"), gettext_noop("rod washers"), gettext_noop("hoops"), gettext_noop("heads")),
        # what a range is about, where a tablet can come to its end
        *(gettext_noop("temperature c"), gettext_noop("humidity pct"), gettext_noop("minutes per shell")),
        *(gettext_noop("thickness mm"), gettext_noop("measured thickness mm"), gettext_noop("wall mm")),
        *(gettext_noop("plates"), gettext_noop("pot life min")),
    }
)


class _Form:
    def __init__(self, form: str) -> None:
        self.form = form
        fixed = [text for text, *_rest in Formatter().parse(form)]
        self.length, self._sure = sum(map(len, fixed)), max(fixed, key=len)

    @cached_property
    def _patterns(self) -> tuple[re.Pattern[str], re.Pattern[str]]:
        """With texts as short and as long as can be; most forms never need them."""
        return re.compile(_pattern(self.form, ".+?")), re.compile(_pattern(self.form, ".+"))

    def readings(self, sentence: str) -> list[dict[str, str]]:
        """What fills the places: none where the sentence is another, several where a text could end here or there."""
        if self._sure not in sentence:
            return []
        found = [match.groupdict() for each in self._patterns if (match := each.fullmatch(sentence))]
        return found[:1] if found[1:] == found[:1] else found


def _pattern(form: str, text: str) -> str:
    pattern, seen = "", set()
    for fixed, place, _spec, _conversion in Formatter().parse(form):
        pattern += re.escape(fixed)
        if place in seen:
            pattern += f"(?P={place})"
        elif place:
            seen.add(place)
            kind = _FIGURES if place in _LISTS else text if place in {*_SENTENCES, *_WORDS, *_TEXTS} else _NUMBER
            pattern += f"(?P<{place}>{kind})"
    return pattern


@cache
def _forms() -> list[_Form]:
    """The forms, those with the most words of their own first: they say the most exactly what they are."""
    return sorted(map(_Form, forms()), key=lambda form: -form.length)


def spoken(sentence: str) -> str:
    """A sentence of a spec in the language that is spoken; what is none stays as it is."""
    language = present_language()
    if language == "en" or not sentence or sentence.count(": ") > _MOST_COLONS:
        return sentence
    return _spoken(sentence, language) or sentence


@lru_cache(maxsize=1024)
def _spoken(sentence: str, language: str) -> str | None:
    for form in _forms():
        said = {_filled(form.form, values, language) for values in form.readings(sentence)}
        if len(said) == 1 and (whole := said.pop()) is not None:
            return whole
    return None


def _filled(form: str, values: dict[str, str], language: str) -> str | None:
    said = {place: _value(place, value, language) for place, value in values.items()}
    return None if None in said.values() else _(form).format(**said)


def _value(place: str, value: str, language: str) -> str | None:
    if place == "turns":
        turns = [_spoken(each, language) for each in value.split("; ")]
        return "; ".join(each for each in turns if each) if all(turns) else None
    if place in _SENTENCES:
        return _spoken(value, language)
    if place in _WORDS:
        return _(value) if value in _OF_THE_PROGRAM else value
    return value if place in _TEXTS else localized(value)
