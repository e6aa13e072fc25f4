"""Whether a schedule keeps every rule, looked at from outside: it shares no rule with what makes schedules."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

from routing.scheduling.hours import merged
from routing.scheduling.problem import Placed, Problem, Schedule, Task


def faults(problem: Problem, schedule: Schedule) -> list[str]:
    """A sentence for each rule that is broken; nothing when all are kept."""
    tasks = {task.key: task for job in problem.jobs for task in job.tasks}
    where = {each.task: each for each in schedule.placed}
    found = [f"task {key} is placed, but there is no such task" for key in where if key not in tasks]
    if len(where) != len(schedule.placed):
        found.append("a task is placed twice")
    if found:
        return found
    return [
        *_order(problem, where, set(schedule.left_out)),
        *_hours(problem, where, tasks),
        *_stations(problem, where, tasks),
        *_people(problem, where, tasks),
        *_in_work(problem, where, tasks),
        *_moulds(problem, where, tasks),
        *_rooms(problem, where, tasks),
    ]


def _order(problem: Problem, where: dict[int, Placed], left_out: set[str]) -> Iterator[str]:
    for job in problem.jobs:
        ready = job.earliest_min
        for task in job.tasks:
            placed = where.get(task.key)
            if placed is None:
                if job.key not in left_out:
                    yield f"{job.key}: task {task.key} is not placed, and the job is not said to be left out"
                break
            if placed.start_min < max(ready, task.earliest_min):
                yield f"{job.key}: task {task.key} begins before it can"
            if placed.end_min - placed.start_min != task.work_min:
                yield f"{job.key}: task {task.key} does not take its time"
            if placed.end_min > problem.horizon_min or placed.start_min < 0:
                yield f"{job.key}: task {task.key} lies outside the plan"
            ready = placed.end_min + task.dwell_min


def _hours(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    windows = {station.code: station.windows for station in problem.stations}
    for key, placed in where.items():
        if not _inside(windows[tasks[key].station], placed):
            yield f"task {key} lies outside the hours of {tasks[key].station}"


def _stations(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    at: dict[tuple[str, int], list[Placed]] = defaultdict(list)
    for key, placed in where.items():
        at[tasks[key].station, placed.place].append(placed)
    about = {station.code: station for station in problem.stations}
    for (code, place), row in at.items():
        if not 0 <= place < about[code].places:
            yield f"{code} has no place {place}"
        row.sort(key=lambda each: each.start_min)
        for before, after in pairwise(row):
            other = tasks[before.task].campaign != tasks[after.task].campaign
            if after.start_min < before.end_min + (about[code].setup_min if other else 0):
                yield f"tasks {before.task} and {after.task} stand in each other's way at {code}"


def _people(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    if not problem.workers:
        return
    about = {worker.key: worker for worker in problem.workers}
    rows: dict[str, list[Placed]] = defaultdict(list)
    for key, placed in where.items():
        worker = about.get(placed.worker)
        if worker is None:
            yield f"nobody does task {key}"
            continue
        if tasks[key].station not in worker.stations:
            yield f"{worker.key} does task {key} without being qualified for {tasks[key].station}"
        if not _inside(worker.windows, placed):
            yield f"{worker.key} does task {key} outside their hours"
        rows[worker.key].append(placed)
    for name, row in rows.items():
        row.sort(key=lambda each: each.start_min)
        for before, after in pairwise(row):
            if after.start_min < before.end_min:
                yield f"{name} does tasks {before.task} and {after.task} at once"


def _in_work(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    """What is in work goes on at once, with who is at it; only something else in work may keep it waiting."""
    about = {worker.key: worker for worker in problem.workers}
    stations = {station.code: station for station in problem.stations}
    for key, placed in where.items():
        task = tasks[key]
        if not task.in_work_by:
            continue
        person = about.get(task.in_work_by)
        hours = merged(stations[task.station].windows)
        if person is not None and task.station in person.stations:
            if placed.worker != person.key:
                yield f"task {key} is in work by {person.key}, but {placed.worker or 'nobody'} goes on with it"
                continue
            hours = _common(hours, merged(person.windows))
        elif problem.workers:
            continue  # who began it is not there any more: somebody else takes it over when they can
        soonest = next((start for start, end in hours if end - start >= task.work_min), None)
        taken = len(problem.room_taken.get(task.room, ())) if task.dwell_min else 0
        must_wait = (
            task.earliest_min > 0
            or (taken and taken >= problem.rooms[task.room])
            or (task.mould and len(problem.mould_taken.get(task.mould, ())) >= problem.moulds[task.mould])
            or any(
                tasks[number].in_work_by
                and other.start_min < placed.start_min
                and (
                    (other.worker and other.worker == placed.worker)
                    or (tasks[number].station, other.place) == (task.station, placed.place)
                    or (task.mould and tasks[number].mould == task.mould)
                    or (task.room and tasks[number].room == task.room)
                )
                for number, other in where.items()
                if number != key
            )
        )
        if placed.start_min != soonest and not must_wait:
            yield f"task {key} is in work, but does not go on at once"


def _common(one: list[tuple[int, int]], two: list[tuple[int, int]]) -> list[tuple[int, int]]:
    spans = ((max(a, c), min(b, d)) for a, b in one for c, d in two)
    return [(start, end) for start, end in spans if end > start]


def _moulds(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    for name, count in problem.moulds.items():
        spans = [
            (placed.start_min, placed.end_min + tasks[key].mould_min)
            for key, placed in where.items()
            if tasks[key].mould == name
        ]
        taken = sorted(problem.mould_taken.get(name, ()), reverse=True)[:count]
        if _most_at_once([*spans, *((0, until) for until in taken if until > 0)]) > count:
            yield f"more shells are in mould {name} than there are moulds"


def _rooms(problem: Problem, where: dict[int, Placed], tasks: dict[int, Task]) -> Iterator[str]:
    for name, places in problem.rooms.items():
        spans = [
            (placed.end_min, placed.end_min + tasks[key].dwell_min)
            for key, placed in where.items()
            if tasks[key].room == name
        ]
        spans += [(0, leaves) for leaves in problem.room_taken.get(name, ())]
        # What stands there now is no fault of the plan.
        if _most_at_once(spans) > max(places, len(problem.room_taken.get(name, ()))):
            yield f"more shells stand in {name} than it has room for"


def _inside(windows: Iterable[tuple[int, int]], placed: Placed) -> bool:
    return any(start <= placed.start_min and placed.end_min <= end for start, end in merged(windows))


def _most_at_once(spans: Iterable[tuple[int, int]]) -> int:
    changes = sorted(change for start, end in spans if end > start for change in ((start, 1), (end, -1)))
    most = now = 0
    for _, change in changes:
        now += change
        most = max(most, now)
    return most
