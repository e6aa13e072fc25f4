"""Where a piece of work that is not broken off fits into hours."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from routing.scheduling.problem import Window


class Hours:
    """Working hours as windows in order, asked many times for the next place that is long enough."""

    __slots__ = ("_ends", "windows")

    def __init__(self, windows: Iterable[Window]) -> None:
        self.windows: tuple[Window, ...] = tuple(merged(windows))
        self._ends = [end for _, end in self.windows]

    def next_fit(self, start: int, length: int) -> int | None:
        """The earliest time from ``start`` on at which ``length`` minutes lie in one window; None when none does."""
        for place in range(bisect_right(self._ends, start), len(self.windows)):
            first, end = self.windows[place]
            begin = max(first, start)
            if begin + length <= end:
                return begin
        return None

    def contains(self, start: int, end: int) -> bool:
        return self.next_fit(start, end - start) == start

    def starts(self, length: int) -> list[Window]:
        """All times at which ``length`` minutes could begin, as spans with both ends counted in."""
        return [(first, end - length) for first, end in self.windows if end - first >= length]

    def total(self) -> int:
        return sum(end - first for first, end in self.windows)


class Interrupted(Hours):
    """Hours with a breakdown that nobody knows of before it comes: work begins before it, and none within it."""

    __slots__ = ("hole",)

    def __init__(self, windows: Iterable[Window], hole: Window) -> None:
        super().__init__(windows)
        self.hole = hole

    def next_fit(self, start: int, length: int) -> int | None:
        begin = super().next_fit(start, length)
        if begin is not None and self.hole[0] <= begin < self.hole[1]:
            return super().next_fit(self.hole[1], length)
        return begin


def merged(windows: Iterable[Window]) -> list[Window]:
    """Windows in order, those that touch or overlap made one; empty ones left out."""
    found: list[Window] = []
    for start, end in sorted(window for window in windows if window[1] > window[0]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def without(windows: Iterable[Window], holes: Sequence[Window]) -> list[Window]:
    """Windows less the times in ``holes``: absences, outages, closed days."""
    left = merged(windows)
    for first, last in merged(holes):
        left = [
            piece
            for start, end in left
            for piece in ((start, min(end, first)), (max(start, last), end))
            if piece[1] > piece[0]
        ]
    return merged(left)
