"""Travelers as PDF: one document for each shell, joined, with each print on the shell's record."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import datetime

from pypdf import PdfWriter

from routing.actions import note_prints
from routing.errors import NotAllowedNow
from routing.history import Stamp
from routing.models import PaperSize, RecordKind, Shell, Shop
from shopfloor.paper import pdf_from_template
from shopfloor.travelers.sheet import traveler_of

MOST_AT_ONCE = 200


def paper_size(asked: str) -> str:
    """The paper asked for, else the shop's. Raises NotAllowedNow for one that no printer here has."""
    if not asked:
        return Shop.current().paper_size
    for size in PaperSize.values:
        if asked.lower() == size.lower():
            return str(size)
    raise NotAllowedNow("no_such_paper", f"There is no paper “{asked[:20]}”; choose A4 or Letter.")


def with_everything(shells: Iterable[str]) -> list[Shell]:
    """The shells of these serials, in the order they were released, with what a traveler reads."""
    return list(
        Shell.objects.filter(serial__in=list(shells))
        .select_related("order", "line", "model__line", "finish")
        .order_by("pk")
    )


def print_travelers(shells: Sequence[Shell], *, paper: str, base_url: str, stamp: Stamp) -> bytes:
    """Note the print on every shell's record, then make the PDF. A second print of a revision says which copy it is."""
    if not shells:
        raise NotAllowedNow("nothing_to_print", "Choose at least one shell to print.")
    if len(shells) > MOST_AT_ONCE:
        raise NotAllowedNow("too_many", f"Print at most {MOST_AT_ONCE} travelers at once.")
    copies = note_prints(
        serials=[shell.serial for shell in shells], what=RecordKind.PRINTED, body={"paper": paper}, stamp=stamp
    )
    pages = [
        traveler_pdf(
            shell,
            paper=paper,
            base_url=base_url,
            now=stamp.received_at,
            mark=f"copy {copies[shell.serial]}" if copies[shell.serial] > 1 else "",
        )
        for shell in shells
    ]
    return joined(pages)


def traveler_pdf(shell: Shell, *, paper: str, base_url: str, now: datetime, mark: str = "") -> bytes:
    traveler = traveler_of(shell, base_url=base_url, now=now, mark=mark)
    context = {"traveler": traveler, "shop": Shop.current(), "paper": paper, "printed_at": now}
    return pdf_from_template("travelers/traveler.html", context, css="traveler.css")


def joined(documents: Sequence[bytes]) -> bytes:
    """Several PDFs as one."""
    if len(documents) == 1:
        return documents[0]
    writer = PdfWriter()
    for document in documents:
        writer.append(io.BytesIO(document))
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
