"""A plan at once: whatever can begin first begins first, and of what could begin together the most pressing.

Nothing stands idle while work waits for it (a non-delay schedule), so the plan is never silly, if seldom the best.
"""

from __future__ import annotations

import heapq
from bisect import bisect_right, insort
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from routing.scheduling.hours import Hours, Interrupted
from routing.scheduling.problem import Job, Kit, Placed, Problem, Schedule, StationHours, Task, Window

# Told which step of a job begins when; says when it really ends, and whether the job goes on with its next step.
Really = Callable[[Job, Task, int], tuple[int, bool]]


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
    rooms: dict[str, list[int]]  # when what stands there leaves, the first first
    room_places: Mapping[str, int]
    people_matter: bool


@dataclass(frozen=True)
class _Fit:
    start: int
    place: int
    worker: _Worker | None


_Step = tuple[float, int, int]  # how pressing, number of the job, place of the task in it


@dataclass(slots=True)
class _Alike:
    """Steps that differ in nothing that says when they can begin: of all of them only the most pressing is looked at.

    ``time`` is known to be no later than when those that are ready can begin.
    """

    task: Task
    time: int = 0
    is_fitted: bool = False  # the time was found among what is taken; else it is when the first becomes ready
    entry: int = 0  # only the newest entry in the queue counts
    ready: list[_Step] = field(default_factory=list)  # heap: the most pressing first
    later: list[tuple[int, _Step]] = field(default_factory=list)  # heap: ready after ``time``, the first first


# When it may begin, how pressing, number of the job, number of the entry, the steps alike.
_Entry = tuple[int, float, int, int, _Alike]


class _Queue:
    """All steps that wait, and which may begin first: of equal starts the most pressing."""

    def __init__(self) -> None:
        self.heap: list[_Entry] = []
        self.kinds: dict[tuple[object, ...], _Alike] = {}
        self.entries = 0

    def add(self, task: Task, ready: int, step: _Step) -> None:
        room = task.room if task.dwell_min else ""
        # What is in work already is like nothing else.
        own = step if task.in_work_by else None
        key = (task.station, task.work_min, task.campaign, task.mould, room, own)
        kind = self.kinds.get(key)
        if kind is None:
            kind = self.kinds[key] = _Alike(task)
        if not kind.ready:
            kind.time, kind.is_fitted = ready, False
        elif ready < kind.time and not kind.is_fitted:
            for each in kind.ready:
                heapq.heappush(kind.later, (kind.time, each))
            kind.ready.clear()
            kind.time = ready
        # What becomes ready before a time that was fitted finds the same place: nothing earlier is free any more.
        if ready > kind.time:
            heapq.heappush(kind.later, (ready, step))
            return
        heapq.heappush(kind.ready, step)
        if kind.ready[0] is step:
            self._enter(kind)

    def pop(self) -> _Alike | None:
        while self.heap:
            entry = heapq.heappop(self.heap)
            if entry[3] == entry[4].entry:
                return entry[4]
        return None

    def move(self, kind: _Alike, time: int) -> None:
        """Those that are ready can't begin before ``time``; it was found among what is taken."""
        kind.time, kind.is_fitted = time, True
        while kind.later and kind.later[0][0] <= time:
            heapq.heappush(kind.ready, heapq.heappop(kind.later)[1])
        self._enter(kind)

    def take(self, kind: _Alike) -> _Step:
        """The most pressing of those that are ready; the others wait on."""
        step = heapq.heappop(kind.ready)
        if not kind.ready and kind.later:
            kind.time, kind.is_fitted = kind.later[0][0], False
            while kind.later and kind.later[0][0] == kind.time:
                heapq.heappush(kind.ready, heapq.heappop(kind.later)[1])
        if kind.ready:
            self._enter(kind)
        return step

    def _enter(self, kind: _Alike) -> None:
        self.entries += 1
        kind.entry = self.entries
        pressing, number, _ = kind.ready[0]
        heapq.heappush(self.heap, (kind.time, pressing, number, kind.entry, kind))


