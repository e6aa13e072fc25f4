"""Cutting one sheet into rectangles by cuts that go from edge to edge, without turning any piece.

All sizes are whole numbers (tenths of a millimetre). The saw's kerf is counted by making every piece, and the sheet, wider
by one kerf in both directions: a cut between two neighbours then costs exactly one kerf, and none is lost at the edge.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

Axis = Literal["along", "across"]
Size = tuple[int, int]  # along the grain, across it


@dataclass(frozen=True, slots=True)
class Part:
    """A rectangle of a sheet: cut in two, or one piece (``item``), or left over (neither)."""

    along: int
    across: int
    item: int | None = None
    axis: Axis | None = None  # of the size that the cut divides
    first: Part | None = None
    second: Part | None = None

    def items(self) -> Iterator[int]:
        if self.item is not None:
            yield self.item
        for half in (self.first, self.second):
            if half is not None:
                yield from half.items()

    def placed(self, x: int = 0, y: int = 0) -> Iterator[tuple[int, int, int]]:
        """Each piece with its place: (item, along, across)."""
        if self.item is not None:
            yield self.item, x, y
        if self.first is not None and self.second is not None:
            yield from self.first.placed(x, y)
            if self.axis == "along":
                yield from self.second.placed(x + self.first.along, y)
            else:
                yield from self.second.placed(x, y + self.first.across)

    def left_over(self, x: int = 0, y: int = 0) -> Iterator[tuple[int, int, int, int]]:
        """The largest whole left-over rectangles of this cutting: (place along, place across, along, across)."""
        if self.item is not None:
            return
        if next(self.items(), None) is None:
            yield x, y, self.along, self.across
        elif self.first is not None and self.second is not None:
            yield from self.first.left_over(x, y)
            if self.axis == "along":
                yield from self.second.left_over(x + self.first.along, y)
            else:
                yield from self.second.left_over(x, y + self.first.across)

    def without(self, surplus: dict[int, int]) -> Part:
        """The same cutting without as many of each item as ``surplus`` still has; counts them down there."""
        if self.item is not None:
            if surplus.get(self.item, 0) > 0:
                surplus[self.item] -= 1
                return Part(self.along, self.across)
            return self
        if self.first is None or self.second is None:
            return self
        second = self.second.without(surplus)
        return Part(self.along, self.across, None, self.axis, self.first.without(surplus), second)


def cut(part: Size, axis: Axis, first: Part, second: Part) -> Part:
    return Part(part[0], part[1], None, axis, first, second)


def with_item(along: int, across: int, item: int, size: Size, *, along_first: bool | None = None) -> Part:
    """A free rectangle with one piece in its corner. Unless told, the cut leaves the largest rectangle whole."""
    if (along, across) == size:
        return Part(along, across, item)
    spare_along, spare_across = along - size[0], across - size[1]
    if along_first is None:
        along_first = spare_along * across >= along * spare_across
    if spare_across == 0 or (along_first and spare_along > 0):
        corner = with_item(size[0], across, item, size, along_first=False)
        return cut((along, across), "along", corner, Part(spare_along, across))
    corner = with_item(along, size[1], item, size, along_first=True)
    return cut((along, across), "across", corner, Part(along, spare_across))


def reachable(sizes: Sequence[int], room: int) -> list[int]:
    """All sums of the sizes up to ``room``, repetition allowed, 0 among them: the only useful places of a cut."""
    sums = {0}
    edge = [0]
    wanted = sorted(set(sizes))
    while edge:
        grown: set[int] = set()
        for start in edge:
            for size in wanted:
                if start + size > room:
                    break
                if start + size not in sums:
                    grown.add(start + size)
        sums |= grown
        edge = sorted(grown)
    return sorted(sums)


class BestSheet:
    """The most valuable guillotine cutting of a sheet, each kind of piece as often as one likes.

    Exact (Gilmore and Gomory's recursion over the normal cut places, 1966). Used to price cutting patterns: with the duals
    of a linear programme as values it finds the pattern that helps most, or proves that none does.
    """

    def __init__(self, sheet: Size, sizes: Sequence[Size]) -> None:
        self.sheet = sheet
        self.sizes = list(sizes)
        self._along = reachable([size[0] for size in sizes], sheet[0])
        self._across = reachable([size[1] for size in sizes], sheet[1])
        self._halves_along = self._halves(self._along)
        self._halves_across = self._halves(self._across)
        self._best: Any = None
        self._how: Any = None
        self._cell: Any = None
        self._at: Any = None

    @property
    def cells(self) -> int:
        """How many rectangles the recursion looks at: the measure of its effort."""
        return len(self._along) * len(self._across)

    @staticmethod
    def _halves(places: list[int]) -> list[tuple[Any, Any]]:
        """For each place the ways to cut it in two: index of the smaller part and of the largest that fits the rest."""
        import numpy as np

        ways = []
        for whole in places:
            # Index 0 is the empty width; a cut there would be none.
            last = bisect_right(places, whole // 2)
            rest = [bisect_right(places, whole - places[index]) - 1 for index in range(1, last)]
            ways.append((np.arange(1, last), np.array(rest, dtype=np.int64)))
        return ways

    def solve(self, values: Sequence[float]) -> float:
        """The best total value; :meth:`pattern` then gives the cutting."""
        import numpy as np

        rows, columns = len(self._along), len(self._across)
        best = np.zeros((rows, columns))
        # how: 0 nothing or the next smaller rectangle along, 1 the next smaller across, 2 an item, 3 cut along, 4 across
        how = np.zeros((rows, columns), dtype=np.int8)
        at = np.zeros((rows, columns), dtype=np.int64)
        for index, (size, value) in enumerate(zip(self.sizes, values, strict=True)):
            if value <= 0 or size[0] > self.sheet[0] or size[1] > self.sheet[1]:
                continue
            i, j = bisect_right(self._along, size[0]) - 1, bisect_right(self._across, size[1]) - 1
            if value > best[i, j]:
                best[i, j], how[i, j], at[i, j] = value, 2, index
        for i in range(1, rows):
            row, previous = best[i], best[i - 1]
            smaller = previous > row
            row[smaller], how[i][smaller] = previous[smaller], 0
            for first, second in zip(*self._halves_along[i], strict=True):
                total = best[first] + best[second]
                better = total > row + 1e-12
                if better.any():
                    row[better], how[i][better], at[i][better] = total[better], 3, first
            how_row, at_row = how[i], at[i]
            for j in range(1, columns):
                if row[j - 1] > row[j]:
                    row[j], how_row[j] = row[j - 1], 1
                firsts, seconds = self._halves_across[j]
                if len(firsts):
                    totals = row[firsts] + row[seconds]
                    top = int(totals.argmax())
                    if totals[top] > row[j] + 1e-12:
                        row[j], how_row[j], at_row[j] = totals[top], 4, firsts[top]
        self._best, self._how, self._at = best, how, at
        return float(best[-1, -1])

    def pattern(self) -> Part:
        """The cutting that :meth:`solve` found."""
        return self._part(len(self._along) - 1, len(self._across) - 1, self.sheet[0], self.sheet[1])

    def _part(self, i: int, j: int, along: int, across: int) -> Part:
        while self._best[i, j] > 0 and self._how[i, j] in (0, 1):
            i, j = (i - 1, j) if self._how[i, j] == 0 else (i, j - 1)
        if self._best[i, j] <= 0:
            return Part(along, across)
        place = int(self._at[i, j])
        if self._how[i, j] == 2:
            return with_item(along, across, place, self.sizes[place])
        if self._how[i, j] == 3:
            width = self._along[place]
            rest = bisect_right(self._along, self._along[i] - width) - 1
            return cut(
                (along, across),
                "along",
                self._part(place, j, width, across),
                self._part(rest, j, along - width, across),
            )
        height = self._across[place]
        rest = bisect_right(self._across, self._across[j] - height) - 1
        return cut(
            (along, across),
            "across",
            self._part(i, place, along, height),
            self._part(i, rest, along, across - height),
        )


def first_fit(
    sheet: Size, sizes: Sequence[Size], items: Sequence[int], *, split: Literal["largest", "along", "across"]
) -> list[Part]:
    """Cut the items in their order, each from the tightest free rectangle of the first sheet that has one.

    The classical constructive heuristic; a new sheet is begun when no free rectangle holds the piece.
    """
    sheets: list[Part] = []
    free: list[list[tuple[int, int, int, int]]] = []  # the free rectangles of each sheet
    along_first = {"largest": None, "along": True, "across": False}[split]
    for item in items:
        size = sizes[item]
        for index, spots in enumerate(free):
            fits = [spot for spot in spots if spot[2] >= size[0] and spot[3] >= size[1]]
            if fits:
                spot = min(fits, key=lambda one: (one[2] * one[3], one[0], one[1]))
                sheets[index] = _fill(sheets[index], spot, item, size, along_first)
                free[index] = list(_free(sheets[index]))
                break
        else:
            sheets.append(with_item(sheet[0], sheet[1], item, size, along_first=along_first))
            free.append(list(_free(sheets[-1])))
    return sheets


def _free(part: Part, x: int = 0, y: int = 0) -> Iterator[tuple[int, int, int, int]]:
    """The free leaves of a cutting that is still being built."""
    if part.first is not None and part.second is not None:
        yield from _free(part.first, x, y)
        if part.axis == "along":
            yield from _free(part.second, x + part.first.along, y)
        else:
            yield from _free(part.second, x, y + part.first.across)
    elif part.item is None:
        yield x, y, part.along, part.across


def _fill(
    part: Part, spot: tuple[int, int, int, int], item: int, size: Size, along_first: bool | None, x: int = 0, y: int = 0
) -> Part:
    if part.first is None or part.second is None:
        if part.item is None and (x, y, part.along, part.across) == spot:
            return with_item(part.along, part.across, item, size, along_first=along_first)
        return part
    dx, dy = (part.first.along, 0) if part.axis == "along" else (0, part.first.across)
    in_second = spot[0] >= x + dx if part.axis == "along" else spot[1] >= y + dy
    if in_second:
        second = _fill(part.second, spot, item, size, along_first, x + dx, y + dy)
        return Part(part.along, part.across, None, part.axis, part.first, second)
    first = _fill(part.first, spot, item, size, along_first, x, y)
    return Part(part.along, part.across, None, part.axis, first, part.second)
