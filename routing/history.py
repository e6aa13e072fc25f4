"""Adding to a shell's chain of records, and proving that nobody changed it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from routing.errors import LostRace
from routing.models import Operation, RecordKind, Shell, ShellRecord
from routing.prepared import Prepared, insert, update

LONGEST_KEPT = timedelta(days=7)  # on a tablet without a link: no tap is older when it arrives


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who did something, where and when. Made once, where the request or command comes in.

    ``at`` is the time of the tap by the clock of the device, ``received_at`` that of the server. ``tap_key`` comes
    with the page, or from the tablet for a page that it kept; the same key twice is the same tap.
    """

    person_id: int | None
    person_name: str
    at: datetime
    received_at: datetime
    device: str = ""
    tap_key: str | None = None

    @property
    def worked_at(self) -> datetime:
        """When the work was done, for the rules: a tablet whose clock is fast ends no dwell early."""
        return min(self.at, self.received_at)


def content_hash(content: Any) -> str:
    """SHA-256 over JSON content as a database gives it back: names in order, every number as a float."""
    plain = json.loads(json.dumps(content, allow_nan=False), parse_int=float)
    canonical = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(canonical.encode()).hexdigest()


def spec_body(inputs: Any, results: Any, model_id: int, finish_id: int) -> dict[str, Any]:
    """What the record of a release or a re-issue says of the frozen spec, so that no spec is changed unseen."""
    return {"spec_sha256": content_hash([inputs, results]), "drum_of": [model_id, finish_id]}


_LOCKED_SHELL = Prepared(
    lambda serial: (
        Shell.objects.select_for_update(of=("self",)).select_related("model", "finish").filter(serial=serial).order_by()
    )
)
_RECORD_OF_TAP = Prepared(lambda tap_key: ShellRecord.objects.filter(tap_key=tap_key).order_by())


def lock_shell(serial: str) -> Shell:
    """The shell, read again and locked for the rest of the transaction. Raises Shell.DoesNotExist."""
    shell = _LOCKED_SHELL.first(serial=serial)
    if shell is None:
        raise Shell.DoesNotExist(f"No shell has the serial number {serial}.")
    return shell


def lock_shells(shells: list[str]) -> list[Shell]:
    """Several shells, locked in one order so that two racks can't wait for each other."""
    return list(Shell.objects.select_for_update(of=("self",)).filter(serial__in=shells).order_by("pk"))


def add_record(
    shell: Shell,
    kind: RecordKind,
    stamp: Stamp,
    *,
    operation: Operation | None = None,
    body: dict[str, Any] | None = None,
) -> ShellRecord:
    """Append one record to a locked shell's chain and move the chain's head."""
    record = ShellRecord(
        shell=shell,
        sequence=shell.chain_length + 1,
        kind=kind,
        operation=operation,
        at=stamp.at,
        received_at=stamp.received_at,
        person_id=stamp.person_id,
        person_name=stamp.person_name,
        device=stamp.device,
        tap_key=stamp.tap_key,
        # Through JSON and back, so that the hash is taken of what the database will give back.
        body=json.loads(json.dumps(body or {}, allow_nan=False)),
        previous_hash=shell.chain_head,
    )
    record.hash = record.computed_hash(shell.serial)
    insert([record])
    shell.chain_length = record.sequence
    shell.chain_head = record.hash
    update(shell, chain_length=shell.chain_length, chain_head=shell.chain_head)
    return record


def recorded_tap(tap_key: str | None, shell: Shell, kind: RecordKind) -> ShellRecord | None:
    """What an earlier arrival of the same tap wrote, if it arrived before. Ask under the shell's lock: a twin may be on its way.

    Raises LostRace when the key stands for something else.
    """
    if tap_key is None:
        return None
    earlier = _RECORD_OF_TAP.first(tap_key=tap_key)
    if earlier is not None and (earlier.shell_id, earlier.kind) != (shell.pk, kind):
        raise LostRace("key_used", _("This tap was used for something else already; open the step again."))
    return earlier


@dataclass(frozen=True, slots=True)
class BrokenRecord:
    serial: str
    sequence: int
    what: str


def broken_records(shell: Shell) -> Iterator[BrokenRecord]:
    """Everything that does not fit in one shell's chain, first things first; nothing when it is whole."""
    previous = ""
    sequence = 0
    for record in ShellRecord.objects.filter(shell=shell).order_by("sequence"):
        sequence += 1
        if record.sequence != sequence:
            yield BrokenRecord(shell.serial, sequence, f"record {sequence} is missing")
            sequence = record.sequence
        if record.previous_hash != previous:
            yield BrokenRecord(shell.serial, record.sequence, "it does not follow from the record before it")
        if record.computed_hash(shell.serial) != record.hash:
            yield BrokenRecord(shell.serial, record.sequence, "its content was changed after it was written")
        previous = record.hash
    if sequence != shell.chain_length or previous != shell.chain_head:
        yield BrokenRecord(shell.serial, sequence + 1, "records at the end of the chain are missing")