def dispatch(problem: Problem, rule: Rule = Rule.SLACK) -> Schedule:
    """A feasible schedule. Serials of jobs that find no place within the horizon stand in ``left_out``."""
    kits = {kit.key: kit for kit in problem.kits}
    left = [_work_left(job) for job in problem.jobs]

    def pressing(number: int, step: int) -> float:
        return _pressing(kits[problem.jobs[number].kit], left[number][step], rule)

    placed, left_out = _place(_open(problem), problem, pressing)
    late, flow = measure(problem, ends_of(problem, placed))
    return Schedule(
        placed=tuple(placed),
        lateness=late,
        flow=flow,
        bound=0,
        found_by=rule.value,
        left_out=tuple(problem.jobs[number].key for number in sorted(left_out)),
    )


def work_off(
    problem: Problem, plan: Schedule, *, until: int, down: Mapping[str, Window], really: Really
) -> list[Placed]:
    """What begins before ``until`` when a plan is worked off in its order with who and what is really there.

    ``down`` are the times at which stations break down: nobody knows of one before it comes, so work begins that will
    run into it. Nobody stands idle while something else can begin.
    """
    shop = _open(problem)
    for code, hole in down.items():
        shop.stations[code].hours = Interrupted(shop.stations[code].hours.windows, hole)
    turn = {each.task: number for number, each in enumerate(plan.placed)}

    def pressing(number: int, step: int) -> float:
        return turn.get(problem.jobs[number].tasks[step].key, len(turn))

    return _place(shop, problem, pressing, until, really)[0]


def _place(
    shop: _Shop,
    problem: Problem,
    pressing: Callable[[int, int], float],
    until: int | None = None,
    really: Really | None = None,
) -> tuple[list[Placed], set[int]]:
    """Every step that begins before ``until``, in the order in which they begin; numbers of jobs that find no place."""
    queue = _Queue()
    for number, job in enumerate(problem.jobs):
        if job.tasks:
            # What is in work already comes before everything else.
            first = -1e18 if job.tasks[0].in_work_by else pressing(number, 0)
            queue.add(job.tasks[0], max(job.earliest_min, job.tasks[0].earliest_min), (first, number, 0))
    placed: list[Placed] = []
    left_out: set[int] = set()
    while (kind := queue.pop()) is not None:
        if until is not None and kind.time >= until:
            break
        fit = _fit(shop, kind.task, kind.time)
        if fit is None or fit.start + kind.task.work_min > problem.horizon_min:
            left_out.add(queue.take(kind)[1])
            continue
        # What is in work already takes its person and place at once, even when it goes on after the break.
        if fit.start > kind.time and not kind.task.in_work_by:
            queue.move(kind, fit.start)
            continue
        _, number, step = queue.take(kind)
        job = problem.jobs[number]
        task = job.tasks[step]
        end, goes_on = really(job, task, fit.start) if really else (fit.start + task.work_min, True)
        _take(shop, task, fit, end)
        placed.append(
            Placed(task.key, job.key, fit.start, end, fit.place, fit.worker.key if fit.worker is not None else "")
        )
        if goes_on and step + 1 < len(job.tasks):
            following = job.tasks[step + 1]
            ready = max(end + task.dwell_min, following.earliest_min)
            queue.add(following, ready, (pressing(number, step + 1), number, step + 1))
    return placed, left_out


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


def _work_left(job: Job) -> list[int]:
    """Before each step of a job the work and dwells that are left."""
    left = [0]
    for task in reversed(job.tasks):
        left.append(left[-1] + task.work_min + task.dwell_min)
    return left[:0:-1]


def _pressing(kit: Kit, left: int, rule: Rule) -> float:
    if rule == Rule.DUE:
        return kit.due_min - kit.weight / 100
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
    leaving = shop.rooms[task.room]
    stay_from = bisect_right(leaving, end)
    too_many = len(leaving) - stay_from - shop.room_places[task.room] + 1
    return None if too_many <= 0 else leaving[stay_from + too_many - 1]


def _take(shop: _Shop, task: Task, fit: _Fit, end: int) -> None:
    place = shop.stations[task.station].places[fit.place]
    place.free, place.campaign, place.used = end, task.campaign, True
    if fit.worker is not None:
        fit.worker.free = end
    if task.mould:
        moulds = shop.moulds[task.mould]
        moulds[moulds.index(min(moulds))] = end + task.mould_min
    if task.room and task.dwell_min:
        leaving = shop.rooms[task.room]
        del leaving[: bisect_right(leaving, fit.start)]
        insort(leaving, end + task.dwell_min)
