"""A better plan, with a bound: begun from the best dispatched plan and never worse than it.

A small problem is solved as a whole by CP-SAT. In a large one kits are taken out and put back in another order. Work is
counted in the solver's deterministic time on one thread, or in steps put in, never by the clock: the same problem, seed
and effort give the same plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

from routing.scheduling.bound import lower_bound
from routing.scheduling.dispatch import Rule, dispatch, ends_of, measure, moulds_free
from routing.scheduling.hours import Hours
from routing.scheduling.mend import mend
from routing.scheduling.problem import Placed, Problem, Schedule, Task

# progress 0 … 1, weighted lateness so far, bound; False stops
Watcher = Callable[[float, int, int], bool]

WHOLE = 120  # tasks up to which a problem is solved in one piece
STEPS_A_SECOND = 30_000  # put in by one core in a second of effort, about


def solve(
    problem: Problem,
    *,
    effort: float = 20.0,
    seed: int = 1,
    watch: Watcher | None = None,
    start: Schedule | None = None,
) -> Schedule:
    """The best schedule found: least weighted lateness first, then least flow.

    ``effort`` is about how many seconds of one core are spent; ``start`` the plan to begin with instead of the
    best dispatched one. Jobs that find no
    place within the horizon are left out, as the dispatcher leaves them.
    """
    best = start or min((dispatch(problem, rule) for rule in Rule), key=_score)
    done = None if best.left_out else max(ends_of(problem, best.placed).values(), default=0)
    bound = min(lower_bound(problem, done), best.lateness)
    best = replace(best, bound=bound)
    if best.left_out or not best.placed:
        return best
    if watch is not None and not watch(0.0, best.lateness, bound):
        return best
    if len(best.placed) <= WHOLE:
        return _solve_whole(problem, best, effort, seed, watch)
    return _improve(problem, best, effort, seed, watch)


def _score(schedule: Schedule) -> tuple[int, int, int]:
    return len(schedule.left_out), schedule.lateness, schedule.flow


def _solve_whole(problem: Problem, best: Schedule, effort: float, seed: int, watch: Watcher | None) -> Schedule:
    found = _Model(problem, best).solve(effort, seed)
    if found is None:
        return best
    schedule, bound, is_optimal, spent = found
    better = schedule if _score(schedule) <= _score(best) else best
    bound = min(max(bound, best.bound), better.lateness)
    done = replace(
        better,
        bound=bound,
        found_by="solver" if better is schedule else better.found_by,
        is_optimal=is_optimal,
        deterministic_time=spent,
    )
    if watch is not None:
        watch(1.0, done.lateness, done.bound)
    return done


def _improve(problem: Problem, best: Schedule, effort: float, seed: int, watch: Watcher | None) -> Schedule:
    """Too large to be solved in one piece: kits are taken out and put back until the effort is spent."""

    def going(progress: float, lateness: int) -> bool:
        return watch is None or watch(progress, lateness, best.bound)

    return replace(
        mend(problem, best, steps=round(effort * STEPS_A_SECOND), seed=seed, going=going), deterministic_time=effort
    )


@dataclass
class _Free:
    """Variables of a task."""

    task: Task
    start: Any
    end: Any
    by_worker: dict[str, Any]
    by_place: list[Any]


class _Model:
    """Every task with variables, hinted at by the best plan so far."""

    def __init__(self, problem: Problem, best: Schedule) -> None:
        from ortools.sat.python import cp_model  # heavy to load: only when a plan is made

        self.cp = cp_model
        self.problem = problem
        self.model: Any = cp_model.CpModel()
        self.where = {each.task: each for each in best.placed}
        self.tasks: dict[int, _Free] = {}
        self._variables()
        self._places()
        self._people()
        self._moulds()
        self._rooms()
        self._goal()

    def _variables(self) -> None:
        hours = {station.code: Hours(station.windows) for station in self.problem.stations}
        places = {station.code: station.places for station in self.problem.stations}
        qualified: dict[str, list[str]] = defaultdict(list)
        self.worker_hours = {worker.key: Hours(worker.windows) for worker in self.problem.workers}
        for worker in self.problem.workers:
            for code in worker.stations:
                qualified[code].append(worker.key)
        for job in self.problem.jobs:
            ready: Any = job.earliest_min
            for task in job.tasks:
                spans = hours[task.station].starts(task.work_min)
                start = self.model.NewIntVarFromDomain(self.cp.Domain.FromIntervals([list(s) for s in spans]), "")
                end = self.model.NewIntVar(0, self.problem.horizon_min, "")
                self.model.Add(end == start + task.work_min)
                self.model.Add(start >= ready)
                if task.earliest_min:
                    self.model.Add(start >= task.earliest_min)
                by_worker = {}
                for name in sorted(qualified[task.station]) if self.problem.workers else []:
                    if task.in_work_by and task.in_work_by in qualified[task.station] and name != task.in_work_by:
                        continue
                    by_worker[name] = self.model.NewBoolVar("")
                    allowed = [list(span) for span in self.worker_hours[name].starts(task.work_min)]
                    self.model.AddLinearExpressionInDomain(start, self.cp.Domain.FromIntervals(allowed)).OnlyEnforceIf(
                        by_worker[name]
                    )
                if by_worker:
                    self.model.AddExactlyOne(list(by_worker.values()))
                by_place = [self.model.NewBoolVar("") for _ in range(places[task.station])]
                self.model.AddExactlyOne(by_place)
                self.tasks[task.key] = _Free(task, start, end, by_worker, by_place)
                now = self.where[task.key]
                self.model.AddHint(start, now.start_min)
                for name, chosen in by_worker.items():
                    self.model.AddHint(chosen, name == now.worker)
                for number, chosen in enumerate(by_place):
                    self.model.AddHint(chosen, number == now.place)
                ready = end + task.dwell_min

    def _places(self) -> None:
        """At one place one task at a time, with a change-over between two campaigns."""
        at: dict[str, list[_Free]] = defaultdict(list)
        for each in self.tasks.values():
            at[each.task.station].append(each)
        for station in self.problem.stations:
            here = at[station.code]
            for number in range(station.places):
                blocks = [
                    self.model.NewOptionalIntervalVar(
                        each.start, each.task.work_min, each.end, each.by_place[number], ""
                    )
                    for each in here
                ]
                if len(blocks) > 1:
                    self.model.AddNoOverlap(blocks)
                if station.setup_min:
                    self._change_overs(here, number, station.setup_min)

    def _change_overs(self, here: Sequence[_Free], number: int, setup: int) -> None:
        for one, two in combinations(here, 2):
            if one.task.campaign == two.task.campaign:
                continue
            first = self.model.NewBoolVar("")
            both = [one.by_place[number], two.by_place[number]]
            self.model.Add(two.start >= one.end + setup).OnlyEnforceIf([*both, first])
            self.model.Add(one.start >= two.end + setup).OnlyEnforceIf([*both, first.Not()])

    def _people(self) -> None:
        if not self.problem.workers:
            return
        blocks: dict[str, list[Any]] = defaultdict(list)
        for each in self.tasks.values():
            for name, chosen in each.by_worker.items():
                blocks[name].append(
                    self.model.NewOptionalIntervalVar(each.start, each.task.work_min, each.end, chosen, "")
                )
        for name in sorted(blocks):
            self.model.AddNoOverlap(blocks[name])

    def _moulds(self) -> None:
        for name, count in self.problem.moulds.items():
            free = moulds_free(count, self.problem.mould_taken.get(name, ()))
            blocks = [self._block(0, until) for until in free if until > 0]
            here = [each for each in self.tasks.values() if each.task.mould == name]
            for each in here:
                size = each.task.work_min + each.task.mould_min
                blocks.append(self.model.NewFixedSizeIntervalVar(each.start, size, ""))
            if here:
                self.model.AddCumulative(blocks, [1] * len(blocks), count)

    def _rooms(self) -> None:
        for name, places in self.problem.rooms.items():
            taken = self.problem.room_taken.get(name, ())
            blocks = [self._block(0, leaves) for leaves in taken if leaves > 0]
            here = [each for each in self.tasks.values() if each.task.room == name and each.task.dwell_min]
            blocks += [self.model.NewFixedSizeIntervalVar(each.end, each.task.dwell_min, "") for each in here]
            if here:
                self.model.AddCumulative(blocks, [1] * len(blocks), max(places, len(taken)))

    def _block(self, start: int, end: int) -> Any:
        return self.model.NewFixedSizeIntervalVar(start, end - start, "")

    def _goal(self) -> None:
        """Weighted lateness first: a minute of it weighs more than all the flow there can be."""
        ends: dict[str, list[Any]] = defaultdict(list)
        flow: list[Any] = []
        for job in self.problem.jobs:
            end = self.tasks[job.tasks[-1].key].end if job.tasks else job.earliest_min
            ends[job.kit].append(end)
            flow.append(end)
        lateness: list[Any] = []
        for kit in self.problem.kits:
            if kit.key not in ends:
                continue
            late = self.model.NewIntVar(0, self.problem.horizon_min - min(0, kit.due_min), "")
            for end in ends[kit.key]:
                self.model.Add(late >= end - kit.due_min)
            lateness.append(kit.weight * late)
        self.scale = self.problem.horizon_min * max(1, len(self.problem.jobs)) + 1
        self.model.Minimize(self.scale * sum(lateness) + sum(flow))

    def solve(self, effort: float, seed: int) -> tuple[Schedule, int, bool, float] | None:
        """The plan found, a bound of its lateness, whether it is the best, time."""
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed % (2**31)
        solver.parameters.max_deterministic_time = effort
        status = solver.Solve(self.model)
        if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
            return None
        placed = []
        for job in self.problem.jobs:
            for task in job.tasks:
                each = self.tasks[task.key]
                start = solver.Value(each.start)
                place = next(n for n, chosen in enumerate(each.by_place) if solver.Value(chosen))
                worker = next((name for name, chosen in each.by_worker.items() if solver.Value(chosen)), "")
                placed.append(Placed(task.key, job.key, start, start + task.work_min, place, worker))
        placed.sort(key=lambda each: (each.start_min, each.task))
        late, flow = measure(self.problem, ends_of(self.problem, placed))
        bound = max(0, int(solver.BestObjectiveBound() // self.scale))
        schedule = Schedule(tuple(placed), late, flow, 0, "solver")
        return schedule, bound, status == self.cp.OPTIMAL, float(solver.ResponseProto().deterministic_time)
