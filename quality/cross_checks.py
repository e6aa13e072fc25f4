"""What stands in the tables beside a shell's chain, held against what the chain says."""

from __future__ import annotations

from collections.abc import Iterator

from quality.cross_checks_cartons import cartons
from quality.cross_checks_requests import requests
from quality.errors import QualityError
from quality.models import Bag, BagState, Disposition, Photo, Problem, ProblemState, SignOff, Withdrawal
from quality.photos import photo_bytes
from routing.history import BrokenRecord, content_hash
from routing.models import OperationState, RecordKind, Shell, ShellRecord, ShellSpec

_BAG_KINDS = [RecordKind.BAGGED, RecordKind.BAG_CHECK, RecordKind.UNBAGGED]
_SPEC_KINDS = [RecordKind.RELEASED, RecordKind.REISSUED]
_DECISION_KINDS = [RecordKind.RESUMED, RecordKind.REWORK, RecordKind.REISSUED, RecordKind.SCRAPPED]


def specs(shell: Shell) -> Iterator[BrokenRecord]:
    """Frozen specs that are not what was released, and a shell that says it is another drum."""
    kept = {spec.revision: spec for spec in ShellSpec.objects.filter(shell=shell)}
    newest: ShellRecord | None = None
    for record in ShellRecord.objects.filter(shell=shell, kind__in=_SPEC_KINDS).order_by("sequence"):
        newest = record
        spec = kept.pop(record.body["revision"], None)
        told = record.body.get("spec_sha256")
        if spec is None:
            yield BrokenRecord(shell.serial, record.sequence, "the spec it froze is missing")
        elif told and told != content_hash([spec.inputs, spec.results]):
            yield BrokenRecord(shell.serial, record.sequence, "the spec it froze was changed")
    for revision in kept:
        yield BrokenRecord(shell.serial, 0, f"revision {revision} of its spec has no record")
    if newest is None:
        yield BrokenRecord(shell.serial, 1, "its release is missing")
        return
    if newest.body["revision"] != shell.spec_revision:
        yield BrokenRecord(shell.serial, newest.sequence, f"the shell says its spec is revision {shell.spec_revision}")
    if newest.body.get("drum_of", [shell.model_id, shell.finish_id]) != [shell.model_id, shell.finish_id]:
        yield BrokenRecord(shell.serial, newest.sequence, "the shell says it is another drum")
    released = ShellRecord.objects.filter(shell=shell, kind=RecordKind.RELEASED).order_by("sequence").first()
    if released is not None and released.body["order"] != shell.order.number:
        yield BrokenRecord(shell.serial, released.sequence, "the shell says it is of another order")


def withdrawals(shell: Shell) -> Iterator[BrokenRecord]:
    """Signatures that were taken back without a record, or records whose withdrawal is missing or another."""
    kept = {
        withdrawal.record_id: withdrawal
        for withdrawal in Withdrawal.objects.filter(sign_off__operation__shell=shell).select_related("sign_off__record")
    }
    for record in ShellRecord.objects.filter(shell=shell, kind=RecordKind.WITHDRAWN).order_by("sequence"):
        withdrawal = kept.pop(record.pk, None)
        if withdrawal is None:
            yield BrokenRecord(shell.serial, record.sequence, "the withdrawal it tells of is missing")
        elif (withdrawal.sign_off.record.sequence, withdrawal.reason) != (
            record.body["withdraws_sequence"],
            record.body["reason"],
        ):
            yield BrokenRecord(shell.serial, record.sequence, "its withdrawal says something else than the record")
    for withdrawal in kept.values():
        yield BrokenRecord(shell.serial, 0, f"signature {withdrawal.sign_off_id} is taken back without a record")


def problems(shell: Shell) -> Iterator[BrokenRecord]:
    """Findings and decisions that say something else than their records."""
    found = {
        record.body.get("problem"): record
        for record in ShellRecord.objects.filter(shell=shell, kind=RecordKind.HELD).order_by("sequence")
    }
    decided = {
        record.body["problem"]: record
        for record in ShellRecord.objects.filter(shell=shell, kind__in=_DECISION_KINDS).order_by("sequence")
        if "problem" in record.body
    }
    for problem in Problem.objects.filter(shell=shell).select_related("defect").order_by("pk"):
        held = found.pop(problem.pk, None)
        if held is None:
            yield BrokenRecord(shell.serial, 0, f"problem {problem.pk} has no record")
            continue
        defect = problem.defect.code if problem.defect else None
        told = (held.person_id, held.at, held.body.get("defect"))
        if (
            told != (problem.found_by_id, problem.found_at, defect)
            or not _found_where(problem, held)
            or not problem.text.startswith(held.body["text"])
        ):
            yield BrokenRecord(shell.serial, held.sequence, "its problem says something else than the record")
        yield from _decision(problem, decided.get(problem.pk), shell, held)
    for held in found.values():
        yield BrokenRecord(shell.serial, held.sequence, "the problem it tells of is missing")


