"""What people do with a step: begin and pause it, sign it, withdraw the signature, measure its plates, print the card.

Each action checks who may do it, then moves the shell through ``routing.actions`` in the same transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.checks import (
    check_points_at,
    checks_among,
    left_to_sampling,
    read_checks,
)
from quality.closed_cartons import require_not_in_closed_carton
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.lots import note_use
from quality.materials import materials_wanted, read_materials
from quality.may_sign import require_at, require_independent, require_qualified
from quality.models import (
    Person,
    Problem,
    ProblemState,
    Reading,
    SignOff,
    Withdrawal,
)
from quality.photos import KeptPhoto, add_photo
from quality.record_bodies import late_body, out_of_limits, reading_body
from quality.rights import Right, has_right, require_right
from routing.actions import (
    complete_operation,
    locked_operation,
    note_prints,
    operation_or_earlier,
    pause_operation,
    reopen_operation,
    require_workable,
    start_operation,
)
from routing.climate import dwell_minutes, in_this_air, newest_reading, require_air
from routing.errors import LostRace, NotAllowedNow
from routing.frozen import current_spec
from routing.history import Stamp, add_record, lock_shell, recorded_tap
from routing.languages import moment
from routing.models import (
    Operation,
    OperationState,
    RecordKind,
    Shell,
    ShellRecord,
    ShellSpec,
    Shop,
    Station,
    StationKind,
)
from routing.prepared import insert
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
        operation = operation_or_earlier(shell, position, stamp.tap_key, RecordKind.SIGNED)
        if isinstance(operation, ShellRecord):
            return Signed(SignOff.objects.get(record=operation), repeated=True)
        if station is not None:
            require_at(station, operation)
        _say_who_signed(shell, operation)
        require_workable(shell, operation, stamp.worked_at)
        day = timezone.localdate(stamp.at if entered_by else stamp.received_at)
        require_qualified(person, operation.station, day)
        if operation.station.kind == StationKind.PACK:
            _require_nothing_open(shell)
        if operation.station.kind == StationKind.FINAL_CHECK:
            require_independent(shell, person)
            if not (pin_confirmed or entered_by):
                raise NotQualified("pin_needed", _("The final check is signed with your PIN; enter it again."))
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
            raise LostRace(
                "not_signed",
                _("{title} of {serial} is not signed off now.").format(title=operation.title, serial=serial),
            )
        _require_may_withdraw(signed, person, reason, stamp)
        require_not_in_closed_carton(shell, _("withdraw the signature"))
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


def print_card(*, serial: str, person: Person, stamp: Stamp) -> tuple[SignOff, int]:
    """The standing final check of a drum and which copy of its card this is. Refused before the final check."""
    require_right(person, Right.PRINT_CARDS)
    with writing():
        shell = lock_shell(serial)
        final = final_check_of(shell)
        if final is None:
            raise NotAllowedNow(
                "not_checked",
                _("{serial} has no final check yet; there is no name to put on a card.").format(serial=serial),
            )
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
        raise NotAllowedNow(
            "other_station", _("Plates are measured at the cut station, not at {station}.").format(station=station.name)
        )
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    return enter_plate_thickness(serial=serial, measured_mm=measured_mm, stamp=stamp)


def _require_nothing_open(shell: Shell) -> None:
    """Whatever its state says: nothing goes into a carton while a problem of it is open."""
    if Problem.objects.filter(shell=shell, state=ProblemState.OPEN).exists():
        raise NotAllowedNow(
            "on_hold",
            _("{serial} has an open problem; a supervisor decides about it first.").format(serial=shell.serial),
        )


def _require_may_withdraw(signed: SignOff, person: Person, reason: str, stamp: Stamp) -> None:
    limit = timedelta(minutes=Shop.current().withdraw_minutes)
    own_and_fresh = signed.person_id == person.pk and stamp.received_at - signed.record.received_at <= limit
    if own_and_fresh:
        return
    if not has_right(person, Right.WITHDRAW_ANY):
        if signed.person_id == person.pk:
            said = _(
                "Your signature can be withdrawn by a supervisor only: more than {minutes} minutes have passed."
            ).format(minutes=Shop.current().withdraw_minutes)
        else:
            said = _("{name}'s signature can be withdrawn by a supervisor only.").format(name=signed.person.name)
        raise NotQualified("too_late_to_withdraw", said)
    if not reason.strip():
        raise QualityError("reason_missing", _("Say why the signature is withdrawn; it stays on the drum's record."))


def _say_who_signed(shell: Shell, operation: Operation) -> None:
    if operation.state != OperationState.DONE:
        return
    signed = operation.sign_offs.standing().select_related("person").last()
    if signed is not None:
        when = moment(signed.at)
        raise LostRace(
            "already_done",
            _("{name} signed {title} of {serial} at {when}; nothing was changed.").format(
                name=signed.person.name, title=operation.title, serial=shell.serial, when=when
            ),
        )
