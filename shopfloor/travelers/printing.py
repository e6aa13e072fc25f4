"""Printing travelers, as far as the web worker does it: the record, what is asked for, and whether it is made yet."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.utils.translation import gettext as _

from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import PaperSize, Shell, ShellState, Shop, TravelerPrint
from routing.traveler_prints import note_print
from shopfloor import paper_queue
from shopfloor.paper_check import require_libraries
from shopfloor.paper_queue import RANK_AHEAD, RANK_PART, RANK_PRINT, Ask
from shopfloor.travelers import kept
from shopfloor.travelers.facts import ShellFacts, read

MOST_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Progress:
    made: int
    of: int


def paper_size(asked: str) -> str:
    """The paper asked for, else the shop's. Raises NotAllowedNow for one that no printer here has."""
    if not asked:
        return Shop.current().paper_size
    for size in PaperSize.values:
        if asked.lower() == size.lower():
            return str(size)
    refused = _("There is no paper “{paper}”; choose A4 or Letter.").format(paper=asked[:20])
    raise NotAllowedNow("no_such_paper", refused)


def print_travelers(
    serials: Iterable[str], *, name: str, paper: str, base_url: str, stamp: Stamp
) -> tuple[TravelerPrint, bool]:
    """Note the print on every shell's record; the print, and True. The same tap again finds it again, and False.

    From the second print on, paper says which copy it is. Serials that are no shell here are left out. Raises
    NotAllowedNow for none or too many, PaperError when this machine can't print; nothing is on record then.
    """
    known = list(Shell.objects.filter(serial__in=set(serials)).order_by("pk").values_list("serial", flat=True))
    if not known:
        raise NotAllowedNow("nothing_to_print", _("Choose at least one shell to print."))
    if len(known) > MOST_AT_ONCE:
        many = _("These are {travelers} travelers; print at most {most} at once, kit by kit.")
        raise NotAllowedNow("too_many", many.format(travelers=len(known), most=MOST_AT_ONCE))
    require_libraries()
    return note_print(serials=known, name=name, paper=paper, base_url=base_url, stamp=stamp)


def name_of(asked: TravelerPrint) -> str:
    """Of its file. Not the number alone: a database that was put back may give a number again."""
    return f"print-{asked.pk}-{_name(asked.printed_at.isoformat(), asked.copies, asked.base_url)}"


def file_of(asked: TravelerPrint) -> Path | None:
    """The file of a print; None while it is not made."""
    path = kept.print_path(name_of(asked))
    return path if path.exists() else None


def ask_for_print(asked: TravelerPrint) -> Progress:
    """See that a print is being made; how many of its travelers are. Asked again, it goes on where it was."""
    ask = Ask(RANK_PRINT, name_of(asked), {"do": "print", "print": asked.pk})
    facts = read(asked.copies, base_url=asked.base_url)
    missing = _missing(facts, asked.paper)
    if not paper_queue.is_asked(ask):
        _ask_for_sheaves(RANK_PART, missing, asked.paper, asked.base_url)
        paper_queue.put(ask)
    paper_queue.wake()
    return Progress(len(facts) - len(missing), len(facts))


def ask_ahead(order: str, *, base_url: str) -> Progress:
    """See that an order's travelers are made before somebody wants them, on the shop's paper; how many are.

    Only of shells on which nothing was done yet: the paper of others would be old before it is wanted.
    """
    paper = Shop.current().paper_size
    not_begun = Shell.objects.filter(order__number=order, state=ShellState.PLANNED)
    facts = read(not_begun.values_list("serial", flat=True), base_url=base_url)
    missing = _missing(facts, paper)
    _ask_for_sheaves(RANK_AHEAD, missing, paper, base_url)
    paper_queue.wake()
    return Progress(len(facts) - len(missing), len(facts))


def ask_for_preview(serial: str, *, paper: str, base_url: str, by: str, now: datetime) -> tuple[str, Path | None]:
    """What a print would look like, marked as a preview and not on record: its name, and its file when it is made."""
    require_libraries()
    (facts,) = read([serial], base_url=base_url)
    name = f"preview-{_name(facts.key(paper), by)}"
    path = kept.print_path(name)
    if path.exists():
        return name, path
    wanted = {"do": "preview", "serial": serial, "paper": paper, "base_url": base_url, "by": by, "at": now.isoformat()}
    paper_queue.put(Ask(RANK_PART, name, wanted))
    paper_queue.wake()
    return name, path if path.exists() else None


def _missing(facts: Sequence[ShellFacts], paper: str) -> list[str]:
    return [each.head.serial for each in facts if not kept.find(each.head.serial, each.key(paper))]


def _ask_for_sheaves(rank: int, serials: Sequence[str], paper: str, base_url: str) -> None:
    chunks = [serials[start : start + kept.AT_ONCE] for start in range(0, len(serials), kept.AT_ONCE)]
    # Neighbours often have the same body: let them not be made at the same time, when one would wait for the other.
    for chunk in chunks[::2] + chunks[1::2]:
        wanted = {"do": "sheaf", "serials": chunk, "paper": paper, "base_url": base_url}
        paper_queue.put(Ask(rank, f"sheaf-{_name(wanted)}", wanted))


def _name(*parts: object) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:24]