def _found_where(problem: Problem, held: ShellRecord) -> bool:
    """Whether a problem names the step at which its record says it was found.

    The shell is held at its open step; what is wrong may have been seen at one that somebody signed a moment before.
    """
    found_at: int | None = held.body.get("found_at_operation", held.operation_id)
    return problem.operation_id == found_at


def _decision(problem: Problem, record: ShellRecord | None, shell: Shell, held: ShellRecord) -> Iterator[BrokenRecord]:
    is_open = problem.state == ProblemState.OPEN
    if is_open or record is None:
        if is_open and record is not None:
            yield BrokenRecord(shell.serial, record.sequence, "the problem it settles is open")
        elif record is None and not is_open:
            yield BrokenRecord(shell.serial, held.sequence, "its problem is settled without a record")
        return
    decided_by = problem.settled_by_id if record.person_id is None else record.person_id
    told = (record.body.get("disposition", Disposition.RELEASED), record.body["settlement"], decided_by)
    kept = (problem.disposition, problem.settlement, problem.settled_by_id)
    if told != kept or record.body.get("allowed_by", "") != problem.allowed_by:
        yield BrokenRecord(shell.serial, record.sequence, "what was decided is not what the record says")


def steps(shell: Shell) -> Iterator[BrokenRecord]:
    """Steps that count as done without a standing signature, or the other way round."""
    standing = {
        signed.operation_id: signed
        for signed in SignOff.objects.standing().filter(operation__shell=shell).select_related("record")
    }
    for step in shell.operations.order_by("position"):
        signed = standing.pop(step.pk, None)
        if step.state == OperationState.DONE:
            if signed is None:
                yield BrokenRecord(shell.serial, 0, f"{step.title} counts as done, but nobody's signature stands")
            elif signed.attempt != step.attempt:
                yield BrokenRecord(shell.serial, signed.record.sequence, f"{step.title} was signed as another attempt")
        elif signed is not None and step.state != OperationState.SKIPPED:
            yield BrokenRecord(shell.serial, signed.record.sequence, f"{step.title} is signed, but counts as open")


def photos(shell: Shell) -> Iterator[BrokenRecord]:
    """Photos that the records name and that are missing or others, and photos that no record names."""
    named: dict[str, int] = {}
    for record in ShellRecord.objects.filter(shell=shell, body__has_key="photos").order_by("sequence"):
        named |= dict.fromkeys(record.body["photos"], record.sequence)
    missing = dict(named)
    rows = Photo.objects.filter(problem__shell=shell) | Photo.objects.filter(sign_off__operation__shell=shell)
    for photo in rows.order_by("pk"):
        missing.pop(photo.sha256, None)
        if photo.sha256 not in named:
            yield BrokenRecord(shell.serial, 0, f"photo {photo.pk} is in no record")
            continue
        try:
            photo_bytes(photo)
        except QualityError as error:
            yield BrokenRecord(shell.serial, named[photo.sha256], error.message[:1].lower() + error.message[1:-1])
    for sequence in missing.values():
        yield BrokenRecord(shell.serial, sequence, "a photo of it is missing")


def bags(shell: Shell) -> Iterator[BrokenRecord]:
    """Bags that say something else than the records of filling, checking and opening them."""
    told: dict[tuple[str, int], dict[str, ShellRecord]] = {}
    for record in ShellRecord.objects.filter(shell=shell, kind__in=_BAG_KINDS).order_by("sequence"):
        told.setdefault((record.body["bag"], int(record.body["attempt"])), {})[record.kind] = record
    for bag in Bag.objects.filter(shell=shell).order_by("pk"):
        records = told.pop((bag.name, bag.attempt), {})
        filled = records.get(RecordKind.BAGGED)
        if filled is None:
            yield BrokenRecord(shell.serial, 0, f"bag “{bag.name}”, attempt {bag.attempt}, has no record")
        elif not _as_told(bag, filled, records.get(RecordKind.BAG_CHECK), records.get(RecordKind.UNBAGGED)):
            yield BrokenRecord(shell.serial, filled.sequence, "its bag says something else than the record")
    for records in told.values():
        yield BrokenRecord(
            shell.serial, min(each.sequence for each in records.values()), "the bag it tells of is missing"
        )


def _as_told(bag: Bag, filled: ShellRecord, checked: ShellRecord | None, opened: ShellRecord | None) -> bool:
    state = BagState.OPENED if opened else BagState.CHECKED if checked else BagState.FILLED
    body = checked.body if checked else {}
    return (
        bag.state == state
        and (bag.filled_by_id, bag.filled_at) == (filled.person_id, filled.at)
        and (bag.contents, bag.spec_revision) == (filled.body["contents"], filled.body["revision"])
        and (bag.checked_by_id, bag.checked_at) == ((checked.person_id, checked.at) if checked else (None, None))
        and bag.checked_how == body.get("how", "")
        and bag.counts == body.get("counts")
        and (bag.weight_g, bag.low_g, bag.high_g) == (body.get("weight_g"), body.get("low_g"), body.get("high_g"))
    )


ALL = (specs, withdrawals, problems, steps, photos, bags, cartons, requests)
