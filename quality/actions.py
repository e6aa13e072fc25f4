"""What people say about shells: sign a step, withdraw a signature, report a problem, settle it, print the card.

Each action checks who may do it, then moves the shell through ``routing.actions`` in the same transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils import timezone

from quality.checks import (
    CheckedReading,
    check_points_at,
    checks_among,
    checks_for,
    left_to_sampling,
    read_checks,
)
from quality.closed_cartons import require_not_in_closed_carton
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.lots import note_use
from quality.materials import materials_wanted, read_materials
from quality.models import (
    Defect,
    Disposition,
    Person,
    Problem,
    ProblemState,
    Qualification,
    Reading,
    SignOff,
    Withdrawal,
)
from quality.photos import KeptPhoto, add_photo
from quality.record_bodies import failure, late_body, out_of_limits, reading_body
from quality.rights import Right, has_right
from routing.actions import (
    complete_operation,
    hold_shell,
    locked_operation,
    note_prints,
    pause_operation,
    reopen_operation,
    require_workable,
    resume_shell,
    start_operation,
)
from routing.climate import dwell_minutes, in_this_air, newest_reading, require_air
from routing.errors import LostRace, NotAllowedNow
from routing.frozen import current_spec
from routing.history import Stamp, add_record, lock_shell, recorded_tap
from routing.models import (
    Operation,
    OperationState,
    RecordKind,
    Shell,
    ShellSpec,
    Shop,
    Station,
    StationKind,
)
from routing.prepared import Prepared, insert
from routing.reissue import enter_plate_thickness
from routing.turnstile import writing


@dataclass(frozen=True, slots=True)
class Signed:
    """The result of a tap: the signature, and whether this tap had arrived before."""

    sign_off: SignOff
    repeated: bool


def sign_off(
    *,
    serial: str,
    position: int,
    person: Person,
    answers: Mapping[str, str],
    materials: Mapping[str, str] | None = None,
    photos: Sequence[KeptPhoto] = (),
    note: str = "",
    pin_confirmed: bool = False,
    station: Station | None = None,
    entered_by: Person | None = None,
    stamp: Stamp,
) -> Signed:
    """Sign a step of a shell by name, with the readings of its checks.

    ``answers`` maps check point ids to what was entered, ``materials`` what is wanted to the codes of what was used.
    The final check needs ``pin_confirmed`` and somebody who did not assemble the drum. ``station`` is where the tablet hangs; a step of another is refused. Raises NotQualified, ReadingRefused, NotAllowedNow (on hold, not its turn, still drying),
    LostRace (signed by somebody else); nothing is written then.
    ``entered_by`` is for ``quality.late_entry`` only: it was signed on paper at ``stamp.at``.
    """
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.SIGNED):
            return Signed(SignOff.objects.get(record=earlier), repeated=True)
        operation = locked_operation(shell, position)
        if station is not None:
            require_at(station, operation)
        _say_who_signed(shell, operation)
        require_workable(shell, operation, stamp.worked_at)
        day = timezone.localdate(stamp.at if entered_by else stamp.received_at)
        require_qualified(person, operation.station, day)
        if operation.station.kind == StationKind.PACK:
            _require_nothing_open(shell)
        if operation.station.kind == StationKind.FINAL_CHECK:
            _require_independent(shell, person)
            if not (pin_confirmed or entered_by):
                raise NotQualified("pin_needed", "The final check is signed with your PIN; enter it again.")
        spec = current_spec(shell)
        air = newest_reading(operation.station, stamp.at)
        results = in_this_air(spec.results, spec.inputs, air)
        require_air(operation, results, air)
        dwell = dwell_minutes(operation, spec.results, results, spec.inputs)
        points = check_points_at(operation)
        readings = read_checks(checks_among(points, operation, shell, results), answers)
        skipped = left_to_sampling(points, operation, shell)
        failed = [reading for reading in readings if not reading.passed]
        if failed:
            raise ReadingRefused("out_of_limits", out_of_limits(failed))
        wanted = materials_wanted(operation, spec.results, spec.inputs, at=stamp.at)
        used = read_materials(wanted, materials or {}, stamp.at, since_then=entered_by is not None)
        complete_operation(shell, operation, stamp, dwell_minutes=dwell)
        record = add_record(
            shell,
            RecordKind.SIGNED,
            stamp,
            operation=operation,
            body={
                "attempt": operation.attempt,
                "step": operation.title,
                "station": operation.station.code,
                "revision": shell.spec_revision,
                "note": note.strip()[:500],
                "readings": [reading_body(reading) for reading in readings],
                **({"not_sampled": [point.code for point in skipped]} if skipped else {}),
                **({"photos": [photo.sha256 for photo in photos]} if photos else {}),
                **({"materials": [each.body for each in used]} if used else {}),
                "dwell_minutes": dwell,
                **({"touch_seconds": operation.touch_seconds} if operation.started_at else {}),
                **({"air": {"temperature_c": air.temperature_c, "humidity_pct": air.humidity_pct}} if air else {}),
                **(late_body(entered_by, stamp) if entered_by else {}),
            },
        )
        signed = SignOff(
            record=record,
            operation=operation,
            attempt=operation.attempt,
            person=person,
            at=stamp.at,
            entered_by=entered_by,
        )
        insert([signed])
        if readings:
            insert(
                [
                    Reading(
                        sign_off=signed,
                        check_point=reading.check.point,
                        value=reading.value,
                        values=list(reading.values) or None,
                        passed=reading.passed,
                    )
                    for reading in readings
                ]
            )
        note_use(signed, used, stamp)
        for photo in photos:
            add_photo(photo, person, stamp.at, sign_off=signed)
    return Signed(signed, repeated=False)


def withdraw_sign_off(*, serial: str, position: int, person: Person, reason: str = "", stamp: Stamp) -> Withdrawal:
    """Take back the standing signature of a step. The signature stays on record beside its withdrawal.

    Within the shop's withdrawal time by the person who signed; after that, or for somebody else's, by a supervisor
    with a reason. Refused when later steps are signed.
    """
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.WITHDRAWN):
            return Withdrawal.objects.get(record=earlier)
        operation = locked_operation(shell, position)
        signed = operation.sign_offs.standing().select_related("person").last()
        if signed is None:
            raise LostRace("not_signed", f"{operation.title} of {serial} is not signed off now.")
        _require_may_withdraw(signed, person, reason, stamp)
        require_not_in_closed_carton(shell, "withdraw the signature")
        reopen_operation(shell, operation, stamp)
        record = add_record(
            shell,
            RecordKind.WITHDRAWN,
            stamp,
            operation=operation,
            body={
                "attempt": signed.attempt,
                "step": operation.title,
                "withdraws_sequence": signed.record.sequence,
                "signed_by": signed.person.name,
                "reason": reason.strip()[:200],
            },
        )
        return Withdrawal.objects.create(sign_off=signed, record=record, reason=reason.strip()[:200])


def report_problem(
    *,
    serial: str,
    position: int,
    person: Person,
    text: str,
    defect: Defect | None = None,
    answers: Mapping[str, str] | None = None,
    photo: KeptPhoto | None = None,
    stamp: Stamp,
) -> Problem:
    """Say what is wrong with a shell; it is on hold from then on, wherever it is.

    ``answers`` are the readings of the step as they were entered, perhaps not all: those that do not pass say what is
    wrong and stand in the record.
    """
    if not has_right(person, Right.REPORT_PROBLEM):
        raise NotQualified("no_right", f"{person.name} may not report problems; ask a supervisor.")
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.HELD):
            return Problem.objects.get(pk=earlier.body["problem"])
        operation = locked_operation(shell, position)
        require_not_in_closed_carton(shell, "withdraw its last signature and report the problem")
        if Problem.objects.filter(shell=shell, state=ProblemState.OPEN).exists():
            raise LostRace("already_on_hold", f"{serial} is on hold already; a supervisor settles that first.")
        failed = _failed_so_far(operation, shell, answers or {}, stamp)
        if not text.strip() and defect is None and not failed:
            raise QualityError("nothing_said", "Say what is wrong: pick a defect or write a few words.")
        said = [text.strip() or (defect.name if defect else ""), *(failure(reading) for reading in failed)]
        problem = Problem.objects.create(
            shell=shell,
            operation=operation,
            defect=defect,
            text="; ".join(filter(None, said))[:300],
            found_by=person,
            found_at=stamp.at,
        )
        hold_shell(
            shell,
            stamp,
            {
                "problem": problem.pk,
                "found_at_step": operation.title,
                "found_at_operation": operation.pk,
                "defect": defect.code if defect else None,
                "text": problem.text,
                **({"readings": [reading_body(reading) for reading in failed]} if failed else {}),
                **({"photos": [photo.sha256]} if photo else {}),
            },
        )
        if photo is not None:
            add_photo(photo, person, stamp.at, problem=problem)
    return problem


def _failed_so_far(
    operation: Operation, shell: Shell, answers: Mapping[str, str], stamp: Stamp
) -> list[CheckedReading]:
    """The readings among ``answers`` that do not pass; what is missing or can't be read is left out."""
    spec = current_spec(shell)
    results = in_this_air(spec.results, spec.inputs, newest_reading(operation.station, stamp.at))
    failed = []
    for check in checks_for(operation, shell, results):
        try:
            (reading,) = read_checks([check], answers)
        except ReadingRefused:
            continue
        if not reading.passed:
            failed.append(reading)
    return failed


