"""Several shells at once: a rack from the spray room, a press load, a kit. One tap, one signature on each shell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from quality.actions import sign_off
from quality.checks import Check, checks_for
from quality.errors import QualityError
from quality.models import Person, SignOff
from routing.climate import in_this_air, newest_reading
from routing.errors import RoutingError
from routing.frozen import current_spec
from routing.history import Stamp
from routing.models import Operation, OperationState, Shell, Station, StationKind
from routing.spec_words import spoken
from routing.specs.errors import SpecError

MOST_SHELLS = 60


@dataclass(frozen=True, slots=True)
class RackStep:
    """The step of one shell that is open at the station."""

    shell: Shell
    operation: Operation
    checks: tuple[Check, ...]
    refusal: str = ""  # why it was not signed a moment ago


@dataclass(frozen=True, slots=True)
class RackCheck:
    """One check point for all the shells that ask for it."""

    check: Check
    of: tuple[tuple[str, Check], ...]  # serial and the check as it stands for that shell

    @property
    def is_shared(self) -> bool:
        """Whether one answer can do for all: the limits are the same, and it is not measured all round each shell."""
        limits = {(check.low, check.high, check.places) for serial, check in self.of}
        return len(limits) == 1 and self.check.places == 1 and not self.check.is_count


@dataclass(frozen=True, slots=True)
class RackResult:
    serial: str
    signed: SignOff | None
    refusal: str  # why it was not signed; empty when it was


def rack_of(station: Station, serials: Sequence[str], stamp_at: Stamp) -> list[RackStep]:
    """The open steps at ``station`` of the shells named, in the order they are named; others are left out.

    Raises QualityError for the final check, which is signed drum by drum, and for more shells than a rack holds.
    """
    if station.kind == StationKind.FINAL_CHECK:
        raise QualityError("one_by_one", _("The final check is signed drum by drum; open each one."))
    if len(serials) > MOST_SHELLS:
        raise QualityError(
            "too_many", _("Sign at most {most_shells} shells at once; choose fewer.").format(most_shells=MOST_SHELLS)
        )
    found = {
        operation.shell.serial: operation
        for operation in Operation.objects.filter(
            station=station,
            shell__serial__in=serials,
            state__in=[OperationState.READY, OperationState.IN_WORK],
        ).select_related("station", "shell__model__line", "shell__finish", "shell__order")
    }
    air = newest_reading(station, stamp_at.at)
    steps = []
    for serial in dict.fromkeys(serials):
        if operation := found.get(serial):
            spec = current_spec(operation.shell)
            checks = checks_for(operation, operation.shell, in_this_air(spec.results, spec.inputs, air))
            steps.append(RackStep(operation.shell, operation, tuple(checks)))
    return steps


def checks_of(rack: Sequence[RackStep]) -> list[RackCheck]:
    """The checks of all the shells, each check point once, in the order of the station."""
    by_point: dict[str, list[tuple[str, Check]]] = {}
    for step in rack:
        for check in step.checks:
            by_point.setdefault(check.key, []).append((step.shell.serial, check))
    checks = [RackCheck(every[0][1], tuple(every)) for every in by_point.values()]
    return sorted(checks, key=lambda each: (each.check.point.position, each.check.point.pk))


def sign_rack(
    *,
    station: Station,
    positions: Mapping[str, int],
    person: Person,
    shared: Mapping[str, str],
    each: Mapping[str, Mapping[str, str]],
    materials: Mapping[str, str] | None = None,
    note: str = "",
    stamp: Stamp,
) -> list[RackResult]:
    """Sign the step of every shell by name, each for itself: what is refused for one does not stop the others.

    ``positions`` maps serial numbers to the steps that were shown. ``shared`` maps check point ids to answers that hold
    for all, ``each`` gives a shell's own answers, which come first. Each shell's tap has a key made from the rack's, so
    the same tap again signs nothing twice.
    """
    results = []
    for serial, position in positions.items():
        own = {key: answer for key, answer in each.get(serial, {}).items() if answer.strip()}
        key = f"{stamp.tap_key}:{serial}"[:64] if stamp.tap_key else None
        try:
            signed = sign_off(
                serial=serial,
                position=position,
                person=person,
                answers={**shared, **own},
                materials=materials,
                note=note,
                station=station,
                stamp=replace(stamp, tap_key=key),
            )
        except Shell.DoesNotExist:
            results.append(RackResult(serial, None, _("There is no drum {serial}.").format(serial=serial)))
        except (QualityError, RoutingError, SpecError) as refused:
            results.append(RackResult(serial, None, spoken(refused.message)))
        else:
            results.append(RackResult(serial, signed.sign_off, ""))
    return results
