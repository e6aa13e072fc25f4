"""The shop's working hours as spans of time: shifts by the week, less closures, by the shop's clock.

A shop that has entered no shift works from Monday to Friday, 8:00 to 16:30 with half an hour at noon.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo

from django.utils import timezone

from routing.models import Closure, Shift

USUAL = {weekday: ((time(8), time(12)), (time(12, 30), time(16, 30))) for weekday in range(5)}
SEARCH_DAYS = 400  # how far ahead a working day is looked for


@dataclass(frozen=True, slots=True)
class ShopHours:
    week: Mapping[int, tuple[tuple[time, time], ...]]  # by weekday, Monday is 0
    closed: tuple[tuple[date, date], ...] = ()  # first and last day of each closure
    zone: tzinfo = field(default_factory=timezone.get_current_timezone)

    @classmethod
    def load(cls) -> ShopHours:
        """As entered, in two queries."""
        week: dict[int, list[tuple[time, time]]] = defaultdict(list)
        for shift in Shift.objects.all():
            week[shift.weekday].append((shift.starts, shift.ends))
        return cls(
            week={day: tuple(sorted(spans)) for day, spans in week.items()} or USUAL,
            closed=tuple(Closure.objects.values_list("first", "last")),
        )

    def on(self, day: date) -> list[tuple[datetime, datetime]]:
        """The spans of work on one day; none on a closed day. A clock change makes a span longer or shorter."""
        if any(first <= day <= last for first, last in self.closed):
            return []
        return [
            (datetime.combine(day, begins, self.zone), datetime.combine(day, ends, self.zone))
            for begins, ends in self.week.get(day.weekday(), ())
        ]

    def between(self, first: date, last: date) -> Iterator[tuple[datetime, datetime]]:
        """The spans of work from one day to another, both counted in."""
        day = first
        while day <= last:
            yield from self.on(day)
            day += timedelta(days=1)

    def closes(self, day: date) -> datetime:
        """When work ends on a day: what is due on it is due then. On a closed day, the end of the last one before."""
        for back in range(SEARCH_DAYS):
            if spans := self.on(day - timedelta(days=back)):
                return spans[-1][1]
        return datetime.combine(day, time(17), self.zone)

    def one_working_day_after(self, at: datetime) -> datetime:
        """The same time of day on the next working day, moved into its hours.

        What comes in on a closed day or after hours counts from the next opening.
        """
        begun = self._in_hours(at)
        day = self._next_working_day(begun.astimezone(self.zone).date())
        spans = self.on(day)
        if not spans:
            return begun + timedelta(days=1)
        wanted = datetime.combine(day, begun.astimezone(self.zone).time(), self.zone)
        return min(max(wanted, spans[0][0]), spans[-1][1])

    def _in_hours(self, at: datetime) -> datetime:
        """``at`` itself on a working day before it ends, not before it begins; else the next opening."""
        today = at.astimezone(self.zone).date()
        for ahead in range(SEARCH_DAYS):
            if spans := self.on(today + timedelta(days=ahead)):
                if at < spans[0][0]:
                    return spans[0][0]
                if at <= spans[-1][1]:
                    return at
        return at

    def _next_working_day(self, after: date) -> date:
        for ahead in range(1, SEARCH_DAYS):
            if self.on(after + timedelta(days=ahead)):
                return after + timedelta(days=ahead)
        return after + timedelta(days=1)
