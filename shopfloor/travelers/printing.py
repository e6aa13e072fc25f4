"""Printing travelers: each print goes on the record of its shell, and a reprint says so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from routing.actions import note_prints
from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import PaperSize, RecordKind, Shell, Shop
from shopfloor.paper import require_printing
from shopfloor.travelers.pages import Imprint, Marked, travelers_pdf
from shopfloor.travelers.sheet import Traveler, travelers_of

MOST_AT_ONCE = 200


def paper_size(asked: str) -> str:
    """The paper asked for, else the shop's. Raises NotAllowedNow for one that no printer here has."""
    if not asked:
        return Shop.current().paper_size
    for size in PaperSize.values:
        if asked.lower() == size.lower():
            return str(size)
    raise NotAllowedNow("no_such_paper", f"There is no paper “{asked[:20]}”; choose A4 or Letter.")


def print_travelers(serials: Iterable[str], *, paper: str, base_url: str, stamp: Stamp) -> bytes:
    """Note the print on every shell's record, then make the PDF. From the second print on, paper says which copy it is.

    Serials that are no shell here are left out. Raises NotAllowedNow for none or too many, PaperError when this machine
    can't print; nothing is on record then.
    """
    known = list(Shell.objects.filter(serial__in=set(serials)).order_by("pk").values_list("serial", flat=True))
    if not known:
        raise NotAllowedNow("nothing_to_print", "Choose at least one shell to print.")
    if len(known) > MOST_AT_ONCE:
        raise NotAllowedNow(
            "too_many", f"These are {len(known)} travelers; print at most {MOST_AT_ONCE} at once, kit by kit."
        )
    require_printing()
    copies = note_prints(
        serials=known,
        what=RecordKind.PRINTED,
        body={"paper": paper},
        # A key stands for one record; a print may write many, and to print twice is no mistake: it says copy 2.
        stamp=replace(stamp, tap_key=None),
    )
    sheets = [
        _marked(traveler, copies[traveler.head.serial])
        for traveler in travelers_of(_with_everything(known), base_url=base_url, now=stamp.received_at)
    ]
    return travelers_pdf(sheets, Imprint(Shop.current().name, paper, stamp.received_at, stamp.person_name))


def preview_traveler(serial: str, *, paper: str, base_url: str, stamp: Stamp) -> bytes:
    """What a print would look like; marked as a preview, and not on record."""
    (traveler,) = travelers_of(_with_everything([serial]), base_url=base_url, now=stamp.received_at)
    sheet = Marked(traveler, "PREVIEW", "Not on record and not for the floor.")
    return travelers_pdf([sheet], Imprint(Shop.current().name, paper, stamp.received_at, stamp.person_name))


def _marked(traveler: Traveler, copy: int) -> Marked:
    if copy == 1:
        return Marked(traveler)
    return Marked(traveler, f"COPY {copy}", "Take older paper off this shell.")


def _with_everything(serials: Sequence[str]) -> list[Shell]:
    """The shells in the order they were released, with what a traveler reads."""
    return list(
        Shell.objects.filter(serial__in=serials).select_related("order", "line", "model__line", "finish").order_by("pk")
    )