def settle_problem(*, serial: str, person: Person, settlement: str, stamp: Stamp) -> Problem:
    """Release a shell from hold, saying how its problem was settled. The work goes on at the step where it was held."""
    if not has_right(person, Right.SETTLE_PROBLEM):
        raise NotQualified("no_right", f"{person.name} may not {Right.SETTLE_PROBLEM.value}; ask a supervisor.")
    if not settlement.strip():
        raise QualityError("nothing_said", "Say how the problem was settled; it stays on the drum's record.")
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.RESUMED):
            return Problem.objects.get(pk=earlier.body["problem"])
        problem = Problem.objects.filter(shell=shell, state=ProblemState.OPEN).first()
        if problem is None:
            raise LostRace("not_on_hold", f"{serial} has no open problem; somebody settled it already.")
        problem.state = ProblemState.SETTLED
        problem.settled_by = person
        problem.settled_at = stamp.received_at
        problem.settlement = settlement.strip()[:300]
        problem.disposition = Disposition.RELEASED
        problem.save()
        resume_shell(shell, stamp, {"problem": problem.pk, "settlement": problem.settlement})
    return problem


def print_card(*, serial: str, person: Person, stamp: Stamp) -> tuple[SignOff, int]:
    """The standing final check of a drum and which copy of its card this is. Refused before the final check."""
    if not has_right(person, Right.PRINT_CARDS):
        raise NotQualified("no_right", f"{person.name} may not {Right.PRINT_CARDS.value}; ask a supervisor.")
    with writing():
        shell = lock_shell(serial)
        final = final_check_of(shell)
        if final is None:
            raise NotAllowedNow("not_checked", f"{serial} has no final check yet; there is no name to put on a card.")
        copies = note_prints(
            serials=[serial], what=RecordKind.CARD, body={"checked_by": final.record.person_name}, stamp=stamp
        )
    return final, copies[serial]


