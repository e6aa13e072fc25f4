"""What is decided about a shell on hold: work it again, use it as it is, make another drum of it, or replace it.

Each settles the open problem with what was decided, by whom and why. ``quality.problems.settle_problem`` is the fifth
way: nothing was wrong after all, or it was put right where the shell stood.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import Disposition, Person, Problem, ProblemState, SignOff, Voiding
from quality.problems import open_problem
from quality.rights import Right, require_right
from routing.history import Stamp, lock_shell, recorded_tap
from routing.holds import resume_shell
from routing.models import DrumModel, Finish, RecordKind, Shell, ShellRecord, ShellSpec
from routing.release import replace_shell
from routing.rework import end_route, held_operation, regrade_shell, reopen_from, require_rework_place
from routing.turnstile import writing


@dataclass(frozen=True, slots=True)
class Scrapped:
    problem: Problem
    replacement: Shell


def rework(*, serial: str, position: int, person: Person, reason: str, stamp: Stamp) -> Problem:
    """Send a shell on hold back to the step at ``position``, an earlier one or the one it is held at.

    The route opens again from there, and every signature from that step on is void: it stays on record, and its step
    is signed and measured again. Raises NotQualified, QualityError without a reason, NotAllowedNow for a step it can't
    go back to, LostRace when somebody decided before.
    """
    said = _require_may_decide(person, reason, _("Say what is to be done at that step; it stays on the drum's record."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.REWORK):
            return _problem_of(earlier)
        held = held_operation(shell)
        problem = open_problem(shell)
        step = require_rework_place(shell, position)
        void = list(
            SignOff.objects.standing()
            .filter(operation__shell=shell, operation__position__gte=position)
            .select_related("record", "operation")
            .order_by("record__sequence")
        )
        _settle(problem, Disposition.REWORK, person, said, stamp)
        record = reopen_from(
            shell,
            position,
            stamp,
            {
                **_decided(problem),
                "held_at_step": held.title,
                "again_from_step": step.title,
                "voids_sequences": [sign_off.record.sequence for sign_off in void],
                "voids_steps": [sign_off.operation.title for sign_off in void],
            },
        )
        Voiding.objects.bulk_create([Voiding(sign_off=sign_off, record=record) for sign_off in void])
    return problem


def use_as_is(*, serial: str, person: Person, allowed_by: str, reason: str, stamp: Stamp) -> Problem:
    """Let a shell on hold go on as it is, under a concession: ``allowed_by`` is who allowed it, ``reason`` why."""
    said = _require_may_decide(person, reason, _("Say why it may be used as it is; it stays on the drum's record."))
    if not allowed_by.strip():
        raise QualityError("nobody_allowed", _("Say who allowed it: the customer, or who answers for the drum."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.RESUMED):
            return _problem_of(earlier)
        held_operation(shell)
        problem = open_problem(shell)
        problem.allowed_by = allowed_by.strip()[:80]
        _settle(problem, Disposition.AS_IS, person, said, stamp)
        resume_shell(
            shell,
            stamp,
            {**_decided(problem), "found": problem.text, "allowed_by": problem.allowed_by},
        )
    return problem


def regrade(*, serial: str, model: DrumModel, finish: Finish, person: Person, reason: str, stamp: Stamp) -> ShellSpec:
    """Make a shell on hold another drum: another finish, or another model of the same role and size.

    Its spec is issued again from that recipe and the steps left are planned from that route. Only while no coat and no
    wrap is signed, and only when what is signed was done as the other drum asks for.
    """
    said = _require_may_decide(person, reason, _("Say why it becomes another drum; it stays on the drum's record."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.REISSUED):
            return ShellSpec.objects.get(shell=shell, revision=earlier.body["revision"])
        held_operation(shell)
        problem = open_problem(shell)
        _settle(problem, Disposition.REGRADE, person, said, stamp)
        return regrade_shell(shell, model, finish, f"regraded: {said}", stamp, _decided(problem))


def scrap(*, serial: str, person: Person, reason: str, stamp: Stamp) -> Scrapped:
    """Scrap a shell on hold and release another in its place in the kit, with its own serial number.

    Raises NotReleasable when the recipe of the kit's line can't be made any more.
    """
    said = _require_may_decide(person, reason, _("Say why it can't be saved; it stays on the drum's record."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.SCRAPPED):
            return Scrapped(_problem_of(earlier), Shell.objects.get(serial=earlier.body["replaced_by"]))
        held_operation(shell)
        problem = open_problem(shell)
        _settle(problem, Disposition.SCRAP, person, said, stamp)
        replacement = replace_shell(shell, stamp)
        end_route(shell, stamp, {**_decided(problem), "replaced_by": replacement.serial})
    return Scrapped(problem, replacement)


def concessions_of(shell: Shell) -> QuerySet[Problem]:
    """What a shell is used with although it is not as it should be, first decided first."""
    return concessions_among([shell])


def concessions_among(shells: Iterable[Shell]) -> QuerySet[Problem]:
    """The same for several shells at once."""
    return (
        Problem.objects.filter(shell__in=list(shells), disposition=Disposition.AS_IS)
        .select_related("settled_by")
        .order_by("settled_at")
    )


def _require_may_decide(person: Person, reason: str, ask: str) -> str:
    require_right(person, Right.SETTLE_PROBLEM)
    if not reason.strip():
        raise QualityError("nothing_said", ask)
    return reason.strip()[:180]


def _settle(problem: Problem, disposition: Disposition, person: Person, said: str, stamp: Stamp) -> None:
    problem.state = ProblemState.SETTLED
    problem.disposition = disposition
    problem.settled_by = person
    problem.settled_at = stamp.received_at
    problem.settlement = said
    problem.save()


def _decided(problem: Problem) -> dict[str, Any]:
    return {"problem": problem.pk, "disposition": problem.disposition, "settlement": problem.settlement}


def _problem_of(record: ShellRecord) -> Problem:
    return Problem.objects.get(pk=record.body["problem"])
