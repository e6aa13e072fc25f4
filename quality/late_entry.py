"""Signatures that were given on paper while the tablets were down, entered later by a supervisor.

The signature is that of the person who signed, at the paper's time; who entered it and when stands beside it, in the
table and in the chain. Every rule of the floor holds as if it had been signed at the tablet then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from quality.actions import Signed, sign_off
from quality.errors import NotQualified, QualityError
from quality.models import Person, SignOff
from quality.rights import Right, require_right
from routing.actions import locked_operation, open_since
from routing.history import Stamp, lock_shell, recorded_tap
from routing.languages import moment
from routing.models import Operation, OperationState, RecordKind, Shell, ShellRecord
from routing.turnstile import writing

OLDEST = timedelta(days=60)
ON_PAPER = "paper"  # in place of a tablet
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Earliest:
    """From when a step can have been signed, and what was done then."""

    at: datetime
    why: str  # “… was released”, as the end of a sentence


def enter_late(
    *,
    serial: str,
    position: int,
    signed_by: Person,
    entered_by: Person,
    on_paper_at: datetime,
    answers: Mapping[str, str],
    materials: Mapping[str, str] | None = None,
    note: str = "",
    stamp: Stamp,
) -> Signed:
    """Enter what ``signed_by`` signed on paper at ``on_paper_at``. ``stamp`` says when and by which form it is entered.

    The step has to be the shell's next one, so that several are entered in their order; the next dwell counts from the
    paper's time. Raises what ``sign_off`` raises, and QualityError for a time that can't be.
    """
    require_right(entered_by, Right.ENTER_LATE)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.SIGNED):
            return Signed(SignOff.objects.get(record=earlier), repeated=True)
        operation = locked_operation(shell, position)
        at = on_paper_at
        if operation.state in (OperationState.READY, OperationState.IN_WORK):  # else sign_off says why not
            at = _possible(shell, operation, on_paper_at, stamp.received_at)
            if not signed_by.is_active:
                words = _("{name} no longer works here; tick “works here” again to enter what they signed.")
                raise NotQualified("left", words.format(name=signed_by.name))
            open_since(operation, at)
        return sign_off(
            serial=serial,
            position=position,
            person=signed_by,
            answers=answers,
            materials=materials,
            note=note,
            entered_by=entered_by,
            stamp=replace(stamp, person_id=signed_by.pk, person_name=signed_by.name, at=at, device=ON_PAPER),
        )


def late_entries(shell: Shell) -> QuerySet[SignOff]:
    """The standing signatures of a shell that were entered from paper, in the order of its route."""
    return (
        SignOff.objects.standing()
        .filter(operation__shell=shell, entered_by__isnull=False)
        .select_related("operation", "person", "entered_by", "record")
        .order_by("operation__position")
    )


def earliest_on_paper(shell: Shell, operation: Operation) -> Earliest:
    """Before which moment nobody can have signed the shell's next step: release, step before, its dwell, or a start."""
    known = [Earliest(shell.released_at, _("{serial} was released").format(serial=shell.serial))]
    before = shell.operations.filter(position__lt=operation.position, state=OperationState.DONE).last()
    if before is not None and before.done_at is not None:
        known.append(Earliest(before.done_at, _("{step} was signed").format(step=before.title)))
    if operation.not_before is not None and before is not None:
        ended = _("the {waiting} after {step} ended").format(waiting=_(before.dwell_word), step=before.title)
        known.append(Earliest(operation.not_before, ended))
    sent_back = _decisions(shell).exclude(kind=RecordKind.RESUMED).order_by("sequence").last()
    if sent_back is not None:  # what was signed before that is void, on paper as on a tablet
        again = sent_back.kind == RecordKind.REWORK
        what = _("{serial} was sent back for rework") if again else _("{serial} was regraded")
        known.append(Earliest(sent_back.received_at, what.format(serial=shell.serial)))
    if operation.started_at is not None:
        known.append(
            Earliest(operation.started_at, _("{name} began at the tablet").format(name=operation.started_by_name))
        )
    if operation.paused_at is not None:
        known.append(
            Earliest(operation.paused_at, _("{name} paused at the tablet").format(name=operation.started_by_name))
        )
    return max(known, key=lambda each: each.at)


def _possible(shell: Shell, operation: Operation, on_paper_at: datetime, now: datetime) -> datetime:
    """The moment that a time on paper stands for; QualityError when it can't be.

    Paper knows no seconds: what became possible within the minute that stands there was possible.
    """
    if on_paper_at > now:
        words = _("{time} is still to come; enter the time that stands on paper.")
        raise QualityError("in_future", words.format(time=moment(on_paper_at)))
    if now - on_paper_at > OLDEST:
        words = _("{time} is more than {days} days ago; that is too late to enter.")
        raise QualityError("too_old", words.format(time=moment(on_paper_at), days=OLDEST.days))
    earliest = earliest_on_paper(shell, operation)
    at = max(on_paper_at, earliest.at) if earliest.at < on_paper_at + _MINUTE else on_paper_at
    if at < earliest.at or at > now:
        words = _("{step} can't have been signed at {time}: only at {first} {what_happened}. Look at the paper again.")
        raise QualityError(
            "too_early",
            words.format(
                step=operation.title, time=moment(on_paper_at), first=moment(earliest.at), what_happened=earliest.why
            ),
        )
    for held_at, freed_at in _holds(shell):
        if held_at <= at < freed_at:
            words = _(
                "{serial} was on hold from {first} to {last}; nothing was to be signed then. Look at the paper again."
            )
            raise QualityError(
                "was_on_hold", words.format(serial=shell.serial, first=moment(held_at), last=moment(freed_at))
            )
    return at


def _holds(shell: Shell) -> list[tuple[datetime, datetime]]:
    """From when to when a shell was on hold, each time it was."""
    records = ShellRecord.objects.filter(shell=shell, kind=RecordKind.HELD) | _decisions(shell)
    holds: list[tuple[datetime, datetime]] = []
    since: datetime | None = None
    for record in records.order_by("sequence"):
        if record.kind == RecordKind.HELD:
            since = record.at
        elif since is not None:
            holds.append((since, record.received_at))
            since = None
    return holds


def _decisions(shell: Shell) -> QuerySet[ShellRecord]:
    """What ended a hold of a shell each time; a spec is issued again for other reasons, too."""
    ends = Q(kind__in=[RecordKind.RESUMED, RecordKind.REWORK]) | Q(kind=RecordKind.REISSUED, body__has_key="problem")
    return ShellRecord.objects.filter(ends, shell=shell)
