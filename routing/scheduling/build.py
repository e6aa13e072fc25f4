"""A plan in the making: shells are put in one after the other, each step in the earliest hole; and taken out again.

What is put in keeps every rule at any moment, so a plan can be mended piece by piece: take some shells out, put them
back in another order, and keep what is better. A shell that is taken out and put back at once never ends later.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence

from routing.scheduling.hours import merged
from routing.scheduling.problem import Placed, Problem, Schedule, Task, Window

NEVER = 1 << 60


class Line:
    """One place, or one person: what is free of its hours, as holes in order."""

    __slots__ = ("begins", "busy", "busy_ends", "campaigns", "ends", "setup")

    def __init__(self, windows: Iterable[Window], setup: int = 0) -> None:
        spans = merged(windows)
        self.begins = [start for start, _ in spans]
        self.ends = [end for _, end in spans]
        self.setup = setup
        self.busy: list[int] = []  # kept only where a change-over matters
        self.busy_ends: list[int] = []
        self.campaigns: list[str] = []

    def fit(self, start: int, length: int, campaign: str = "") -> int:
        """The earliest time from ``start`` on at which ``length`` minutes are free, change-overs counted in."""
        begins, ends = self.begins, self.ends
        for at in range(bisect_right(ends, start), len(ends)):
            low, high = begins[at], ends[at]
            if low < start:
                low = start
            if high - low < length:
                continue
            if not self.setup:
                return low
            after = bisect_right(self.busy, low)
            if after and self.campaigns[after - 1] != campaign:
                low = max(low, self.busy_ends[after - 1] + self.setup)
            if after < len(self.busy) and self.campaigns[after] != campaign:
                high = min(high, self.busy[after] - self.setup)
            if high - low >= length:
                return low
        return NEVER

    def take(self, start: int, end: int, campaign: str = "") -> None:
        begins, ends = self.begins, self.ends
        at = bisect_right(begins, start) - 1
        first, last = begins[at], ends[at]
        if first < start:
            ends[at] = start
            if end < last:
                begins.insert(at + 1, end)
                ends.insert(at + 1, last)
        elif end < last:
            begins[at] = end
        else:
            del begins[at], ends[at]
        if self.setup:
            at = bisect_right(self.busy, start)
            self.busy.insert(at, start)
            self.busy_ends.insert(at, end)
            self.campaigns.insert(at, campaign)

    def release(self, start: int, end: int) -> None:
        begins, ends = self.begins, self.ends
        at = bisect_right(begins, start)
        before = at > 0 and ends[at - 1] == start
        after = at < len(begins) and begins[at] == end
        if before and after:
            ends[at - 1] = ends[at]
            del begins[at], ends[at]
        elif before:
            ends[at - 1] = end
        elif after:
            begins[at] = start
        else:
            begins.insert(at, start)
            ends.insert(at, end)
        if self.setup:
            at = bisect_left(self.busy, start)
            del self.busy[at], self.busy_ends[at], self.campaigns[at]


class Store:
    """Moulds of a kind, or the places of a drying room: how many are taken when."""

    __slots__ = ("counts", "places", "times")

    def __init__(self, places: int) -> None:
        self.places = places
        self.times = [-1]
        self.counts = [0]  # from times[n] until times[n + 1]

    def fit(self, start: int, length: int) -> int:
        """The earliest time from ``start`` on from which one is free for ``length`` minutes."""
        if self.places < 1:
            return NEVER
        times, counts, places = self.times, self.counts, self.places
        at = bisect_right(times, start) - 1
        end = start + length
        while at < len(times) and times[at] < end:
            if counts[at] >= places:
                start = times[at + 1]  # the last count is 0: there is a next
                end = start + length
            at += 1
        return start

    def take(self, start: int, end: int) -> None:
        self._change(start, end, 1)

    def release(self, start: int, end: int) -> None:
        self._change(start, end, -1)

    def _change(self, start: int, end: int, by: int) -> None:
        if end <= start:
            return
        first, last = self._mark(start), self._mark(end)
        counts = self.counts
        for at in range(first, last):
            counts[at] += by
        for at in (last, first):
            if at and counts[at] == counts[at - 1]:
                del self.times[at], counts[at]

    def _mark(self, time: int) -> int:
        at = bisect_left(self.times, time)
        if at == len(self.times) or self.times[at] != time:
            self.times.insert(at, time)
            self.counts.insert(at, self.counts[at - 1])
        return at


Step = tuple[int, int, int]  # start, number of the place, number of the person or -1


class Builder:
    """Jobs are named by their number in the problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.jobs = problem.jobs
        about = {station.code: station for station in problem.stations}
        self.places = {
            code: [Line(station.windows, station.setup_min) for _ in range(station.places)]
            for code, station in about.items()
        }
        self.people = [Line(worker.windows) for worker in problem.workers]
        by_skill = sorted(
            range(len(problem.workers)), key=lambda n: (len(problem.workers[n].stations), problem.workers[n].key)
        )
        # Who can do least else is asked first.
        self.qualified = {code: [n for n in by_skill if code in problem.workers[n].stations] for code in about}
        self.number_of = {worker.key: n for n, worker in enumerate(problem.workers)}
        self.moulds = {name: Store(count) for name, count in problem.moulds.items()}
        self.rooms = {name: Store(places) for name, places in problem.rooms.items()}
        for name, held in problem.mould_taken.items():
            for until in held:
                self.moulds[name].take(0, until)
        for name, leaving in problem.room_taken.items():
            for leaves in leaving:
                self.rooms[name].take(0, leaves)
        self.steps: list[list[Step]] = [[] for _ in self.jobs]
        self.ends: list[int] = [
            problem.horizon_min if job.tasks else job.earliest_min for job in self.jobs
        ]  # of a job that finds no place: the horizon
        self.work = 0  # steps put in so far: what effort is counted in
        self.pinned = [0] * len(self.jobs)
        for number, job in enumerate(self.jobs):
            if job.tasks and job.tasks[0].in_work_by:
                self._put_step(number, job.tasks[0], max(job.earliest_min, job.tasks[0].earliest_min))
                self.pinned[number] = len(self.steps[number])

    def put(self, number: int) -> int:
        """All steps that are left of a job, each in the earliest hole. When the job ends."""
        job, steps = self.jobs[number], self.steps[number]
        tasks = job.tasks
        if not tasks:
            return self.ends[number]
        ready = job.earliest_min
        if steps:
            before = tasks[len(steps) - 1]
            ready = steps[-1][0] + before.work_min + before.dwell_min
        for task in tasks[len(steps) :]:
            ready = max(ready, task.earliest_min)
            start = self._put_step(number, task, ready)
            if start == NEVER:
                self.ends[number] = self.problem.horizon_min
                return self.ends[number]
            ready = start + task.work_min + task.dwell_min
        self.ends[number] = steps[-1][0] + tasks[-1].work_min
        return self.ends[number]

    def take_out(self, number: int) -> list[Step]:
        """Everything but what is in work already; what was taken out, for ``put_back``."""
        steps, tasks, pinned = self.steps[number], self.jobs[number].tasks, self.pinned[number]
        out = steps[pinned:]
        for task, step in zip(tasks[pinned:], out, strict=False):
            self._free(task, step)
        del steps[pinned:]
        return out

    def put_back(self, number: int, steps: Sequence[Step]) -> None:
        """Exactly where it was; what stands in the way must have been taken out before."""
        mine, tasks = self.steps[number], self.jobs[number].tasks
        for step in steps:
            self._take(tasks[len(mine)], step)
            mine.append(step)
        if len(mine) == len(tasks):
            self.ends[number] = mine[-1][0] + tasks[-1].work_min if tasks else self.ends[number]
        else:
            self.ends[number] = self.problem.horizon_min

    def load(self, schedule: Schedule) -> None:
        """A plan that was made elsewhere; it must keep every rule. Nothing but what is in work may be put in yet."""
        where = {each.task: each for each in schedule.placed}
        for steps, job in zip(self.steps, self.jobs, strict=True):
            for task, step in zip(job.tasks, steps, strict=False):
                self._free(task, step)
            steps.clear()  # what is in work stands where that plan has it
        for number, job in enumerate(self.jobs):
            found = [where[task.key] for task in job.tasks if task.key in where]
            self.put_back(number, [(each.start_min, each.place, self.number_of.get(each.worker, -1)) for each in found])

    def schedule(self, lateness: int, flow: int, found_by: str) -> Schedule:
        placed, left_out = [], []
        for job, steps in zip(self.jobs, self.steps, strict=True):
            for task, (start, place, person) in zip(job.tasks, steps, strict=False):
                worker = self.problem.workers[person].key if person >= 0 else ""
                placed.append(Placed(task.key, job.key, start, start + task.work_min, place, worker))
            if len(steps) < len(job.tasks):
                left_out.append(job.key)
        placed.sort(key=lambda each: (each.start_min, each.task))
        return Schedule(tuple(placed), lateness, flow, 0, found_by, left_out=tuple(left_out))

    def _put_step(self, number: int, task: Task, ready: int) -> int:
        self.work += 1
        start, place, person = step = self._fit(task, ready)
        if start == NEVER or start + task.work_min > self.problem.horizon_min:
            return NEVER
        self._take(task, step)
        self.steps[number].append((start, place, person))
        return start

    def _fit(self, task: Task, ready: int) -> Step:  # noqa: C901 - one loop, asked hundreds of thousands of times
        work, campaign = task.work_min, task.campaign
        places = self.places[task.station]
        people = self._people_for(task)
        mould = self.moulds[task.mould] if task.mould else None
        room = self.rooms[task.room] if task.room and task.dwell_min else None
        if people is not None and not people:
            return NEVER, 0, -1
        at = ready
        while True:
            # Each rule moves the time on to where it is kept next; where none moves it any more, all are kept.
            best, place = NEVER, 0
            for number, line in enumerate(places):
                found = line.fit(at, work, campaign)
                if found < best:
                    best, place = found, number
                    if found == at:
                        break
            if best == NEVER:
                return NEVER, 0, -1
            at = best
            person = -1
            if people is not None:
                best = NEVER
                for number in people:
                    found = self.people[number].fit(at, work)
                    if found < best:
                        best, person = found, number
                        if found == at:
                            break
                if best == NEVER:
                    return NEVER, 0, -1
                if best > at:
                    at = best
                    continue
            if mould is not None:
                best = mould.fit(at, work + task.mould_min)
                if best > at:
                    if best == NEVER:
                        return NEVER, 0, -1
                    at = best
                    continue
            if room is not None:
                best = room.fit(at + work, task.dwell_min)
                if best > at + work:
                    if best == NEVER:
                        return NEVER, 0, -1
                    at = best - work
                    continue
            return at, place, person

    def _people_for(self, task: Task) -> list[int] | None:
        """Numbers of the people who may do it; None: people are no limit."""
        if not self.people:
            return None
        qualified = self.qualified[task.station]
        if task.in_work_by:
            own = self.number_of.get(task.in_work_by, -1)
            if own in qualified:
                return [own]
        return qualified

    def _take(self, task: Task, step: Step) -> None:
        start, place, person = step
        end = start + task.work_min
        self.places[task.station][place].take(start, end, task.campaign)
        if person >= 0:
            self.people[person].take(start, end)
        if task.mould:
            self.moulds[task.mould].take(start, end + task.mould_min)
        if task.room and task.dwell_min:
            self.rooms[task.room].take(end, end + task.dwell_min)

    def _free(self, task: Task, step: Step) -> None:
        start, place, person = step
        end = start + task.work_min
        self.places[task.station][place].release(start, end)
        if person >= 0:
            self.people[person].release(start, end)
        if task.mould:
            self.moulds[task.mould].release(start, end + task.mould_min)
        if task.room and task.dwell_min:
            self.rooms[task.room].release(end, end + task.dwell_min)
