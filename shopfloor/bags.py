"""Bags on screen, the same at a tablet and in the office: what a form says, and what is done with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict
from django.utils.translation import gettext as _

from quality.bags import BagOfDrum, BagStand, bags_of, must_be_counted
from quality.errors import QualityError
from quality.kitting import count_bag, fill_bag, open_bag, weigh_bag
from quality.models import Person
from routing.history import Stamp
from routing.models import Shell

MOST_PIECES = 100_000
# How each state is shown: the marks of the chips that steps have, too.
_CHIPS = {
    BagStand.TO_FILL: "pending",
    BagStand.TO_CHECK: "in_work",
    BagStand.CHECKED: "done",
    BagStand.STALE: "on_hold",
}


@dataclass(frozen=True, slots=True)
class LineOnPage:
    """One line of a bag's list with what a refused form held."""

    place: int
    name: str
    quantity: int
    spare: int
    counted: str
    back: str

    @property
    def most_back(self) -> int:
        return self.quantity + self.spare


@dataclass(frozen=True, slots=True)
class BagOnPage:
    bag: BagOfDrum
    lines: tuple[LineOnPage, ...]
    inside: tuple[LineOnPage, ...]  # what went in, which may follow an older list
    chip: str
    is_open: bool  # unfolded
    why_count: str  # why it can't be weighed; empty when it can
    refused: bool


def bags_on_page(shell: Shell, form: QueryDict | None = None) -> list[BagOnPage]:
    """The bags of a drum. The first that waits is unfolded; after a refusal the one that was meant."""
    bags = bags_of(shell)
    asked = form.get("bag") if form is not None else None
    waiting = next((each.name for each in bags if each.state != BagStand.CHECKED), None)
    return [
        BagOnPage(
            bag=each,
            lines=_lines([line.body for line in each.contents], form if each.name == asked else None),
            inside=_lines(each.bag.contents if each.bag else [], form if each.name == asked else None),
            chip=_CHIPS[each.state],
            is_open=each.name == (waiting if asked is None else asked),
            why_count="" if each.may_weigh else must_be_counted(each),
            refused=each.name == asked,
        )
        for each in bags
    ]


def act_on_bag(form: QueryDict, *, shell: Shell, person: Person, stamp: Stamp) -> str:
    """Do what a form of the page asks for; says what was done. Raises what the actions raise."""
    name = form.get("bag")
    each = next((each for each in bags_of(shell) if each.name == name), None)
    if name is None or each is None:
        raise QualityError("no_such_bag", _("Say which bag; open the list of this drum again."))
    seen = form.get("seen")
    match form.get("do", ""):
        case "fill":
            fill_bag(serial=shell.serial, name=name, seen=seen, person=person, stamp=stamp)
            return _("{bag} is filled by {name}. Now check it.").format(bag=each.in_words, name=person.name)
        case "count":
            count_bag(
                serial=shell.serial,
                name=name,
                counts=_counted(form, [line.name for line in each.contents]),
                seen=seen,
                person=person,
                stamp=stamp,
            )
            return _("{bag} is counted by {name}: nothing is missing.").format(bag=each.in_words, name=person.name)
        case "weigh":
            weigh_bag(serial=shell.serial, name=name, weight_g=_weight(form), seen=seen, person=person, stamp=stamp)
            return _("{bag} is weighed by {name}: nothing is missing.").format(bag=each.in_words, name=person.name)
        case "open":
            inside = [line["name"] for line in each.bag.contents] if each.bag else []
            open_bag(
                serial=shell.serial,
                name=name,
                reason=form.get("reason", ""),
                back=dict(enumerate(_back(form, inside))),
                seen=seen,
                person=person,
                stamp=stamp,
            )
            return _("{bag} is opened again; fill it anew.").format(bag=each.in_words)
        case _:
            raise QualityError("nothing_said", _("Say whether the bag is filled, counted, weighed or opened again."))


def whole_number(words: str) -> int | None:
    clean = words.strip()
    return int(clean) if clean.isdecimal() and clean.isascii() and len(clean) < 8 else None


def _counted(form: QueryDict, names: Sequence[str]) -> list[int]:
    return _numbers(form, "count", names, _("{name}: enter how many counted, a whole number from 0 on."))


def _back(form: QueryDict, names: Sequence[str]) -> list[int]:
    return _numbers(form, "back", names, _("{name}: enter how many go back to the shelf, a whole number from 0 on."))


def _numbers(form: QueryDict, field: str, names: Sequence[str], sentence: str) -> list[int]:
    found = []
    for place, name in enumerate(names):
        number = whole_number(form.get(f"{field}-{place}", ""))
        if number is None or number > MOST_PIECES:
            raise QualityError("count_missing", sentence.format(name=name))
        found.append(number)
    return found


def _weight(form: QueryDict) -> float:
    words = form.get("weight", "").strip().replace(",", ".")
    try:
        weight = float(words)
    except ValueError:
        weight = math.nan  # refused by the action, with a sentence
    return weight


def _lines(contents: Sequence[dict[str, Any]], form: QueryDict | None) -> tuple[LineOnPage, ...]:
    def typed(field: str) -> str:
        return form.get(field, "") if form is not None else ""

    return tuple(
        LineOnPage(
            place,
            line["name"],
            line["quantity"],
            line["spare"],
            typed(f"count-{place}"),
            typed(f"back-{place}") or str(line["quantity"] + line["spare"]),
        )
        for place, line in enumerate(contents)
    )
