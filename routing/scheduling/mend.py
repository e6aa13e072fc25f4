"""Bettering a plan by taking some kits out and putting them back in another order, over and over.

In turn a late kit with others that end about when it does, or that end before it. What became better stays; what became a
little worse may stay, too, the less so the further the search is, so that it finds its way out of dead ends. Effort is counted in
steps that are put in, never by the clock: the same problem, start, seed and effort give the same plan.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

from routing.scheduling.build import Builder, Step
from routing.scheduling.problem import Problem, Schedule

AT_ONCE = 12  # kits that are taken out beside the late one, at most
WORSE = 0.002  # of the lateness: how much worse a plan may become at the beginning
FLOW_WEIGHS = 0.01  # a minute of flow against a minute of weighted lateness, while searching
ASK_EVERY = 4000  # steps between two looks at whether to go on
# Told the share of the effort that is spent and the best lateness so far; False stops.
Going = Callable[[float, int], bool]


def mend(problem: Problem, start: Schedule, *, steps: int, seed: int, going: Going | None = None) -> Schedule:
    """The best plan found from ``start``, never a worse one. ``steps`` is how many steps may be put in."""
    search = _Search(problem, start, seed)
    asked = 0
    while search.spent < steps:
        search.once(search.spent / steps)
        if going is not None and search.spent - asked >= ASK_EVERY:
            asked = search.spent
            if not going(min(1.0, search.spent / steps), search.best[0]):
                break
    return search.result(start)


class _Search:
    def __init__(self, problem: Problem, start: Schedule, seed: int) -> None:
        self.builder = Builder(problem)
        self.builder.load(start)
        self._before = self.builder.work
        self.draw = random.Random(seed)
        number = {kit.key: n for n, kit in enumerate(problem.kits)}
        jobs: dict[int, list[int]] = defaultdict(list)
        for n, job in enumerate(problem.jobs):
            jobs[number[job.kit]].append(n)
        self.kits = sorted(jobs)
        self.jobs = jobs
        self.due = [kit.due_min for kit in problem.kits]
        self.weight = [kit.weight for kit in problem.kits]
        self.end = {kit: self._ends(kit) for kit in self.kits}
        self.late = {kit: self._late(kit) for kit in self.kits}
        self.lateness, self.flow = sum(self.late.values()), sum(self.builder.ends)
        self.best = (self.lateness, self.flow)
        self.kept: list[list[Step]] | None = None  # the best plan, once it is better than the start

    @property
    def spent(self) -> int:
        return self.builder.work - self._before

    def once(self, progress: float) -> None:
        """Take some kits out, put them back otherwise; keep that or undo it."""
        kits = self._chosen()
        jobs = [job for kit in kits for job in self.jobs[kit]]
        if self.draw.random() < 0.3:
            self.draw.shuffle(jobs)
        builder = self.builder
        ends_before = sum(builder.ends[job] for job in jobs)
        out = [(job, builder.take_out(job)) for job in jobs]
        for job in jobs:
            builder.put(job)
        flow = self.flow + sum(builder.ends[job] for job in jobs) - ends_before
        before = {kit: (self.end[kit], self.late[kit]) for kit in kits}
        for kit in kits:
            self.end[kit] = self._ends(kit)
            self.late[kit] = self._late(kit)
        lateness = self.lateness + sum(self.late[kit] - before[kit][1] for kit in kits)
        worse = (lateness - self.lateness) + (flow - self.flow) * FLOW_WEIGHS
        bearable = WORSE * (1 - progress) * self.best[0]
        if worse <= 0 or (bearable > 0 and self.draw.random() < math.exp(-worse / bearable)):
            self.lateness, self.flow = lateness, flow
            if (lateness, flow) < self.best:
                self.best = (lateness, flow)
                self.kept = [list(steps) for steps in builder.steps]
            return
        for job, _ in out:
            builder.take_out(job)
        for job, steps in out:
            builder.put_back(job, steps)
        for kit, (end, late) in before.items():
            self.end[kit], self.late[kit] = end, late

    def result(self, start: Schedule) -> Schedule:
        if self.kept is None:
            return start
        self.builder.steps = self.kept
        return replace(self.builder.schedule(*self.best, "solver"), bound=start.bound)

    def _chosen(self) -> list[int]:
        """A late kit, the later the likelier, and up to a dozen others, in the order in which they are put back."""
        draw = self.draw
        late = [kit for kit in self.kits if self.late[kit]] or self.kits
        centre = draw.choices(late, [self.late[kit] + 1 for kit in late])[0]
        count = draw.randint(1, AT_ONCE)
        others = [kit for kit in self.kits if kit != centre]
        around = self.end[centre]
        others.sort(key=lambda kit: abs(self.end[kit] - around) * draw.uniform(0.5, 1.5))
        kits = [centre, *others[:count]]
        way = draw.random()
        if way < 0.5:
            draw.shuffle(kits)
        elif way < 0.75:
            kits.sort(key=lambda kit: self.due[kit] + draw.gauss(0, 2880))
        else:
            kits.sort(key=lambda kit: self.end[kit] + draw.gauss(0, 1440))
            kits.remove(centre)
            kits.insert(0, centre)
        return kits

    def _ends(self, kit: int) -> int:
        return max(self.builder.ends[job] for job in self.jobs[kit])

    def _late(self, kit: int) -> int:
        return self.weight[kit] * max(0, self.end[kit] - self.due[kit])