def final_check_of(shell: Shell) -> SignOff | None:
    """The standing signature under the final check, if there is one."""
    return (
        SignOff.objects.standing()
        .filter(operation__shell=shell, operation__station__kind=StationKind.FINAL_CHECK, operation__state="done")
        .select_related("person", "operation", "record")
        .last()
    )


def assemblers_of(shell: Shell) -> set[int]:
    """Ids of the people whose signature stands under the assembly of a drum: none of them may sign its final check."""
    return set(
        SignOff.objects.standing()
        .filter(operation__shell=shell, operation__station__kind=StationKind.ASSEMBLE)
        .values_list("person_id", flat=True)
    )


_QUALIFICATION = Prepared(
    lambda person, station: Qualification.objects.filter(person=person, station=station).order_by()
)


def begin_step(*, serial: str, position: int, person: Person, station: Station, stamp: Stamp) -> Operation:
    """Note that ``person`` works on a step of ``station``; only for somebody who may sign there."""
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    require_at(station, locked_operation(Shell.objects.get(serial=serial), position))
    return start_operation(serial=serial, position=position, stamp=stamp)


def pause_step(*, serial: str, position: int, person: Person, station: Station, stamp: Stamp) -> Operation:
    """Note that the work on a step of ``station`` stops for a while."""
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    require_at(station, locked_operation(Shell.objects.get(serial=serial), position))
    return pause_operation(serial=serial, position=position, stamp=stamp)


