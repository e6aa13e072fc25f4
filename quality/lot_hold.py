"""A bad lot or glue batch: hold every shell it is in, at once, and release those shells again when it proves good.

The lot is closed first, in a transaction of its own: from then on no step can be signed with it and no glue mixed from
it, so the list of its shells can't grow behind our back, and signing, which locks the shell before the lot, never waits
in a circle with us. Then all its shells are held in one transaction: a list that is half done looks done. Should
that fail, the lot stays on hold, which is the safe side, and the same tap again does the rest.

Whoever may mark lots may hold their shells, for stopping is the safe direction. Releasing them is for a supervisor.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.lots import set_lot_state
from quality.made_here import lots_with
from quality.models import (
    GlueBatch,
    HeldShell,
    HoldOutcome,
    LotHold,
    LotState,
    MaterialLot,
    MaterialUse,
    Person,
    Problem,
    ProblemState,
)
from quality.problems import settle_problem
from quality.recall import state_words
from quality.rights import Right, require_right
from routing.errors import LostRace
from routing.history import Stamp, add_record, lock_shells
from routing.holds import hold_shell
from routing.models import OperationState, RecordKind, Shell, ShellRecord, ShellState
from routing.turnstile import writing

_IN_HAND = (OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD)
_NO_MORE = (ShellState.SCRAPPED, ShellState.REMADE)


def hold_lot(*, lot: MaterialLot, reason: str, person: Person, stamp: Stamp) -> LotHold:
    """Put a lot on hold and every shell it is in, directly or through glue; batches mixed from it are closed too.

    Again for a lot that is on hold already: takes the shells that were entered since, and no others.
    """
    _require(person, Right.MANAGE_MATERIALS, reason)
    if (earlier := _earlier(stamp, lot=lot)) is not None:
        return earlier
    if MaterialLot.objects.get(pk=lot.pk).state != LotState.HELD:
        set_lot_state(lot=lot, state=LotState.HELD, reason=reason, person=person, stamp=stamp)
    with writing():
        _close(GlueBatch.objects.filter(parts__lot=lot), stamp)
    change = lot.changes.filter(state=LotState.HELD).last()
    if change is None:  # held before the shop kept who marked a lot and why
        raise QualityError(
            "no_change",
            _("{lot} is on hold without a reason; free it with a reason, then hold it again.").format(lot=lot),
        )
    inside = lots_with(lot)
    _hold_made_lots(inside, lot, person, stamp)
    uses = Q(lot__in=[lot.pk, *inside]) | Q(glue_batch__in=lot.in_batches.values("batch"))
    hold = LotHold(lot=lot, change=change)
    return _hold_shells(hold, uses, Q(hold__change=change), reason, person, stamp)


def _close(batches: QuerySet[GlueBatch], stamp: Stamp) -> None:
    """Nobody spreads the rest of these mixes."""
    batches.filter(is_empty=False).update(is_empty=True, emptied_at=stamp.at, emptied_by_name=stamp.person_name)


def _hold_made_lots(inside: Sequence[int], bad: MaterialLot, person: Person, stamp: Stamp) -> None:
    """Lots made here that the bad one is in are closed too, so that no further drum gets them."""
    with writing():
        for made in MaterialLot.objects.select_for_update(of=("self",)).filter(pk__in=inside).order_by("pk"):
            if made.state not in (LotState.HELD, LotState.EMPTY):
                set_lot_state(
                    lot=made,
                    state=LotState.HELD,
                    reason=f"contains {bad.code}, which is on hold",
                    person=person,
                    stamp=replace(stamp, tap_key=None),
                )


def hold_glue_batch(*, batch: GlueBatch, reason: str, person: Person, stamp: Stamp) -> LotHold:
    """Hold every shell that was glued with a batch. The batch is marked used up: nobody can sign with it any more."""
    _require(person, Right.MANAGE_MATERIALS, reason)
    if (earlier := _earlier(stamp, batch=batch)) is not None:
        return earlier
    with writing():
        _close(GlueBatch.objects.filter(pk=batch.pk), stamp)
    hold = LotHold(glue_batch=batch)
    return _hold_shells(hold, Q(glue_batch=batch), Q(hold__glue_batch=batch), reason, person, stamp)


def _hold_shells(hold: LotHold, uses: Q, listed: Q, reason: str, person: Person, stamp: Stamp) -> LotHold:
    with writing():
        serials = (
            MaterialUse.objects.filter(uses)
            .exclude(sign_off__operation__shell__in=HeldShell.objects.filter(listed).values("shell"))
            .values_list("sign_off__operation__shell__serial", flat=True)
        )
        shells = lock_shells(list(serials))
        _lock_subject(hold)
        # Two people at once: the second waited for these locks, and finds what the first did.
        if (earlier := _earlier(stamp, lot=hold.lot, batch=hold.glue_batch)) is not None:
            return earlier
        done = set(HeldShell.objects.filter(listed).values_list("shell", flat=True))
        shells = [shell for shell in shells if shell.pk not in done]
        if not shells and LotHold.objects.filter(glue_batch=hold.glue_batch, change=hold.change).exists():
            said = _("Every shell with {what} is listed already; nothing was changed.")
            raise LostRace("held_already", said.format(what=held_words(hold)))
        hold.reason = reason.strip()[:200]
        hold.at, hold.person, hold.person_name, hold.tap_key = stamp.at, person, person.name, stamp.tap_key
        hold.save()
        for shell in shells:
            _hold_one(hold, shell, person, replace(stamp, tap_key=None))
    return hold


def _lock_subject(hold: LotHold) -> None:
    """After the shells, as signing does it."""
    if hold.glue_batch is not None:
        GlueBatch.objects.select_for_update().get(pk=hold.glue_batch.pk)
    if hold.lot is not None and MaterialLot.objects.select_for_update().get(pk=hold.lot.pk).state != LotState.HELD:
        said = _("Somebody freed {lot} meanwhile; look at its page again.")
        raise LostRace("freed_meanwhile", said.format(lot=hold.lot))


def _hold_one(hold: LotHold, shell: Shell, person: Person, stamp: Stamp) -> HeldShell:
    """What a hold does with one locked shell."""
    told = HeldShell(hold=hold, shell=shell, state_then=state_words(shell))
    said = f"{hold.named[:1].upper()}{hold.named[1:]} is on hold: {hold.reason}"[:300]
    operation = shell.operations.filter(state__in=_IN_HAND).order_by("position").first()
    body = {"text": said, "hold": hold.pk, **({"lot": hold.lot.code} if hold.lot else {})}
    if hold.glue_batch:
        body["glue_batch"] = hold.glue_batch.code
    if shell.state == ShellState.PACKED:
        told.outcome = HoldOutcome.LEFT
    elif shell.state in _NO_MORE:
        told.outcome = HoldOutcome.SCRAPPED
    elif operation is None:
        told.outcome = HoldOutcome.STUCK
    elif shell.state == ShellState.ON_HOLD:
        told.outcome = HoldOutcome.ADDED
        problem = Problem.objects.filter(shell=shell, state=ProblemState.OPEN).first()
        if problem is not None:
            problem.text = f"{problem.text}; {said}"[:300]  # its record has the whole of it
            problem.save(update_fields=["text"])
            told.problem = problem
        body["problem"] = problem.pk if problem else None
        told.record = add_record(shell, RecordKind.FOUND, stamp, operation=operation, body=body)
    else:
        told.outcome = HoldOutcome.HELD
        told.problem = Problem.objects.create(
            shell=shell, operation=operation, text=said, found_by=person, found_at=stamp.at
        )
        body |= {"problem": told.problem.pk, "found_at_step": operation.title, "defect": None}
        told.record = hold_shell(shell, stamp, body)
    told.save(force_insert=True)
    return told


@dataclass(frozen=True, slots=True)
class Released:
    """What a bulk release did: these go on, those stay on hold for something else."""

    released: tuple[str, ...]
    still_held: tuple[str, ...]


def release_shells(*, hold: LotHold, settlement: str, person: Person, stamp: Stamp) -> Released:
    """Settle, with one sentence, the problem of every shell that is held for this lot or batch and for nothing else."""
    _require(person, Right.SETTLE_PROBLEM, settlement)
    with writing():
        rows = list(held_shells(hold).select_related("shell"))
        lock_shells([row.shell.serial for row in rows])
        serials = {row.shell.serial for row in rows}
        keys = {serial: _key(stamp, serial) for serial in serials} if stamp.tap_key else {}
        before = ShellRecord.objects.filter(tap_key__in=keys.values(), kind=RecordKind.RESUMED)
        released = set(before.values_list("shell__serial", flat=True))
        if not released:
            released = {row.shell.serial for row in only_for(hold)}
            if not released:
                said = _("No shell is held for {what} alone any more; settle the others one by one.")
                raise LostRace("nothing_held", said.format(what=held_words(hold)))
            for serial in sorted(released):
                settle_problem(
                    serial=serial,
                    person=person,
                    settlement=settlement,
                    stamp=replace(stamp, tap_key=keys.get(serial)),
                )
        still = Shell.objects.filter(serial__in=serials - released, state=ShellState.ON_HOLD)
        return Released(tuple(sorted(released)), tuple(still.values_list("serial", flat=True)))


def held_words(hold: LotHold) -> str:
    """What is held, within a sentence, in the language that is spoken; the record has ``hold.named``."""
    if hold.lot is not None:
        return _("lot {lot}").format(lot=hold.lot)
    return _("glue batch {batch}").format(batch=hold.glue_batch)


def held_shells(hold: LotHold) -> QuerySet[HeldShell]:
    """Everything that was listed for the lot or batch of a hold, by this tap or another."""
    same = Q(hold__lot=hold.lot) if hold.lot_id else Q(hold__glue_batch=hold.glue_batch)
    return HeldShell.objects.filter(same)


def only_for(hold: LotHold) -> list[HeldShell]:
    """The shells that are on hold now because of this lot or batch and nothing else."""
    mine = held_shells(hold)
    others = HeldShell.objects.filter(outcome=HoldOutcome.ADDED, problem__state=ProblemState.OPEN).exclude(
        pk__in=mine.values("pk")
    )
    return list(
        mine.filter(outcome=HoldOutcome.HELD, problem__state=ProblemState.OPEN)
        .exclude(problem__in=others.values("problem"))
        .select_related("shell", "problem")
        .order_by("shell__serial")
    )


def rows_of(hold: LotHold) -> Sequence[HeldShell]:
    """The list of one hold as it is shown and exported: what left the shop first, for that is to be called back."""
    order = {outcome.value: place for place, outcome in enumerate((HoldOutcome.LEFT, HoldOutcome.STUCK))}
    rows = hold.shells.select_related("shell__order", "shell__model__line", "shell__finish", "problem")
    return sorted(rows, key=lambda row: (order.get(row.outcome, len(order)), row.outcome, row.shell.serial))


def _earlier(stamp: Stamp, *, lot: MaterialLot | None = None, batch: GlueBatch | None = None) -> LotHold | None:
    if stamp.tap_key is None:
        return None
    earlier = LotHold.objects.filter(tap_key=stamp.tap_key).first()
    if earlier is not None and (earlier.lot, earlier.glue_batch) != (lot, batch):
        raise LostRace("key_used", _("This form was sent already; open the page again."))
    return earlier


def _key(stamp: Stamp, serial: str) -> str:
    """One tap, a key for each shell: the same tap again makes the same keys."""
    return hashlib.sha256(f"{stamp.tap_key} {serial}".encode()).hexdigest()


def _require(person: Person, right: Right, said: str) -> None:
    require_right(person, right)
    if not said.strip():
        raise QualityError("nothing_said", _("Say why in one sentence; it stays on the record of every shell."))
