"""What is wrong with a shell: reported by whoever finds it, settled by a supervisor."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from quality.checks import CheckedReading, checks_for, read_checks
from quality.closed_cartons import require_not_in_closed_carton
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.models import Defect, Disposition, Person, Problem, ProblemState
from quality.photos import KeptPhoto, add_photo
from quality.record_bodies import failure, reading_body
from quality.rights import Right, has_right, require_right
from routing.actions import locked_operation
from routing.climate import in_this_air, newest_reading
from routing.errors import LostRace
from routing.frozen import current_spec
from routing.history import Stamp, lock_shell, recorded_tap
from routing.holds import hold_shell, resume_shell
from routing.languages import for_the_record
from routing.models import Operation, RecordKind, Shell
from routing.turnstile import writing


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
        raise NotQualified("no_right", _("{name} may not report problems; ask a supervisor.").format(name=person.name))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.HELD):
            return Problem.objects.get(pk=earlier.body["problem"])
        operation = locked_operation(shell, position)
        require_not_in_closed_carton(shell, _("withdraw its last signature and report the problem"))
        if Problem.objects.filter(shell=shell, state=ProblemState.OPEN).exists():
            raise LostRace(
                "already_on_hold",
                _("{serial} is on hold already; a supervisor settles that first.").format(serial=serial),
            )
        failed = _failed_so_far(operation, shell, answers or {}, stamp)
        if not text.strip() and defect is None and not failed:
            raise QualityError("nothing_said", _("Say what is wrong: pick a defect or write a few words."))
        with for_the_record():
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


def open_problem(shell: Shell) -> Problem:
    """What holds the shell. Raises LostRace when nothing does: somebody decided before."""
    problem = Problem.objects.filter(shell=shell, state=ProblemState.OPEN).first()
    if problem is None:
        raise LostRace(
            "not_on_hold", _("{serial} has no open problem; somebody settled it already.").format(serial=shell.serial)
        )
    return problem


def settle_problem(*, serial: str, person: Person, settlement: str, stamp: Stamp) -> Problem:
    """Release a shell from hold, saying how its problem was settled. The work goes on at the step where it was held."""
    require_right(person, Right.SETTLE_PROBLEM)
    if not settlement.strip():
        raise QualityError("nothing_said", _("Say how the problem was settled; it stays on the drum's record."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.RESUMED):
            return Problem.objects.get(pk=earlier.body["problem"])
        problem = open_problem(shell)
        problem.state = ProblemState.SETTLED
        problem.settled_by = person
        problem.settled_at = stamp.received_at
        problem.settlement = settlement.strip()[:300]
        problem.disposition = Disposition.RELEASED
        problem.save()
        resume_shell(shell, stamp, {"problem": problem.pk, "settlement": problem.settlement})
    return problem
