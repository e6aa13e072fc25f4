"""From the present state of the shop to a problem for the planner.

Counted: released orders with every step that is still open, what is in work and what dwells, the shop's hours, closures,
outages and absences, qualified people, moulds and drying rooms. Left out, and named: shells on hold.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Prefetch
from django.db.models.fields.json import KeyTransform
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from routing.models import (
    Absence,
    DryingRoom,
    Mould,
    Operation,
    OperationState,
    OrderState,
    Outage,
    Shell,
    ShellSpec,
    ShellState,
    Station,
    StationKind,
)
from routing.models.capacity import rooms_after
from routing.planning import PlannedStep
from routing.scheduling.hours import without
from routing.scheduling.problem import Job, Kit, Problem, StationHours, Task, Window, Worker
from routing.shop_hours import ShopHours

OPEN_ORDERS = [OrderState.RELEASED, OrderState.IN_PRODUCTION, OrderState.COMPLETE]
TO_DO = [OperationState.READY, OperationState.IN_WORK, OperationState.WAITING, OperationState.ON_HOLD]
_COATED = {StationKind.SEAL, StationKind.FINISH}
HORIZON_DAYS = 500  # no plan looks further; what finds no place until then is left out and named
NAMED = 6  # of the shells on hold
BEYOND_DAYS = 10  # of working hours kept after the last step of a first plan
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class PlanPerson:
    """Somebody who may be planned for: who they are and which stations they may sign at, by code."""

    key: int
    name: str
    stations: frozenset[str]


@dataclass(frozen=True, slots=True)
class ShopProblem:
    """A problem together with what its numbers stand for."""

    problem: Problem
    begins: datetime  # minute 0
    hours: ShopHours
    stations: dict[str, Station]
    rooms: dict[int, str]  # the drying room after each station, by the station's id
    on_hold: tuple[str, ...]  # serials that are not planned until somebody decides
    notes: tuple[str, ...]  # what the plan counts on, in sentences

    def at(self, minute: int) -> datetime:
        return self.begins + minute * _MINUTE

    def minute(self, at: datetime) -> int:
        """Whole minutes from the beginning to ``at``; part of one counts as one."""
        return -(-int((at - self.begins).total_seconds()) // 60)


@dataclass(frozen=True, slots=True)
class _Rest:
    """What the specs say of pressing and coats."""

    moulds: frozenset[str]  # those that the shop has
    press: dict[int, tuple[float, int]]  # by shell: diameter, minutes in the mould
    coats: dict[int, list[dict[str, Any]]]


def problem_of(
    *,
    now: datetime,
    people: Sequence[PlanPerson],
    away: Sequence[tuple[int, date, date]] = (),
    down: Sequence[tuple[str, datetime, datetime]] = (),
) -> ShopProblem:
    """The shop as it is at ``now``. ``away`` (person, first and last day) and ``down`` (station's code, from, until) come
    on top of what is entered, for asking what would happen. A fixed number of queries.
    """
    begins = now.replace(second=0, microsecond=0)
    hours = ShopHours.load()
    today = timezone.localdate(begins)
    stations = {station.code: station for station in Station.objects.filter(is_active=True)}
    shells = _shells()
    moulds = {_mould_name(mould.diameter_in): mould.count for mould in Mould.objects.all()}
    rest = _rest(shells, frozenset(moulds))
    shop = ShopProblem(
        Problem(horizon_min=HORIZON_DAYS * 1440, kits=(), jobs=(), stations=()),
        begins=begins,
        hours=hours,
        stations=stations,
        rooms=_rooms_by_station(),
        on_hold=tuple(shell.serial for shell in shells if shell.state == ShellState.ON_HOLD),
        notes=(),
    )
    by_name = {person.name: str(person.key) for person in people}
    active = {station.pk: station for station in stations.values()}
    jobs = [_job(shop, shell, active, rest, by_name) for shell in shells if shell.state != ShellState.ON_HOLD]
    jobs = [job for job in jobs if job.tasks]
    in_plan = {job.kit for job in jobs}
    # A kit with a held shell is planned with the others; what is held adds to it when it is let go.
    orders = {shell.order.number: shell.order for shell in shells}
    open_hours = [
        (shop.minute(a), shop.minute(b)) for a, b in hours.between(today, today + timedelta(days=HORIZON_DAYS))
    ]
    open_hours = [(max(0, a), b) for a, b in open_hours if b > 0]
    holes = _outages(shop, down)
    problem = Problem(
        horizon_min=HORIZON_DAYS * 1440,
        kits=tuple(
            Kit(number, shop.minute(hours.closes(order.due)), order.weight)
            for number, order in orders.items()
            if number in in_plan
        ),
        jobs=tuple(jobs),
        stations=tuple(
            StationHours(
                code, station.places, round(station.setup_min), tuple(without(open_hours, holes.get(code, [])))
            )
            for code, station in stations.items()
        ),
        workers=_workers(shop, people, open_hours, away),
        moulds=moulds,
        mould_taken=_moulds_in_use(shop, shells, rest),
        rooms={room.name: room.places for room in DryingRoom.objects.all()},
        room_taken=_standing(shop, shells),
    )
    return replace(shop, problem=problem, notes=tuple(_notes(shop, problem)))


def shortened(shop: ShopProblem, last_end_min: int) -> ShopProblem:
    """The same problem with no more hours than a plan that ends at ``last_end_min`` may need: quicker to better."""
    until = min(shop.problem.horizon_min, last_end_min + BEYOND_DAYS * 1440)

    def cut(windows: Iterable[Window]) -> tuple[Window, ...]:
        return tuple((a, min(b, until)) for a, b in windows if a < until)

    problem = replace(
        shop.problem,
        horizon_min=until,
        stations=tuple(replace(each, windows=cut(each.windows)) for each in shop.problem.stations),
        workers=tuple(replace(each, windows=cut(each.windows)) for each in shop.problem.workers),
    )
    return replace(shop, problem=problem)


def with_kit(
    shop: ShopProblem,
    *,
    number: str,
    drums: Sequence[tuple[Sequence[PlannedStep], dict[str, Any], dict[str, Any]]],
    due_min: int,
    weight: int = 1,
) -> ShopProblem:
    """The same problem with one more kit: for each drum its steps, frozen inputs and results. Its keys are below zero and
    below those of other such kits.
    """
    key = min([0, *(task.key for job in shop.problem.jobs for task in job.tasks)]) - 1
    jobs = []
    for place, (steps, inputs, results) in enumerate(drums, start=1):
        rest = _Rest(
            frozenset(shop.problem.moulds),
            {0: (float(inputs["nominal_diameter_in"]), _press_min(results["pressing"]["time_min"]))},
            {0: inputs["finish"]["coats"]},
        )
        tasks = []
        for step in steps:
            if step.station.code in shop.stations:
                tasks.append(
                    _task(
                        shop, rest, 0, key, step.station, step.work_min, step.dwell_minutes, step.coat_index, step.title
                    )
                )
                key -= 1
        jobs.append(Job(f"{number}/{place}", number, tuple(tasks)))
    problem = replace(
        shop.problem,
        kits=(*shop.problem.kits, Kit(number, due_min, weight)),
        jobs=(*shop.problem.jobs, *jobs),
    )
    return replace(shop, problem=problem)


def _shells() -> list[Shell]:
    steps = Operation.objects.filter(state__in=TO_DO).order_by("position")
    return list(
        Shell.objects.filter(order__state__in=OPEN_ORDERS)
        .exclude(state__in=[ShellState.PACKED, ShellState.SCRAPPED, ShellState.REMADE])
        .select_related("order")
        .prefetch_related(Prefetch("operations", queryset=steps, to_attr="to_do"))
        .order_by("order__due", "order__number", "serial")
    )


def _rest(shells: Sequence[Shell], moulds: frozenset[str]) -> _Rest:
    press: dict[int, tuple[float, int]] = {}
    coats: dict[int, list[dict[str, Any]]] = {}
    rows = (
        ShellSpec.objects.filter(shell__in=[shell.pk for shell in shells])
        .order_by("shell_id", "revision")
        .annotate(
            diameter=KeyTransform("nominal_diameter_in", "inputs"),
            time_min=KeyTransform("time_min", KeyTransform("pressing", "results")),
            coats=KeyTransform("coats", KeyTransform("finish", "inputs")),
        )
        .values_list("shell_id", "diameter", "time_min", "coats")
    )
    for shell, diameter, time_min, coat_list in rows:  # the newest revision comes last and stays
        press[shell] = (float(diameter), _press_min(time_min))
        coats[shell] = coat_list or []
    return _Rest(moulds, press, coats)


def _press_min(time_min: float | str) -> int:
    return max(0, round(float(time_min)))


def _rooms_by_station() -> dict[int, str]:
    through = DryingRoom.stations.through
    return rooms_after(through.objects.values_list("station_id", "dryingroom_id", "dryingroom__name"))


def _job(shop: ShopProblem, shell: Shell, active: dict[int, Station], rest: _Rest, by_name: dict[str, str]) -> Job:
    tasks = []
    for step in shell.to_do:  # type: ignore[attr-defined]
        station = active.get(step.station_id)
        if station is None:
            continue
        earliest = max(0, shop.minute(step.not_before)) if step.not_before else 0
        task = _task(
            shop, rest, shell.pk, step.pk, station, step.work_min, step.dwell_minutes, step.coat_index, step.title
        )
        if earliest:
            task = replace(task, earliest_min=earliest)
        if step.state == OperationState.IN_WORK and not step.paused_at and step.started_at:
            done = int((shop.begins - step.started_at).total_seconds() // 60)
            left = max(1, task.work_min - max(0, done))
            task = replace(task, work_min=left, in_work_by=by_name.get(step.started_by_name, ""))
        tasks.append(task)
    return Job(shell.serial, shell.order.number, tuple(tasks))


def _task(
    shop: ShopProblem,
    rest: _Rest,
    shell: int,
    key: int,
    station: Station,
    work_min: float | None,
    dwell_min: int,
    coat_index: int | None,
    title: str,
) -> Task:
    mould, mould_min, campaign = "", 0, ""
    if station.kind == StationKind.PRESS and shell in rest.press:
        diameter, held = rest.press[shell]
        campaign = _mould_name(diameter)
        if campaign in rest.moulds:
            mould, mould_min = campaign, held
    elif station.kind in _COATED and coat_index is not None and coat_index < len(rest.coats.get(shell, [])):
        campaign = str(rest.coats[shell][coat_index]["name"])
    return Task(
        key=key,
        station=station.code,
        work_min=max(1, round(station.work_min if work_min is None else work_min)),
        dwell_min=dwell_min,
        mould=mould,
        mould_min=mould_min,
        campaign=campaign,
        room=shop.rooms.get(station.pk, "") if dwell_min else "",
        title=title,
    )


def _mould_name(diameter_in: float) -> str:
    return f"{diameter_in:g} in"


def _outages(shop: ShopProblem, down: Sequence[tuple[str, datetime, datetime]]) -> dict[str, list[Window]]:
    holes: dict[str, list[Window]] = defaultdict(list)
    entered = Outage.objects.filter(ends_at__gt=shop.begins).values_list("station__code", "starts_at", "ends_at")
    for code, starts, ends in [*entered, *down]:
        holes[code].append((max(0, shop.minute(starts)), max(0, shop.minute(ends))))
    return holes


def _workers(
    shop: ShopProblem, people: Sequence[PlanPerson], open_hours: list[Window], away: Sequence[tuple[int, date, date]]
) -> tuple[Worker, ...]:
    holes: dict[int, list[Window]] = defaultdict(list)
    entered = Absence.objects.filter(last__gte=timezone.localdate(shop.begins)).values_list(
        "person_id", "first", "last"
    )
    for person, first, last in [*entered, *away]:
        holes[person].append((max(0, _midnight(shop, first)), max(0, _midnight(shop, last + timedelta(days=1)))))
    return tuple(
        Worker(str(person.key), person.stations, tuple(without(open_hours, holes.get(person.key, []))))
        for person in people
    )


def _midnight(shop: ShopProblem, day: date) -> int:
    return shop.minute(datetime.combine(day, time(), timezone.get_current_timezone()))


def _dwelling(shop: ShopProblem, shells: Sequence[Shell]) -> dict[int, Operation]:
    """The step behind each shell that dwells now."""
    waiting = [
        (shell.pk, shell.to_do[0].position)  # type: ignore[attr-defined]
        for shell in shells
        if shell.to_do and shell.to_do[0].is_dwelling(shop.begins)  # type: ignore[attr-defined]
    ]
    behind: dict[int, Operation] = {}
    position = dict(waiting)
    steps = Operation.objects.filter(shell__in=position, state=OperationState.DONE).select_related("station")
    for step in steps.order_by("position"):
        if step.position < position[step.shell_id]:
            behind[step.shell_id] = step
    return behind


def _standing(shop: ShopProblem, shells: Sequence[Shell]) -> dict[str, tuple[int, ...]]:
    """For each drying room until when what stands there now stays."""
    leaves: dict[str, list[int]] = defaultdict(list)
    behind = _dwelling(shop, shells)
    for shell in shells:
        step = behind.get(shell.pk)
        if step is not None and (room := shop.rooms.get(step.station_id)):
            leaves[room].append(max(0, shop.minute(shell.to_do[0].not_before)))  # type: ignore[attr-defined]
    return {room: tuple(times) for room, times in leaves.items()}


def _moulds_in_use(shop: ShopProblem, shells: Sequence[Shell], rest: _Rest) -> dict[str, tuple[int, ...]]:
    """Shells glued up a short while ago are still in their moulds."""
    taken: dict[str, list[int]] = defaultdict(list)
    pressed = Operation.objects.filter(
        shell__in=[shell.pk for shell in shells],
        station__kind=StationKind.PRESS,
        state=OperationState.DONE,
        done_at__gte=shop.begins - timedelta(days=2),
    ).values_list("shell_id", "done_at")
    for shell, done_at in pressed:
        diameter, held = rest.press.get(shell, (0.0, 0))
        until = shop.minute(done_at) + held if done_at else 0
        if until > 0 and _mould_name(diameter) in rest.moulds:
            taken[_mould_name(diameter)].append(until)
    return {name: tuple(times) for name, times in taken.items()}


def _notes(shop: ShopProblem, problem: Problem) -> Iterable[str]:
    needed: dict[str, int] = defaultdict(int)
    for job in problem.jobs:
        for code in {task.station for task in job.tasks}:
            needed[code] += 1
    able = {code for worker in problem.workers for code in worker.stations}
    for code, count in needed.items():
        if problem.workers and code not in able:
            yield ngettext(
                "Nobody is qualified at {station}: {count} shell that still needs it can't be planned. "
                "Qualify somebody under People.",
                "Nobody is qualified at {station}: {count} shells that still need it can't be planned. "
                "Qualify somebody under People.",
                count,
            ).format(station=shop.stations[code].name, count=count)
    if held := shop.on_hold:
        yield ngettext(
            "{count} shell is on hold and not planned until somebody decides: {serials}.",
            "{count} shells are on hold and not planned until somebody decides: {serials}.",
            len(held),
        ).format(count=len(held), serials=", ".join(held[:NAMED]) + (_(" and more") if len(held) > NAMED else ""))
