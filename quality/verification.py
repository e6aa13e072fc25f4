"""Proving that the record holds: every chain is whole, and the tables beside it say what the chain says."""

from __future__ import annotations

from collections.abc import Iterator

from quality import cross_checks
from quality.models import SignOff, Voiding
from routing.history import BrokenRecord, broken_records
from routing.models import RecordKind, Shell, ShellRecord


def verify_shell(shell: Shell) -> Iterator[BrokenRecord]:
    """Everything wrong with one shell's record, first things first; nothing when it holds."""
    yield from broken_records(shell)
    yield from _voided(shell)
    for check in cross_checks.ALL:
        yield from check(shell)
    signatures = {
        sign_off.record_id: sign_off
        for sign_off in SignOff.objects.filter(operation__shell=shell).prefetch_related(
            "readings__check_point", "materials__lot", "materials__glue_batch"
        )
    }
    for record in ShellRecord.objects.filter(shell=shell, kind=RecordKind.SIGNED).order_by("sequence"):
        signed = signatures.pop(record.pk, None)
        if signed is None:
            yield BrokenRecord(shell.serial, record.sequence, "its signature is missing")
            continue
        if (signed.person_id, signed.operation_id, signed.attempt, signed.at) != (
            record.person_id,
            record.operation_id,
            record.body["attempt"],
            record.at,
        ):
            yield BrokenRecord(shell.serial, record.sequence, "its signature says something else than the record")
        late = record.body.get("late", {})
        if late.get("entered_by_id") != signed.entered_by_id or late.get("signed_by", record.person_name) != (
            record.person_name
        ):
            yield BrokenRecord(shell.serial, record.sequence, "who entered it is not who the record says")
        told = [
            (entry["check"], entry["check_revision"], entry["text"], entry["value"], entry["passed"])
            for entry in record.body["readings"]
        ]
        kept = [
            (point.code, point.revision, point.text, reading.value, reading.passed)
            for reading in signed.readings.all()
            for point in [reading.check_point]
        ]
        if told != kept:
            yield BrokenRecord(shell.serial, record.sequence, "its readings say something else than the record")
        codes = [entry["code"] for entry in record.body.get("materials", [])]
        if codes != [(use.lot or use.glue_batch).code for use in signed.materials.all()]:  # type: ignore[union-attr]
            yield BrokenRecord(shell.serial, record.sequence, "its materials say something else than the record")
    for signed in signatures.values():
        yield BrokenRecord(shell.serial, 0, f"signature {signed.pk} has no record")


def _voided(shell: Shell) -> Iterator[BrokenRecord]:
    """Records that send a shell back, whose list of void signatures is not what the table has."""
    kept: dict[int, list[int]] = {}
    voidings = Voiding.objects.filter(sign_off__operation__shell=shell).select_related("sign_off__record")
    for voiding in voidings.order_by("sign_off__record__sequence"):
        kept.setdefault(voiding.record_id, []).append(voiding.sign_off.record.sequence)
    for record in ShellRecord.objects.filter(shell=shell, kind=RecordKind.REWORK).order_by("sequence"):
        if record.body.get("voids_sequences", []) != kept.pop(record.pk, []):
            yield BrokenRecord(shell.serial, record.sequence, "it makes other signatures void than the record says")
    for record_id in kept:
        yield BrokenRecord(shell.serial, 0, f"signatures are void without a record that sends it back ({record_id})")
