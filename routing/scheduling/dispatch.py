"""A plan at once: whatever can begin first begins first, and of what could begin together the most pressing.

Nothing stands idle while work waits for it (a non-delay schedule), so the plan is never silly, if seldom the best.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from routing.scheduling.hours import Hours
from routing.scheduling.problem import Job, Kit, Placed, Problem, Schedule, StationHours, Task


class Rule(StrEnum):
    """What is most pressing: of equal starts the smallest value goes first."""

    DUE = "due date"  # of the kit, the heavier first
    SLACK = "least slack"  # time to the due date less the work and dwells that are left, shared by weight


@dataclass
class _Place:
    free: int = 0
    campaign: str = ""
    used: bool = False


@dataclass
class _Station:
    hours: Hours
    setup: int
    places: list[_Place]


@dataclass
class _Worker:
    key: str
    hours: Hours
    skills: int
    free: int = 0


@dataclass
class _Shop:
    """What is taken so far."""

    stations: dict[str, _Station]
    workers: dict[str, list[_Worker]]  # by station; no entry: people are no limit there
    moulds: dict[str, list[int]]  # when each becomes free
    rooms: dict[str, list[int]]  # when what stands there leaves
    room_places: Mapping[str, int]
    people_matter: bool


@dataclass(frozen=True)
class _Fit:
    start: int
    place: int
    worker: _Worker | None


@dataclass(order=True)
class _Waiting:
    start: int
    pressing: float
    number: int
    step: int = field(compare=False)
    ready: int = field(compare=False)


def dispatch(problem: Problem, rule: Rule = Rule.SLACK) -> Schedule:
    """A feasible schedule. Serials of jobs that find no place within the horizon stand in ``left_out``."""
    shop = _open(problem)
    kits = {kit.key: kit for kit in problem.kits}
    heap: list[_Waiting] = []
    for number, job in enumerate(problem.jobs):
        if job.tasks:
            ready = max(job.earliest_min, job.tasks[0].earliest_min)
            # What is in work already comes before everything else.
            pressing = -1e18 if job.tasks[0].in_work_by else _pressing(job, 0, kits[job.kit], rule)
            heap.append(_Waiting(ready, pressing, number, 0, ready))
    heapq.heapify(heap)
    placed: list[Placed] = []
    done: dict[int, int] = {number: job.earliest_min for number, job in enumerate(problem.jobs) if not job.tasks}
    left_out: set[int] = set()
    while heap:
        waiting = heapq.heappop(heap)
        job = problem.jobs[waiting.number]
        task = job.tasks[waiting.step]
        fit = _fit(shop, task, waiting.ready)
        if fit is None or fit.start + task.work_min > problem.horizon_min:
            left_out.add(waiting.number)
            continue
        # What is in work already takes its person and place at once, even when it goes on after the break.
        if fit.start > waiting.start and not task.in_work_by:
            heapq.heappush(heap, _Waiting(fit.start, waiting.pressing, waiting.number, waiting.step, waiting.ready))
            continue
        end = _take(shop, task, fit)
        placed.append(
            Placed(task.key, job.key, fit.start, end, fit.place, fit.worker.key if fit.worker is not None else "")
        )
        if waiting.step + 1 == len(job.tasks):
            done[waiting.number] = end
            continue
        following = job.tasks[waiting.step + 1]
        ready = max(end + task.dwell_min, following.earliest_min)
        pressing = _pressing(job, waiting.step + 1, kits[job.kit], rule)
        heapq.heappush(heap, _Waiting(ready, pressing, waiting.number, waiting.step + 1, ready))
    late, flow = measure(problem, {problem.jobs[number].key: end for number, end in done.items()})
    return Schedule(
        placed=tuple(placed),
        lateness=late,
        flow=flow,
        bound=0,
        found_by=rule.value,
        left_out=tuple(problem.jobs[number].key for number in sorted(left_out)),
    )


def measure(problem: Problem, ends: Mapping[str, int]) -> tuple[int, int]:
    """Weighted lateness and flow of a plan in which jobs end as given; a job without an end ends with the horizon."""
    last: dict[str, int] = {}
    flow = 0
    for job in problem.jobs:
        end = ends.get(job.key, problem.horizon_min)
        last[job.kit] = max(last.get(job.kit, 0), end)
        flow += end
    late = sum(kit.weight * max(0, last[kit.key] - kit.due_min) for kit in problem.kits if kit.key in last)
    return late, flow


def ends_of(problem: Problem, placed: Sequence[Placed]) -> dict[str, int]:
    """When each job that is placed as a whole ends."""
    end_of = {each.task: each.end_min for each in placed}
    return {
        job.key: end_of[job.tasks[-1].key] if job.tasks else job.earliest_min
        for job in problem.jobs
        if not job.tasks or job.tasks[-1].key in end_of
    }


def _pressing(job: Job, step: int, kit: Kit, rule: Rule) -> float:
    if rule == Rule.DUE:
        return kit.due_min - kit.weight / 100
    left = sum(task.work_min + task.dwell_min for task in job.tasks[step:])
    slack = kit.due_min - left
    return slack / kit.weight if slack > 0 else slack * kit.weight


def _open(problem: Problem) -> _Shop:
    workers: dict[str, list[_Worker]] = {}
    for worker in problem.workers:
        one = _Worker(worker.key, Hours(worker.windows), len(worker.stations))
        for code in worker.stations:
            workers.setdefault(code, []).append(one)
    return _Shop(
        stations={station.code: _station(station) for station in problem.stations},
        workers=workers,
        moulds={name: moulds_free(count, problem.mould_taken.get(name, ())) for name, count in problem.moulds.items()},
        rooms={name: sorted(problem.room_taken.get(name, ())) for name in problem.rooms},
        room_places=problem.rooms,
        people_matter=bool(problem.workers),
    )


def moulds_free(count: int, taken: Sequence[int]) -> list[int]:
    """When each mould is free first; of more in use than there are, the ones emptied first are not filled again."""
    return (sorted(taken) + [0] * max(0, count - len(taken)))[max(0, len(taken) - count) :]


def _station(station: StationHours) -> _Station:
    return _Station(Hours(station.windows), station.setup_min, [_Place() for _ in range(station.places)])


def _fit(shop: _Shop, task: Task, ready: int) -> _Fit | None:
    """Where and when a task can begin at the earliest, after everything that is placed already."""
    station = shop.stations[task.station]
    people = shop.workers.get(task.station, []) if shop.people_matter else []
    if shop.people_matter and not people:
        return None
    start = ready
    while True:
        free, place = min(
            (each.free + (station.setup if each.used and each.campaign != task.campaign else 0), number)
            for number, each in enumerate(station.places)
        )
        at = station.hours.next_fit(max(start, free, _mould_free(shop, task)), task.work_min)
        if at is None:
            return None
        worker: _Worker | None = None
        if people:
            found = _soonest(people, at, task)
            if found is None:
                return None
            begin, worker = found
            if begin > at:
                start = begin
                continue
        leaves = _room_free(shop, task, at + task.work_min)
        if leaves is not None:
            start = leaves - task.work_min
            continue
        return _Fit(at, place, worker)


def _soonest(people: Sequence[_Worker], at: int, task: Task) -> tuple[int, _Worker] | None:
    """Who can begin first; of equals the one who can do least else."""
    best: tuple[int, int, str, _Worker] | None = None
    for each in people:
        if task.in_work_by and each.key != task.in_work_by and any(w.key == task.in_work_by for w in people):
            continue
        begin = each.hours.next_fit(max(at, each.free), task.work_min)
        if begin is not None and (best is None or (begin, each.skills, each.key) < best[:3]):
            best = (begin, each.skills, each.key, each)
    return (best[0], best[3]) if best else None


def _mould_free(shop: _Shop, task: Task) -> int:
    return min(shop.moulds[task.mould]) if task.mould else 0


def _room_free(shop: _Shop, task: Task, end: int) -> int | None:
    """None when the shell finds room at ``end``; else when the next one leaves."""
    if not task.room or not task.dwell_min:
        return None
    staying = sorted(leaves for leaves in shop.rooms[task.room] if leaves > end)
    too_many = len(staying) - shop.room_places[task.room] + 1
    return None if too_many <= 0 else staying[too_many - 1]


def _take(shop: _Shop, task: Task, fit: _Fit) -> int:
    end = fit.start + task.work_min
    place = shop.stations[task.station].places[fit.place]
    place.free, place.campaign, place.used = end, task.campaign, True
    if fit.worker is not None:
        fit.worker.free = end
    if task.mould:
        moulds = shop.moulds[task.mould]
        moulds[moulds.index(min(moulds))] = end + task.mould_min
    if task.room and task.dwell_min:
        shop.rooms[task.room] = [leaves for leaves in shop.rooms[task.room] if leaves > fit.start]
        shop.rooms[task.room].append(end + task.dwell_min)
    return end
