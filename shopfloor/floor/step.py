"""One shell at one station: its numbers, drawing, caution and checks, or where it is instead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.bags import BagStand, bags_of
from quality.carton_plan import PlannedCarton, carton_of
from quality.checks import Check, check_points_at, checks_among, left_to_sampling
from quality.dispositions import concessions_of
from quality.models import CheckPoint, Defect, Person, Problem, ProblemState, SignOff
from quality.rights import Right, has_right
from routing.climate import in_this_air, newest_reading
from routing.frozen import current_spec
from routing.languages import moment
from routing.models import Operation, OperationState, RoomReading, Shell, Shop, Station, StationKind
from routing.rework import rework_places
from routing.station_details import station_details
from routing.station_drawings import station_drawing
from routing.station_numbers import StationNumber, station_numbers
from shopfloor.floor.materials import MaterialField, material_fields
from shopfloor.rings import ring_states
from shopfloor.templatetags.shop import hours_minutes

_SHOWS_CONCESSIONS = [StationKind.FINAL_CHECK, StationKind.PACK]
_HAS_BAGS = [StationKind.ASSEMBLE, StationKind.PACK]


@dataclass(frozen=True, slots=True)
class PlateToMeasure:
    place: int
    name: str
    nominal_mm: float
    measured_mm: float | None
    typed: str  # to be shown again after a refusal


@dataclass(frozen=True, slots=True)
class Step:
    shell: Shell
    operation: Operation | None  # at this station; None when the route does not come here
    ring: tuple[tuple[str, str], ...]
    then: str  # where the shell goes from here, and after which dwell
    is_late: bool
    workable: bool
    until: datetime | None  # end of a dwell before this step
    dwell_word: str
    elsewhere: str  # where the shell is instead, as a sentence
    elsewhere_code: str
    numbers: tuple[StationNumber, ...]
    air: RoomReading | None  # what the numbers below follow
    details: tuple[StationNumber, ...]  # every further figure, behind a tap
    drawing: str
    bags: str  # “3 of 8 checked”, where parts come out of bags or go into the carton
    carton: PlannedCarton | None  # at packing: how the kit travels
    holes: tuple[dict[str, Any], ...]  # the hole list, at the drill
    checks: tuple[Check, ...]
    not_sampled: tuple[CheckPoint, ...]  # not asked for this drum: only every so many is looked at
    materials: tuple[MaterialField, ...]
    defects: tuple[Defect, ...]
    needs_pin: bool
    problem: Problem | None
    signed: SignOff | None  # the signature that stands under this station's last step
    may_withdraw: bool
    withdrawal_needs_reason: bool
    may_settle: bool
    may_rework_here: bool  # the shell on hold was at this station or is held here
    concessions: tuple[Problem, ...]  # what it is used with although it is not as it should be
    plates: tuple[PlateToMeasure, ...]
    paper_is_old: bool
    revision: int


def step_of(
    shell: Shell,
    station: Station,
    person: Person,
    now: datetime,
    *,
    paper_revision: int | None = None,
    device: str = "",
    typed: Mapping[str, str] | None = None,
) -> Step:
    """What the tablet shows for ``shell`` at ``station``. ``typed`` is what a refused form held."""
    operations = list(Operation.objects.filter(shell=shell).select_related("station").order_by("position"))
    current = next((o for o in operations if o.state in _CURRENT), None)
    here = _operation_here(operations, current, station)
    spec = current_spec(shell)
    air = newest_reading(station, now)
    results = in_this_air(spec.results, spec.inputs, air)
    dwelling = here is not None and here.is_dwelling(now)
    is_current = here is not None and here is current
    before = next((o for o in reversed(operations) if o.state == OperationState.DONE), None)
    signed = _standing(here) if here is not None and here.state == OperationState.DONE else None
    problem = Problem.objects.filter(shell=shell, state=ProblemState.OPEN).select_related("found_by").first()
    may_settle = problem is not None and has_right(person, Right.SETTLE_PROBLEM)
    workable = is_current and not dwelling and here is not None and here.state != OperationState.ON_HOLD
    measuring = workable and station.kind == StationKind.CUT
    points = check_points_at(here) if here is not None and is_current else []
    fresh = signed is not None and _own_and_fresh(signed, person, now)
    return Step(
        shell=shell,
        operation=here,
        ring=ring_states(operations, now),
        then=_then(operations, here),
        is_late=shell.order.due < timezone.localdate(now) and current is not None,
        workable=workable,
        until=here.not_before if dwelling and here else None,
        dwell_word=_(before.dwell_word) if dwelling and before else "",
        elsewhere="" if is_current else _elsewhere(shell, current, station, now),
        elsewhere_code=current.station.code if current is not None and not is_current else "",
        numbers=tuple(station_numbers(station.kind, results, spec.inputs, here.coat_index if here else None)),
        air=air,
        details=tuple(station_details(station.kind, results, spec.inputs, here.coat_index if here else None)),
        drawing=station_drawing(station.kind, spec.results),
        bags=_bags(shell) if station.kind in _HAS_BAGS else "",
        carton=carton_of(shell) if station.kind == StationKind.PACK else None,
        holes=tuple(spec.results["drilling"]["holes"]) if station.kind == StationKind.DRILL else (),
        checks=tuple(checks_among(points, here, shell, results)) if here is not None else (),
        not_sampled=tuple(left_to_sampling(points, here, shell)) if here is not None else (),
        materials=material_fields([(here, spec)], device=device, now=now, typed=typed) if workable and here else (),
        defects=tuple(defects_at(station)),
        needs_pin=station.kind == StationKind.FINAL_CHECK,
        problem=problem,
        signed=signed,
        may_withdraw=signed is not None and (fresh or has_right(person, Right.WITHDRAW_ANY)),
        withdrawal_needs_reason=not fresh,
        may_settle=may_settle,
        may_rework_here=may_settle and here is not None and here.pk in {place.pk for place in rework_places(shell)},
        concessions=tuple(concessions_of(shell)) if station.kind in _SHOWS_CONCESSIONS else (),
        plates=tuple(
            PlateToMeasure(
                place,
                plate["name"],
                plate["thickness_mm"],
                plate["measured_thickness_mm"],
                (typed or {}).get(f"plate-{place}", ""),
            )
            for place, plate in enumerate(spec.inputs["plates"] if measuring else [], start=1)
        ),
        paper_is_old=paper_revision is not None and paper_revision < shell.spec_revision,
        revision=shell.spec_revision,
    )


_CURRENT = {OperationState.READY, OperationState.IN_WORK, OperationState.ON_HOLD}


def defects_at(station: Station) -> list[Defect]:
    """The defects that usually show at a kind of station; all of them when none is listed for it."""
    every = list(Defect.objects.filter(is_active=True).order_by("code"))
    usual = [defect for defect in every if station.kind in [kind.strip() for kind in defect.found_at.split(",")]]
    return usual or every


def _operation_here(operations: list[Operation], current: Operation | None, station: Station) -> Operation | None:
    """The step at this station that matters now: the present one, else the last signed, else the next to come."""
    if current is not None and current.station_id == station.pk:
        return current
    at_station = [o for o in operations if o.station_id == station.pk and o.state != OperationState.SKIPPED]
    done = [operation for operation in at_station if operation.state == OperationState.DONE]
    return done[-1] if done else (at_station[0] if at_station else None)


def _standing(operation: Operation) -> SignOff | None:
    return operation.sign_offs.standing().select_related("person", "record").last()


def _own_and_fresh(signed: SignOff, person: Person, now: datetime) -> bool:
    limit = timedelta(minutes=Shop.current().withdraw_minutes)
    return signed.person_id == person.pk and now - signed.record.received_at <= limit


def _bags(shell: Shell) -> str:
    bags = [each for each in bags_of(shell) if not each.is_loose]
    checked = sum(each.state == BagStand.CHECKED for each in bags)
    return _("{checked} of {bags} checked").format(checked=checked, bags=len(bags)) if bags else ""


def _then(operations: list[Operation], here: Operation | None) -> str:
    """“Trim, after 48 h curing”, or nothing after the last step."""
    if here is None:
        return ""
    following = next((o for o in operations if o.position > here.position and o.state != OperationState.SKIPPED), None)
    if following is None:
        return ""
    if not here.dwell_minutes:
        return following.title
    return _("{title}, after {time} {doing}").format(
        title=following.title, time=hours_minutes(here.dwell_minutes), doing=_(here.dwell_word)
    )


def _elsewhere(shell: Shell, current: Operation | None, station: Station, now: datetime) -> str:
    if current is None:
        said = _("{serial} is {state}; nothing is left to do on it at {station}.")
        return said.format(serial=shell.serial, state=_(shell.get_state_display()), station=station.name)
    if current.is_dwelling(now) and current.not_before is not None:
        return _("{serial} waits until {time}, then {title} at {station} comes next.").format(
            serial=shell.serial,
            time=moment(current.not_before),
            title=current.title,
            station=current.station.name,
        )
    if current.state == OperationState.ON_HOLD:
        return _("{serial} is on hold at {station}.").format(serial=shell.serial, station=current.station.name)
    what = "" if current.title == current.station.name else f": {current.title}"
    said = _("{serial} belongs to {station} now{what}.")
    return said.format(serial=shell.serial, station=current.station.name, what=what)
