"""The shop over some weeks as it may go: what was promised against what happens.

Kits get a promised day from the first plan. Then the days pass: work takes longer or shorter, people miss days, stations
break down, shells go back once. Each morning the shop plans again by its rule from where everything stands, with
everybody there, every station in order and work that takes as long as usual: it knows what has happened and nothing of
what will. The day is worked off in the order of that plan by those who have come; what is begun when a station breaks down
goes on after the repair, and what is begun is finished, after hours if need be. Random numbers come from the seed alone, one
for each event, so that two rules meet the same troubles.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from routing.scheduling.dispatch import Rule, dispatch, ends_of, work_off
from routing.scheduling.hours import without
from routing.scheduling.problem import Job, Placed, Problem, Task, Window

# When a kit that is planned to be ready at a minute is promised for.
Promising = Callable[[int], int]


@dataclass(frozen=True, slots=True)
class Trouble:
    """How much goes wrong. Planning figures, common practice, no source."""

    work_low: float = 0.8  # work takes between these parts of what was planned, most often as planned
    work_high: float = 1.5
    absent: float = 0.04  # of the days of each person
    down: float = 0.02  # of the days of each station
    down_min: int = 180  # a breakdown takes so long at most
    sent_back: float = 1 / 3  # of the shells with two coats or more, once, after the last coat


@dataclass(frozen=True, slots=True)
class KitStory:
    kit: str
    planned_min: int  # ready, by the first plan
    promised_min: int
    happened_min: int | None  # None: not ready when the run ended

    def late_min(self, until: int) -> int:
        """How much later than promised; one that is not ready is as late as the end of the run at least."""
        return max(0, (until if self.happened_min is None else self.happened_min) - self.promised_min)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One run by one rule."""

    rule: Rule
    seed: int
    kits: tuple[KitStory, ...]  # those that were promised for a time within the run
    sent_back: int
    days_missed: int
    breakdowns: int
    until_min: int

    @property
    def kept(self) -> float:
        """The share of promises that were kept, 0 … 1; 1 where none fell due."""
        return fmean(kit.late_min(self.until_min) == 0 for kit in self.kits) if self.kits else 1.0

    @property
    def late_h(self) -> tuple[float, ...]:
        """How late each kit was, in hours, from the least to the most."""
        return tuple(sorted(kit.late_min(self.until_min) / 60 for kit in self.kits))


def simulate(
    problem: Problem,
    *,
    days: Sequence[Window],
    rule: Rule,
    seed: int,
    promised: Promising,
    trouble: Trouble | None = None,
) -> Outcome:
    """Work ``days`` (from opening to closing, in order) by a rule, among the troubles that the seed brings."""
    trouble = trouble or Trouble()
    run = _Run(problem, trouble, seed)
    first = dispatch(problem, rule)
    planned = _kit_ends(problem, ends_of(problem, first.placed))
    for day in days:
        run.work(day, rule)
    until = days[-1][1] if days else 0
    ready = run.ready()
    return Outcome(
        rule=rule,
        seed=seed,
        kits=tuple(
            KitStory(kit, end, promised(end), ready.get(kit))
            for kit, end in sorted(planned.items())
            if promised(end) <= until
        ),
        sent_back=run.sent_back,
        days_missed=run.days_missed,
        breakdowns=run.breakdowns,
        until_min=until,
    )


def _kit_ends(problem: Problem, ends: dict[str, int]) -> dict[str, int]:
    """When each kit is ready whose shells all have an end."""
    of_kit: dict[str, list[int | None]] = defaultdict(list)
    for job in problem.jobs:
        of_kit[job.kit].append(ends.get(job.key))
    return {
        kit: max(known)
        for kit, all_ends in of_kit.items()
        if len(known := [e for e in all_ends if e is not None]) == len(all_ends)
    }


