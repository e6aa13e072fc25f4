"""Printing travelers: the only writer of TravelerPrint, together with the record of each shell."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from routing.actions import note_prints
from routing.history import Stamp, lock_shells
from routing.models import RecordKind, TravelerPrint
from routing.turnstile import writing

FORGOTTEN = timedelta(days=30)  # a tap that comes twice does so sooner


def note_print(
    *, serials: Sequence[str], name: str, paper: str, base_url: str, stamp: Stamp
) -> tuple[TravelerPrint, bool]:
    """Note on every shell's record that its traveler is printed; the print, and True.

    The same key for the same shells on the same paper finds that print again, and False: nothing more is on record.
    """
    tap_key = _key(stamp.tap_key, paper, serials)
    with writing():
        lock_shells(list(serials))  # a twin of this tap waits here
        if tap_key and (same := TravelerPrint.objects.filter(tap_key=tap_key).first()):
            return same, False
        # A key stands for one record, and a print writes one for each shell.
        copies = note_prints(
            serials=serials, what=RecordKind.PRINTED, body={"paper": paper}, stamp=replace(stamp, tap_key=None)
        )
        TravelerPrint.objects.filter(printed_at__lt=stamp.received_at - FORGOTTEN).delete()
        return (
            TravelerPrint.objects.create(
                tap_key=tap_key,
                name=name,
                paper=paper,
                base_url=base_url,
                copies=copies,
                printed_at=stamp.received_at,
                printed_by=stamp.person_name,
            ),
            True,
        )


def _key(tap_key: str | None, paper: str, serials: Sequence[str]) -> str | None:
    """One page may be sent with other shells ticked: that is another wish."""
    if tap_key is None:
        return None
    return hashlib.sha256(repr((tap_key, paper, sorted(serials))).encode()).hexdigest()
