"""Rings as pictures with an address of their own, for the board: it shows more than a hundred shells, many of them at the same
step of the same route, and the browser keeps each picture. The address says the states and nothing of the shop: ``5dr7w`` is
five steps done, one ready, seven waiting.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from itertools import groupby

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from routing.drawings.ring import RingSegment, ring_svg

LETTERS = {
    "waiting": "w",
    "ready": "r",
    "in_work": "i",
    "drying": "y",
    "done": "d",
    "on_hold": "h",
    "skipped": "s",
}
MOST_STEPS = 60
_STATES = {letter: state for state, letter in LETTERS.items()}
_CODE = re.compile(rf"(?:[1-9]?[0-9]?[{''.join(_STATES)}]){{1,{MOST_STEPS}}}")
_RUN = re.compile(r"(\d*)(\w)")
_RULE = re.compile(r"^\.ring-[\w-]+ \{[^}]*\}", re.MULTILINE)
_TOKEN = re.compile(r"^  (--[\w-]+): ([^;]+);", re.MULTILINE)
A_DAY = 24 * 3600


def ring_code(states: Iterable[str]) -> str:
    """The states of a shell's steps in route order, equal neighbours counted: ``5dr7w``."""
    runs = ((LETTERS[state], sum(1 for _ in same)) for state, same in groupby(states))
    return "".join(letter if times == 1 else f"{times}{letter}" for letter, times in runs)


def states_of(code: str) -> list[str]:
    """The states that a code says. Raises ValueError for what is no code, or has more steps than any route."""
    if not _CODE.fullmatch(code):
        raise ValueError(f"no ring is named {code!r}")
    states = [_STATES[letter] for times, letter in _RUN.findall(code) for _ in range(int(times or 1))]
    if not 0 < len(states) <= MOST_STEPS:
        raise ValueError(f"a ring has 1 to {MOST_STEPS} steps, not {len(states)}")
    return states


def rings_at() -> str:
    """What stands before the code in the address of each ring."""
    return reverse("ring", args=["w"])[:-1]


@require_safe
@cache_control(public=True, max_age=A_DAY)
def ring_image(request: HttpRequest, steps: str) -> HttpResponse:
    """One ring. Anybody may look: what it says stands in its address."""
    try:
        states = states_of(steps)
    except ValueError as error:
        raise Http404 from error
    svg = ring_svg([RingSegment(state) for state in states], title="")
    drawn = svg.replace("<title></title>", f"<style>{_look()}</style>")
    return HttpResponse(drawn, content_type="image/svg+xml")


@lru_cache(maxsize=1)
def _look() -> str:
    """The rules for rings of the screens' own sheets, with the colours filled in: a picture reaches no sheet beside it."""
    sheets = settings.BASE_DIR / "static" / "css"
    light = (sheets / "tokens.css").read_text(encoding="utf-8").partition("\n}")[0]
    tokens = dict(_TOKEN.findall(light))
    rules = _RULE.findall((sheets / "drawings.css").read_text(encoding="utf-8"))
    return re.sub(r"var\((--[\w-]+)\)", lambda found: tokens[found[1]], "".join(rules))