class _Run:
    """Where everything stands, day after day."""

    def __init__(self, problem: Problem, trouble: Trouble, seed: int) -> None:
        self.problem, self.trouble, self.seed = problem, trouble, seed
        self.left: dict[str, list[Task]] = {
            job.key: [replace(task, in_work_by="") for task in job.tasks] for job in problem.jobs
        }  # a step in work has its person for the first plan only
        self.earliest = {job.key: job.earliest_min for job in problem.jobs}
        self.done: dict[str, int] = {job.key: job.earliest_min for job in problem.jobs if not job.tasks}
        self.moulds: dict[str, list[int]] = {name: list(times) for name, times in problem.mould_taken.items()}
        self.rooms: dict[str, list[int]] = {name: list(times) for name, times in problem.room_taken.items()}
        self.sent_back = self.days_missed = self.breakdowns = 0
        self._new_key = 1 + max((task.key for job in problem.jobs for task in job.tasks), default=0)
        self._back = {job.key: self._goes_back(job) for job in problem.jobs}

    def work(self, day: Window, rule: Rule) -> None:
        """Plan in the morning with what has happened, then work the day off with what comes."""
        known = self._known(day[0])
        plan = dispatch(known, rule)
        down = {station.code: hole for station in self.problem.stations if (hole := self._breakdown(station.code, day))}
        self.breakdowns += len(down)

        def really(job: Job, task: Task, start: int) -> tuple[int, bool]:
            end = start + self._work(task)
            first, last = down.get(task.station, (0, 0))
            if start < first < end:
                end += last - first
            again = self._back[job.key]
            return end, not (again and again[-1].key == task.key)

        for placed in work_off(self._with_who_came(known, day), plan, until=day[1], down=down, really=really):
            self._do(placed)

    def ready(self) -> dict[str, int]:
        return _kit_ends(self.problem, self.done)

    def _known(self, now: int) -> Problem:
        return replace(
            self.problem,
            jobs=tuple(
                Job(job.key, job.kit, tuple(self.left[job.key]), max(now, self.earliest[job.key]))
                for job in self.problem.jobs
                if self.left[job.key]
            ),
            mould_taken={name: tuple(t for t in times if t > now) for name, times in self.moulds.items()},
            room_taken={name: tuple(t for t in times if t > now) for name, times in self.rooms.items()},
        )

    def _with_who_came(self, known: Problem, day: Window) -> Problem:
        absent = {
            worker.key for worker in known.workers if self._draw("absent", worker.key, day[0]) < self.trouble.absent
        }
        self.days_missed += len(absent)
        return replace(
            known,
            workers=tuple(
                replace(worker, windows=tuple(without(worker.windows, [day]))) if worker.key in absent else worker
                for worker in known.workers
            ),
        )

    def _breakdown(self, station: str, day: Window) -> Window | None:
        """When a station is down on a day, if it is; it is repaired by the evening."""
        if self._draw("down", station, day[0]) >= self.trouble.down:
            return None
        at = day[0] + int(self._draw("when", station, day[0]) * (day[1] - day[0]))
        long = 15 + int(self._draw("long", station, day[0]) * self.trouble.down_min)
        return at, min(at + long, day[1])

    def _work(self, task: Task) -> int:
        """How long the work takes this time."""
        low, high = self.trouble.work_low, self.trouble.work_high
        return max(1, round(task.work_min * random.Random(f"{self.seed} work {task.key}").triangular(low, high, 1.0)))

    def _do(self, placed: Placed) -> None:
        tasks = self.left[placed.job]
        task = tasks.pop(0)
        self.earliest[placed.job] = placed.end_min + task.dwell_min
        if task.mould:
            self.moulds.setdefault(task.mould, []).append(placed.end_min + task.mould_min)
        if task.room and task.dwell_min:
            self.rooms.setdefault(task.room, []).append(placed.end_min + task.dwell_min)
        again = self._back[placed.job]
        if again and again[-1].key == task.key:
            self._back[placed.job] = ()
            self.sent_back += 1
            for each in reversed(again):
                tasks.insert(0, replace(each, key=self._new_key, in_work_by="", earliest_min=0))
                self._new_key += 1
        if not tasks:
            self.done[placed.job] = placed.end_min

    def _goes_back(self, job: Job) -> tuple[Task, ...]:
        """The coats that are done once more: the last two, where a shell has two or more and is among those sent back."""
        coats = [task for task in job.tasks if task.room and task.campaign]
        if len(coats) < 2 or self._draw("back", job.key, 0) >= self.trouble.sent_back:
            return ()
        return tuple(coats[-2:])

    def _draw(self, what: str, of: str, at: int) -> float:
        return random.Random(f"{self.seed} {what} {of} {at}").random()
