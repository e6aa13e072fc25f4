"""What a page of the guide is made of, and how it is said in a language."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from django.utils.translation import gettext

# A name of a button, in the quotes of any of the languages.
_NAMED = re.compile("([“„«])([^“”„«»]+)([”“»])")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. ``picture`` is a file in static/guide, ``shows`` says what is on it to who can't see it."""

    title: str
    words: str
    picture: str = ""
    shows: str = ""


@dataclass(frozen=True, slots=True)
class Guide:
    key: str
    title: str
    lead: str
    steps: tuple[Step, ...]
    wrong: tuple[tuple[str, str], ...]  # what happens, what to do
    is_translated: bool = True


def spoken(guide: Guide) -> Guide:
    """The same in the language that is spoken."""
    return replace(
        guide,
        title=said(guide.title),
        lead=said(guide.lead),
        steps=tuple(Step(said(step.title), said(step.words), step.picture, said(step.shows)) for step in guide.steps),
        wrong=tuple((said(happens), said(do)) for happens, do in guide.wrong),
    )


def said(words: str) -> str:
    """Words of the guide in the language that is spoken. What stands in quotes is a name on a screen: translations leave it
    in English, and here it becomes what the screen says in that language."""
    return _NAMED.sub(lambda found: found[1] + gettext(found[2]) + found[3], gettext(words)) if words else ""
