"""The card in the carton: what the drum is, and who signed the final check."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from quality.actions import print_card
from quality.models import Person, SignOff
from routing.history import Stamp
from routing.languages import spoken_in
from routing.models import Operation, OperationState, Shell, Shop
from shopfloor.paper import pdf_from_template, picture, require_printing
from shopfloor.qr import card_address, qr_svg
from shopfloor.rings import States, ring_picture


@dataclass(frozen=True, slots=True)
class Card:
    serial: str
    size: str
    diameter: str
    role: str
    line: str
    finish: str
    checker: str
    checked_at: datetime
    signed_steps: int
    ring: States


def card_of(shell: Shell, final: SignOff) -> Card:
    """``shell`` should come with model, line and finish selected, ``final`` with person and operation."""
    # The ring ends with the final check: what comes after it belongs to the carton, not to the drum.
    steps = Operation.objects.filter(
        shell=shell, position__lte=final.operation.position, state=OperationState.DONE
    ).order_by("position")
    ring = tuple((str(step.state), step.title) for step in steps)
    return Card(
        serial=shell.serial,
        size=shell.model.size,
        diameter=f"{shell.model.nominal_diameter_in:g}″",
        role=shell.model.get_role_display(),
        line=shell.model.line.name,
        finish=shell.finish.name,
        checker=final.record.person_name,
        checked_at=timezone.localtime(final.at),
        signed_steps=len(ring),
        ring=ring,
    )


def print_card_pdf(*, shell: Shell, person: Person, base_url: str, stamp: Stamp) -> bytes:
    """Note the print on the drum's record, then make the card. Refused before the final check; see ``print_card``.

    Raises PaperError when this machine can't print; nothing is on record then.
    """
    require_printing()
    # To print twice is no mistake, so a print carries no key that would make the second one the first.
    final, copy = print_card(serial=shell.serial, person=person, stamp=replace(stamp, tap_key=None))
    card, shop = card_of(shell, final), Shop.current()
    context = {
        "shop": shop,
        "card": card,
        "copy": copy,
        "ring": ring_picture(card.ring),
        "qr": picture(qr_svg(card_address(shell.serial, base_url))),
    }
    with spoken_in(shop.language):
        return pdf_from_template("card/card.html", context, css="card.css")
