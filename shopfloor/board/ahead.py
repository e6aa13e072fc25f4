"""What the current plan says of the days ahead: when each shell is finished, and how full stations and drying rooms are.

Read with a known number of queries whatever the load; without a plan only the drying rooms are known.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, OuterRef, Subquery
from django.utils import timezone

from routing.models import Operation, OperationState, Outage, PlannedStep, Station
from routing.scheduling.hours import Hours, without
from routing.shop_hours import ShopHours

DAYS = 5  # working days looked ahead, the present one counted while it lasts
SEARCH_DAYS = 60  # how far ahead they are looked for, over a long closure
TO_DO = [OperationState.READY, OperationState.IN_WORK, OperationState.WAITING]


@dataclass(frozen=True, slots=True)
class BoardStation:
    pk: int
    code: str
    name: str
    is_active: bool
    places: int


@dataclass(frozen=True, slots=True)
class StationLoad:
    """Hours of work at a station in the days ahead: what is planned, and what all its places have together."""

    name: str
    planned_h: float
    there_h: float

    @property
    def share(self) -> float:
        if not self.planned_h:
            return 0.0
        return self.planned_h / self.there_h if self.there_h else float("inf")

    @property
    def percent(self) -> int | None:
        """None when there are no hours at all for what is planned."""
        return None if self.planned_h and not self.there_h else round(100 * self.share)


@dataclass(frozen=True, slots=True)
class RoomFill:
    name: str
    standing: int
    places: int

    @property
    def is_full(self) -> bool:
        return self.standing >= self.places


@dataclass(frozen=True, slots=True)
class Ahead:
    stations: tuple[BoardStation, ...]  # in the order of work
    rooms: tuple[RoomFill, ...]
    planned_at: datetime | None = None  # when the current plan was made; None without one
    until: date | None = None  # the last day that ``loads`` count
    loads: Mapping[int, StationLoad] | None = None
    finishes: Mapping[str, tuple[datetime, int]] | None = None  # by serial: when, and how many steps were planned
    hours: ShopHours | None = None

    @property
    def fullest(self) -> StationLoad | None:
        """The bottleneck of the days ahead."""
        busy = [load for load in (self.loads or {}).values() if load.planned_h]
        return max(busy, key=lambda load: load.share, default=None)

    def finish_of(self, serial: str, steps_left: int) -> datetime | None:
        """When a shell is finished; None when the plan does not know every step that is left to do."""
        when, steps = (self.finishes or {}).get(serial, (None, 0))
        return when if steps >= steps_left else None


def look_ahead(now: datetime) -> Ahead:
    stations, rooms = _stations_and_rooms(now)
    steps = list(
        PlannedStep.objects.filter(plan__is_current=True, operation__state__in=TO_DO)
        .order_by()
        .values_list("plan__made_at", "operation__shell__serial", "operation__state", "station", "starts_at", "ends_at")
    )
    if not steps:
        return Ahead(stations, rooms)
    hours = ShopHours.load()
    spans = days_ahead(hours, now)
    until = spans[-1][1] if spans else now
    planned: dict[int, timedelta] = defaultdict(timedelta)
    ends: dict[str, datetime] = {}
    counted: Counter[str] = Counter()
    for _, serial, state, station, starts_at, ends_at in steps:
        # What should have begun and has not is still to be done, all of it.
        begins = max(starts_at, now) if state == OperationState.IN_WORK else starts_at
        planned[station] += max(min(ends_at, until) - begins, timedelta())
        ends[serial] = max(ends.get(serial, ends_at), ends_at)
        counted[serial] += 1
    return Ahead(
        stations,
        rooms,
        planned_at=steps[0][0],
        until=timezone.localdate(until),
        loads=_loads(stations, planned, spans, now),
        finishes={serial: (max(end, now), counted[serial]) for serial, end in ends.items()},
        hours=hours,
    )


def days_ahead(hours: ShopHours, now: datetime) -> list[tuple[datetime, datetime]]:
    """The hours of work of the coming working days; of the present day what is left of it."""
    today = timezone.localdate(now)
    spans: list[tuple[datetime, datetime]] = []
    days = 0
    for n in range(SEARCH_DAYS):
        left = [(max(starts, now), ends) for starts, ends in hours.on(today + timedelta(days=n)) if ends > now]
        if left:
            spans += left
            days += 1
        if days == DAYS:
            break
    return spans


def _loads(
    stations: Sequence[BoardStation],
    planned: Mapping[int, timedelta],
    spans: Sequence[tuple[datetime, datetime]],
    now: datetime,
) -> dict[int, StationLoad]:
    def minute(when: datetime) -> int:
        return round((when - now) / timedelta(minutes=1))

    until = spans[-1][1] if spans else now
    down: dict[int, list[tuple[int, int]]] = defaultdict(list)
    outages = Outage.objects.filter(ends_at__gt=now, starts_at__lt=until)
    for station, starts_at, ends_at in outages.values_list("station", "starts_at", "ends_at"):
        down[station].append((minute(starts_at), minute(ends_at)))
    windows = [(minute(starts), minute(ends)) for starts, ends in spans]
    return {
        station.pk: StationLoad(
            station.name,
            planned[station.pk] / timedelta(hours=1) if station.pk in planned else 0.0,
            Hours(without(windows, down[station.pk])).total() / 60 * station.places if station.is_active else 0.0,
        )
        for station in stations
        if station.is_active or station.pk in planned
    }


def _stations_and_rooms(now: datetime) -> tuple[tuple[BoardStation, ...], tuple[RoomFill, ...]]:
    rows = Station.objects.order_by("position", "code", "drying_rooms__pk").values_list(
        "pk", "code", "name", "is_active", "places", "drying_rooms__name", "drying_rooms__places"
    )
    stations: dict[int, BoardStation] = {}
    room_after: dict[int, str] = {}
    places_in: dict[str, int] = {}
    for pk, code, name, is_active, places, room, room_places in rows:
        stations[pk] = BoardStation(pk, code, name, is_active, places)
        if room is not None:
            room_after.setdefault(pk, room)  # a station with two rooms counts for the first, as in the plan
            places_in[room] = room_places
    standing: Counter[str] = Counter()
    if places_in:
        for station, count in _dwelling_by_station(now):
            if station in room_after:
                standing[room_after[station]] += count
    rooms = (RoomFill(room, standing[room], places) for room, places in sorted(places_in.items()))
    return tuple(stations.values()), tuple(rooms)


def _dwelling_by_station(now: datetime) -> list[tuple[int | None, int]]:
    """How many shells cure, dry or rest after a step at each station."""
    behind = Operation.objects.filter(
        shell=OuterRef("shell"), position__lt=OuterRef("position"), state=OperationState.DONE
    ).order_by("-position")
    return list(
        Operation.objects.current()
        .filter(state=OperationState.READY, not_before__gt=now)
        .annotate(came_from=Subquery(behind.values("station")[:1]))
        .values("came_from")
        .annotate(count=Count("pk"))
        .values_list("came_from", "count")
    )
