"""The search for a cutting plan with few sheets, and for a bound that says how few there can be."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from routing.specs.guillotine import BestSheet, Part, Size, first_fit

_EXACT_CELLS = 40_000  # beyond this the exact recursion takes more than about half a second a round
_MOST_ROUNDS = 300
_SLACK = 1e-6
_SPLITS: tuple[Literal["across", "along", "largest"], ...] = ("across", "along", "largest")


@dataclass(frozen=True, slots=True)
class Progress:
    """Told while a plan is made. Returning False from the callback stops with the best plan so far."""

    step: str
    sheets: int  # of the best plan so far
    lower_bound: int


Watcher = Callable[[Progress], bool]


class CuttingSearch:
    """The search: the best set of sheets so far, and the best bound."""

    def __init__(
        self,
        sheet: Size,
        sizes: list[Size],
        demand: list[int],
        clock: Callable[[], float] | None,
        time_limit_s: float,
        watch: Watcher | None,
    ) -> None:
        self.sheet, self.sizes, self.demand = sheet, sizes, demand
        self.clock = clock
        self.ends = math.inf if clock is None else clock() + time_limit_s
        self.watch = watch
        self.stopped = False
        area = sum(count * size[0] * size[1] for size, count in zip(sizes, demand, strict=True))
        self.area_bound = math.ceil(area / (sheet[0] * sheet[1]) - _SLACK)
        self.bound = max(self.area_bound, self._too_big_to_share())
        self.best: list[Part] = []
        self.patterns: dict[tuple[int, ...], Part] = {}

    def run(self) -> None:
        self._construct()
        if self._go_on("constructed"):
            self._enumerate_rows()
            self._generate()
        if len(self.best) > self.bound and not self._out_of_time():
            self._choose()

    def counts(self, part: Part) -> tuple[int, ...]:
        counted = Counter(part.items())
        return tuple(counted.get(kind, 0) for kind in range(len(self.sizes)))

    def _too_big_to_share(self) -> int:
        """Blanks of more than half the sheet both ways need a sheet each."""
        return sum(
            count
            for size, count in zip(self.sizes, self.demand, strict=True)
            if 2 * size[0] > self.sheet[0] and 2 * size[1] > self.sheet[1]
        )

    def _out_of_time(self) -> bool:
        if self.clock is not None and self.clock() >= self.ends:
            self.stopped = True
        return self.stopped

    def _go_on(self, step: str) -> bool:
        if self.watch is not None and not self.watch(Progress(step, len(self.best), self.bound)):
            self.stopped = True
        return not self._out_of_time() and len(self.best) > self.bound

    def _offer(self, sheets: list[Part]) -> None:
        if not self.best or len(sheets) < len(self.best):
            self.best = sheets
        for part in sheets:
            self.patterns.setdefault(self.counts(part), part)

    def _construct(self) -> None:
        pieces = [kind for kind, count in enumerate(self.demand) for _ in range(count)]
        keys: list[Callable[[int], tuple[int, int]]] = [
            lambda kind: (-self.sizes[kind][1], -self.sizes[kind][0]),
            lambda kind: (-self.sizes[kind][0], -self.sizes[kind][1]),
            lambda kind: (-self.sizes[kind][0] * self.sizes[kind][1], -self.sizes[kind][0]),
        ]
        for key in keys:
            for split in _SPLITS:
                self._offer(first_fit(self.sheet, self.sizes, sorted(pieces, key=key), split=split))
                if len(self.best) == self.bound or (self.best and self._out_of_time()):
                    return

    def _enumerate_rows(self) -> None:
        """When the sheet holds a single row, list every full row: then the integer programme is exact."""
        if any(2 * size[1] <= self.sheet[1] for size in self.sizes):
            return
        order = sorted(range(len(self.sizes)), key=lambda kind: (-self.sizes[kind][0], kind))
        rows: list[list[int]] = []

        def extend(row: list[int], start: int, room: int) -> None:
            if len(rows) > 20_000:
                return
            full = True
            for place in range(start, len(order)):
                kind = order[place]
                if self.sizes[kind][0] <= room and row.count(kind) < self.demand[kind]:
                    full = False
                    extend([*row, kind], place, room - self.sizes[kind][0])
            if full and row:
                rows.append(row)

        extend([], 0, self.sheet[0])
        if len(rows) <= 20_000:
            for row in rows:
                part = first_fit(self.sheet, self.sizes, row, split="along")[0]
                self.patterns.setdefault(self.counts(part), part)

    def _generate(self) -> None:
        """Column generation: patterns that the linear programme asks for, and the bound that its value gives."""
        search = BestSheet(self.sheet, self.sizes)
        exact = search.cells <= _EXACT_CELLS
        if not exact:
            search = self._coarse()
        for _ in range(_MOST_ROUNDS):
            value, prices = _linear_programme(list(self.patterns), self.demand)
            top = search.solve(prices)
            # Farley: prices over the dearest possible pattern are feasible in the dual, so their sum is a bound.
            self.bound = max(self.bound, math.ceil(value / max(top, 1.0) - _SLACK))
            if not self._go_on("patterns") or top <= 1 + 1e-9:
                return
            found = search.pattern() if exact else self._fill_by_price(prices)
            counted = self.counts(found)
            if counted in self.patterns:
                return
            self.patterns[counted] = found

    def _coarse(self) -> BestSheet:
        """The recursion with blanks rounded down to a coarser step: a valid bound for any cutting of the true sizes."""
        smallest = min(min(size) for size in self.sizes)
        # No step above the smallest blank: rounded down to nothing, it would fit a sheet any number of times.
        steps = [step for step in (10, 20, 50, 100, 200, 500) if step <= smallest] or [smallest]
        for step in steps:
            sizes = [(along // step, across // step) for along, across in self.sizes]
            search = BestSheet((self.sheet[0] // step, self.sheet[1] // step), sizes)
            if search.cells <= _EXACT_CELLS:
                break
        return search

    def _fill_by_price(self, prices: Sequence[float]) -> Part:
        """A pattern for the linear programme where the exact recursion is too large: dearest for their area first."""
        dear = sorted(
            (kind for kind in range(len(self.sizes)) if prices[kind] > 0),
            key=lambda kind: (-prices[kind] / (self.sizes[kind][0] * self.sizes[kind][1]), kind),
        )
        best: tuple[float, Part] | None = None
        for lead in dear[:12]:
            queue = [lead, *(kind for kind in dear if kind != lead)]
            pieces = [kind for kind in queue for _ in range(min(self.demand[kind], 12))]
            for split in _SPLITS[:2]:
                part = first_fit(self.sheet, self.sizes, pieces, split=split)[0]
                worth = sum(prices[item] for item in part.items())
                if best is None or worth > best[0] + 1e-12:
                    best = worth, part
        return Part(*self.sheet) if best is None else best[1]

    def _choose(self) -> None:
        """How often to cut each pattern: an integer programme over the patterns found."""
        left = math.inf if self.clock is None else self.ends - self.clock()
        chosen, finished = _integer_programme(list(self.patterns), self.demand, self.bound, len(self.best), left)
        if not finished:
            self.stopped = self.stopped or self._out_of_time()
        if chosen is not None:
            parts = list(self.patterns.values())
            self._offer([parts[index] for index, times in enumerate(chosen) for _ in range(times)])
        self._go_on("chosen")


def _linear_programme(patterns: Sequence[tuple[int, ...]], demand: Sequence[int]) -> tuple[float, list[float]]:
    """Fewest sheets when patterns may be cut in fractions, and what one more blank of each kind would cost."""
    from ortools.linear_solver import pywraplp

    solver = pywraplp.Solver.CreateSolver("GLOP")
    rows = [solver.Constraint(count, solver.infinity()) for count in demand]
    objective = solver.Objective()
    objective.SetMinimization()
    for pattern in patterns:
        times = solver.NumVar(0, solver.infinity(), "")
        objective.SetCoefficient(times, 1)
        for kind, count in enumerate(pattern):
            if count:
                rows[kind].SetCoefficient(times, count)
    solver.Solve()
    prices = [max(0.0, float(row.dual_value())) for row in rows]
    # The sum over the prices, not the primal value: that is what the bound stands on, whatever the solver's tolerance.
    return math.fsum(price * count for price, count in zip(prices, demand, strict=True)), prices


def _integer_programme(
    patterns: Sequence[tuple[int, ...]], demand: Sequence[int], bound: int, sheets: int, seconds: float
) -> tuple[list[int] | None, bool]:
    """How often to cut each pattern for fewer than ``sheets`` sheets, or None; and whether the search came to its end."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    times = [
        model.new_int_var(
            0, max((math.ceil(demand[k] / n) for k, n in enumerate(pattern) if n), default=0), f"pattern{index}"
        )
        for index, pattern in enumerate(patterns)
    ]
    for kind, count in enumerate(demand):
        model.add(sum(pattern[kind] * times[i] for i, pattern in enumerate(patterns) if pattern[kind]) >= count)
    model.add_linear_constraint(sum(times), bound, sheets - 1)
    model.minimize(sum(times))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 10.0
    if math.isfinite(seconds):
        solver.parameters.max_time_in_seconds = max(0.1, seconds)
    status = solver.solve(model)
    finished = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return [solver.value(one) for one in times], finished
    return None, finished
