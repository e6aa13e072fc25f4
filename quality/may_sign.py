"""Who may sign a step: at its station, qualified on the day, and not one who assembled the drum that is checked last."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _

from quality.errors import NotQualified
from quality.models import Person, Qualification, SignOff
from quality.rights import Right, has_right
from routing.errors import NotAllowedNow
from routing.languages import day as written
from routing.models import Operation, Shell, Station, StationKind
from routing.prepared import Prepared

_QUALIFICATION = Prepared(
    lambda person, station: Qualification.objects.filter(person=person, station=station).order_by()
)


def assemblers_of(shell: Shell) -> set[int]:
    """Ids of the people whose signature stands under the assembly of a drum: none of them may sign its final check."""
    return set(
        SignOff.objects.standing()
        .filter(operation__shell=shell, operation__station__kind=StationKind.ASSEMBLE)
        .values_list("person_id", flat=True)
    )


def signers_at(station: Station, day: date) -> list[Person]:
    """Who may sign at a station on a day, by user name."""
    rights = {Right.SIGN_STEPS, *([Right.SIGN_FINAL_CHECK] if station.kind == StationKind.FINAL_CHECK else [])}
    found = Qualification.objects.filter(station=station, person__is_active=True).select_related("person")
    return [
        each.person
        for each in found.order_by("person__username")
        if each.holds_on(day) and all(has_right(each.person, right) for right in rights)
    ]


def require_at(station: Station, operation: Operation) -> None:
    """Refuse a step that belongs to another station than the one it is asked for at."""
    if operation.station_id != station.pk:
        raise NotAllowedNow(
            "other_station",
            _("{title} belongs to {station}; sign it there, not at {here}.").format(
                title=operation.title, station=operation.station.name, here=station.name
            ),
        )


def require_qualified(person: Person, station: Station, day: date) -> None:
    """Refuse, with a sentence that says what is missing, unless ``person`` may sign at ``station`` on ``day``."""
    if not has_right(person, Right.SIGN_STEPS):
        raise NotQualified(
            "no_right", _("{name} does not sign steps; that is for the people on the floor.").format(name=person.name)
        )
    if station.kind == StationKind.FINAL_CHECK and not has_right(person, Right.SIGN_FINAL_CHECK):
        raise NotQualified(
            "not_a_checker", _("{name} is not a final checker; ask one to sign.").format(name=person.name)
        )
    qualification = _QUALIFICATION.first(person=person.pk, station=station.pk)
    if qualification is None:
        raise NotQualified(
            "not_qualified",
            _("{name} is not qualified for {station}; ask somebody who is, or a supervisor.").format(
                name=person.name, station=station.name
            ),
        )
    if not qualification.holds_on(day):
        if qualification.valid_from > day:
            raise NotQualified(
                "not_yet_qualified",
                _("{name} is qualified for {station} only from {day}.").format(
                    name=person.name, station=station.name, day=written(qualification.valid_from)
                ),
            )
        assert qualification.valid_to is not None  # else it would hold
        raise NotQualified(
            "qualification_expired",
            _("{name}'s qualification for {station} ended on {day}; a supervisor can renew it.").format(
                name=person.name, station=station.name, day=written(qualification.valid_to)
            ),
        )


def require_independent(shell: Shell, person: Person) -> None:
    if person.pk in assemblers_of(shell):
        raise NotQualified(
            "assembled_it",
            _("{name} assembled {serial}; somebody else has to sign its final check.").format(
                name=person.name, serial=shell.serial
            ),
        )