def measure_plates(
    *, serial: str, measured_mm: Mapping[int, float], person: Person, station: Station, stamp: Stamp
) -> ShellSpec:
    """Issue a shell's spec again with measured plates; only for somebody who may sign at the cut station."""
    if station.kind != StationKind.CUT:
        raise NotAllowedNow("other_station", f"Plates are measured at the cut station, not at {station.name}.")
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    return enter_plate_thickness(serial=serial, measured_mm=measured_mm, stamp=stamp)


def require_at(station: Station, operation: Operation) -> None:
    """Refuse a step that belongs to another station than the one it is asked for at."""
    if operation.station_id != station.pk:
        raise NotAllowedNow(
            "other_station",
            f"{operation.title} belongs to {operation.station.name}; sign it there, not at {station.name}.",
        )


def require_qualified(person: Person, station: Station, day: date) -> None:
    """Refuse, with a sentence that says what is missing, unless ``person`` may sign at ``station`` on ``day``."""
    if not has_right(person, Right.SIGN_STEPS):
        raise NotQualified("no_right", f"{person.name} does not sign steps; that is for the people on the floor.")
    if station.kind == StationKind.FINAL_CHECK and not has_right(person, Right.SIGN_FINAL_CHECK):
        raise NotQualified("not_a_checker", f"{person.name} is not a final checker; ask one to sign.")
    qualification = _QUALIFICATION.first(person=person.pk, station=station.pk)
    if qualification is None:
        raise NotQualified(
            "not_qualified", f"{person.name} is not qualified for {station.name}; ask somebody who is, or a supervisor."
        )
    if not qualification.holds_on(day):
        if qualification.valid_from > day:
            raise NotQualified(
                "not_yet_qualified",
                f"{person.name} is qualified for {station.name} only from {qualification.valid_from}.",
            )
        raise NotQualified(
            "qualification_expired",
            f"{person.name}'s qualification for {station.name} ended on {qualification.valid_to}; a supervisor can renew it.",
        )


def _require_independent(shell: Shell, person: Person) -> None:
    if person.pk in assemblers_of(shell):
        raise NotQualified(
            "assembled_it", f"{person.name} assembled {shell.serial}; somebody else has to sign its final check."
        )


def _require_nothing_open(shell: Shell) -> None:
    """Whatever its state says: nothing goes into a carton while a problem of it is open."""
    if Problem.objects.filter(shell=shell, state=ProblemState.OPEN).exists():
        raise NotAllowedNow("on_hold", f"{shell.serial} has an open problem; a supervisor decides about it first.")


def _require_may_withdraw(signed: SignOff, person: Person, reason: str, stamp: Stamp) -> None:
    limit = timedelta(minutes=Shop.current().withdraw_minutes)
    own_and_fresh = signed.person_id == person.pk and stamp.received_at - signed.record.received_at <= limit
    if own_and_fresh:
        return
    if not has_right(person, Right.WITHDRAW_ANY):
        whose = "Your" if signed.person_id == person.pk else f"{signed.person.name}'s"
        raise NotQualified(
            "too_late_to_withdraw",
            f"{whose} signature can be withdrawn by a supervisor only"
            + (f": more than {Shop.current().withdraw_minutes} minutes have passed." if whose == "Your" else "."),
        )
    if not reason.strip():
        raise QualityError("reason_missing", "Say why the signature is withdrawn; it stays on the drum's record.")


def _say_who_signed(shell: Shell, operation: Operation) -> None:
    if operation.state != OperationState.DONE:
        return
    signed = operation.sign_offs.standing().select_related("person").last()
    if signed is not None:
        when = timezone.localtime(signed.at).strftime("%H:%M on %Y-%m-%d")
        raise LostRace(
            "already_done",
            f"{signed.person.name} signed {operation.title} of {shell.serial} at {when}; nothing was changed.",
        )
