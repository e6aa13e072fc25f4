"""What no plan can undercut: at every moment some of the kits that are due cannot be finished yet.

The lateness of a kit is the time after its due date during which it is not finished. So for moments on a grid it is asked
which due kits can be finished by then at all. A kit cannot when one of its shells could not even with the shop for
itself; and not all of them can when together they need more of a station, of people who may do the work, of a mould or
of a drying room than there is until then. What must be left unfinished at least, by weight, is a small covering
problem; summed over time it bounds the weighted lateness of every plan. Change-overs, and that work is not broken off,
are left out of account: they make real plans only later.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import accumulate, combinations, pairwise
from math import ceil

from routing.scheduling.dispatch import moulds_free
from routing.scheduling.hours import Hours, merged
from routing.scheduling.problem import Problem, Task, Window

MOMENTS = 150  # within working hours, about
EACH = 0.02  # deterministic seconds for one moment; the bound holds wherever the solver stops


Rows = dict[int, int]  # rows of latest ends, with how long after that end the need goes on


@dataclass(slots=True)
class _Need:
    """What a kit needs of something scarce, all its shells together."""

    amount: int = 0
    head: int = 1 << 60  # not before
    rows: Rows = field(default_factory=dict)

    def add(self, amount: int, head: int, row: int, after: int = 0) -> None:
        self.amount += amount
        self.head = min(self.head, head)
        self.rows[row] = max(self.rows.get(row, 0), after)

    def join(self, other: _Need) -> None:
        self.amount += other.amount
        self.head = min(self.head, other.head)
        for row, after in other.rows.items():
            self.rows[row] = max(self.rows.get(row, 0), after)


Needs = dict[int, _Need]  # by the number of the kit


@dataclass(frozen=True, slots=True)
class _Scarce:
    needs: Needs
    capacity: Callable[[int, int], int]  # from, until


class _Amount:
    """Minutes of windows before a time, added up."""

    def __init__(self, windows: Iterable[Window]) -> None:
        self.spans = merged(windows)
        self.starts = [start for start, _ in self.spans]
        self.sums = [0, *accumulate(end - start for start, end in self.spans)]

    def until(self, time: int) -> int:
        at = bisect_right(self.starts, time) - 1
        if at < 0:
            return 0
        start, end = self.spans[at]
        return self.sums[at] + min(time, end) - start


def chain_ends(problem: Problem) -> list[list[int]]:
    """For each job the earliest start of each of its tasks with the shop for itself, and at last the end of the job."""
    hours = {station.code: Hours(station.windows) for station in problem.stations}
    people: dict[str, list[Window]] = defaultdict(list)
    for worker in problem.workers:
        for code in worker.stations:
            people[code].extend(worker.windows)
    found = []
    for job in problem.jobs:
        at = job.earliest_min
        row: list[int] = []
        end = job.earliest_min
        for task in job.tasks:
            begin = hours[task.station].next_fit(max(at, task.earliest_min), task.work_min)
            if begin is None or begin + task.work_min > problem.horizon_min:
                row += [problem.horizon_min] * (len(job.tasks) - len(row))
                end = problem.horizon_min
                break
            row.append(begin)
            end = begin + task.work_min
            at = end + task.dwell_min
        found.append([*row, end])
    return found


def lower_bound(problem: Problem, until: int | None = None) -> int:
    """Of the weighted lateness. ``until``: when some plan has finished everything; after it nothing needs to be late."""
    until = problem.horizon_min if until is None else min(until, problem.horizon_min)
    numbers = {kit.key: number for number, kit in enumerate(problem.kits)}
    chains = chain_ends(problem)
    earliest = [0] * len(problem.kits)  # end of each kit with the shop for itself
    for job, chain in zip(problem.jobs, chains, strict=True):
        earliest[numbers[job.kit]] = max(earliest[numbers[job.kit]], chain[-1])
    has_jobs = {numbers[job.kit] for job in problem.jobs}
    bound = sum(kit.weight * max(0, earliest[n] - kit.due_min) for n, kit in enumerate(problem.kits) if n in has_jobs)
    if not has_jobs:
        return 0
    latest = _Latest(problem)
    scarce = _scarce(problem, numbers, chains, latest)
    for start, end in pairwise(_grid(problem, until)):
        # Minutes of this span in which a kit is late if it is not finished at the end of it, beyond its chain.
        costs = {
            n: kit.weight * (end - max(start, kit.due_min, earliest[n]))
            for n, kit in enumerate(problem.kits)
            if n in has_jobs and end > max(start, kit.due_min, earliest[n])
        }
        if costs:
            bound += _least(costs, _covers(scarce, set(costs), latest.by(end)))
    return bound


class _Latest:
    """When a task must have ended, for its job to be finished at a given moment.

    Tasks with the same stations and dwells still before them share a row; it counts with the least work among them.
    """

    def __init__(self, problem: Problem) -> None:
        self.hours = {station.code: tuple(merged(station.windows)) for station in problem.stations}
        self.begins = {code: [start for start, _ in spans] for code, spans in self.hours.items()}
        self.chain: list[tuple[int, str, int]] = [(-1, "", 0)]  # row of the task that follows, its station; dwell
        self.work = [0]  # of the task that follows
        self.known: dict[tuple[int, str, int], int] = {}

    def row(self, following: int, station: str, work: int, dwell: int) -> int:
        """The row of a task with this dwell after it, followed by a task of this station and work in its own row."""
        key = (following, station, dwell)
        if key not in self.known:
            self.known[key] = len(self.chain)
            self.chain.append(key)
            self.work.append(work)
        row = self.known[key]
        self.work[row] = min(self.work[row], work)
        return row

    def by(self, time: int) -> list[int]:
        found = [time]
        for (following, station, dwell), work in zip(self.chain[1:], self.work[1:], strict=True):
            end = found[following]
            spans = self.hours[station]
            at = bisect_left(self.begins[station], end) - 1
            begin = -1
            while at >= 0 and begin < 0:
                first, last = spans[at]
                if min(last, end) - first >= work:
                    begin = min(last, end) - work
                at -= 1
            found.append(begin - dwell)
        return found


def _scarce(problem: Problem, numbers: dict[str, int], chains: list[list[int]], latest: _Latest) -> list[_Scarce]:
    at_station: dict[str, Needs] = defaultdict(lambda: defaultdict(_Need))
    in_mould: dict[str, Needs] = defaultdict(lambda: defaultdict(_Need))
    in_room: dict[str, Needs] = defaultdict(lambda: defaultdict(_Need))
    pressed: dict[str, list[Task]] = defaultdict(list)
    for job, chain in zip(problem.jobs, chains, strict=True):
        kit, row = numbers[job.kit], 0
        for place in range(len(job.tasks) - 1, -1, -1):
            task, head = job.tasks[place], chain[place]
            if place + 1 < len(job.tasks):
                following = job.tasks[place + 1]
                row = latest.row(row, following.station, following.work_min, task.dwell_min)
                if task.room and task.dwell_min:
                    in_room[task.room][kit].add(task.dwell_min, head + task.work_min, row, task.dwell_min)
            at_station[task.station][kit].add(task.work_min, head, row)
            if task.mould:
                pressed[task.mould].append(task)
                in_mould[task.mould][kit].add(1, head, row)
    hours = {station.code: Hours(station.windows) for station in problem.stations}
    return [
        *(
            _Scarce(at_station[station.code], _minutes([(station.windows, station.places)]))
            for station in problem.stations
            if station.code in at_station
        ),
        *_scarce_people(problem, at_station),
        *(
            _Scarce(
                in_mould[name],
                _fillings(hours[tasks[0].station], tasks, problem.moulds[name], problem.mould_taken.get(name, ())),
            )
            for name, tasks in pressed.items()
            if len({task.station for task in tasks}) == 1
        ),
        *(
            _Scarce(needs, _room(problem.rooms[name], problem.room_taken.get(name, ())))
            for name, needs in in_room.items()
        ),
    ]


def _scarce_people(problem: Problem, at_station: dict[str, Needs]) -> Iterable[_Scarce]:
    for codes, people in _groups(problem):
        together: Needs = defaultdict(_Need)
        for code in sorted(codes & at_station.keys()):
            for kit, need in at_station[code].items():
                together[kit].join(need)
        if together:
            yield _Scarce(together, _minutes([(problem.workers[n].windows, 1) for n in sorted(people)]))


def _groups(problem: Problem) -> list[tuple[frozenset[str], frozenset[int]]]:
    """Groups of people with all the stations that nobody else can do."""
    of_station = {
        station.code: frozenset(n for n, worker in enumerate(problem.workers) if station.code in worker.stations)
        for station in problem.stations
    }
    if not problem.workers:
        return []
    alone = set(of_station.values())
    people = alone | {one | two for one, two in combinations(sorted(alone, key=sorted), 2)}
    people.add(frozenset(range(len(problem.workers))))
    return [
        (frozenset(code for code, who in of_station.items() if who <= group), group)
        for group in sorted(people, key=sorted)
    ]


def _minutes(lines: Sequence[tuple[Iterable[Window], int]]) -> Callable[[int, int], int]:
    amounts = [(_Amount(windows), times) for windows, times in lines]
    return lambda start, end: sum(times * (each.until(end) - each.until(start)) for each, times in amounts)


def _fillings(hours: Hours, tasks: Sequence[Task], moulds: int, taken: Sequence[int]) -> Callable[[int, int], int]:
    """How often moulds can be filled and the pressing be done between two times: each again as soon as it is free."""
    work = min(task.work_min for task in tasks)
    hold = min(task.work_min + task.mould_min for task in tasks)
    free = moulds_free(moulds, taken)

    @cache
    def count(start: int, end: int) -> int:
        times = 0
        for first in free:
            at = hours.next_fit(max(start, first), work)
            while at is not None and at + work <= end:
                times += 1
                at = hours.next_fit(at + hold, work)
        return times

    return count


def _room(places: int, taken: Sequence[int]) -> Callable[[int, int], int]:
    most = max(places, len(taken))
    return lambda start, end: most * (end - start) - sum(max(0, min(leaves, end) - max(0, start)) for leaves in taken)


def _covers(scarce: Sequence[_Scarce], due: set[int], latest: Sequence[int]) -> list[tuple[dict[int, int], int]]:
    """For each scarce thing that due kits want too much of: what each of them needs, and how much is missing."""
    found = []
    for each in scarce:
        needs = {kit: need for kit, need in each.needs.items() if kit in due}
        if not needs:
            continue
        start = min(need.head for need in needs.values())
        last: Rows = {}
        for need in needs.values():
            last.update(need.rows)
        end = max(latest[row] + after for row, after in last.items())
        missing = sum(need.amount for need in needs.values()) - max(0, each.capacity(start, max(start, end)))
        if missing > 0:
            found.append(({kit: need.amount for kit, need in needs.items()}, missing))
    return found


def _least(costs: dict[int, int], covers: list[tuple[dict[int, int], int]]) -> int:
    """The least cost of kits that are left unfinished, so that nothing is missing."""
    if not covers:
        return 0
    if len(covers) == 1 and len(covers[0][0]) == 1:
        return min(costs[kit] for kit in covers[0][0])
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    left = {kit: model.new_bool_var("") for kit in sorted(costs)}
    for amounts, missing in covers:
        model.add(sum(amount * left[kit] for kit, amount in amounts.items()) >= missing)
    model.minimize(sum(cost * left[kit] for kit, cost in costs.items()))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = EACH
    solver.solve(model)
    return max(0, ceil(solver.best_objective_bound - 1e-6))


def _grid(problem: Problem, until: int) -> list[int]:
    """Begin and end of working hours, and moments between them; while nobody works everything stays as it is."""
    hours = merged(window for station in problem.stations for window in station.windows)
    hours = [(max(0, start), min(end, until)) for start, end in hours if start < until and end > 0]
    step = max(1, sum(end - start for start, end in hours) // MOMENTS)
    times = {0, until}
    for start, end in hours:
        times.update(range(start, end, step))
        times.add(end)
    return sorted(times)
