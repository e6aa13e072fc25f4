"""What the current plan says of the days ahead: how full stations and drying rooms are, and when shells are finished.

It looks at every step that is planned for these days, so it is taken now and then, kept, and says how old it is; what a
kit's page needs of the plan is read for the shells of that page alone. Without a plan only the drying rooms are known.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.core.cache import cache
from django.db.models import Count, OuterRef, Subquery
from django.utils import timezone

from routing.models import KitOrder, Operation, OperationState, Outage, Plan, PlannedStep, Station
from routing.models.capacity import rooms_after
from routing.scheduling.hours import Hours, without
from routing.shop_hours import ShopHours

DAYS = 5  # working days looked ahead, the present one counted while it lasts
SEARCH_DAYS = 60  # how far ahead they are looked for, over a long closure
KEPT_S = 180  # a look ahead is shown for so long before the next is taken
TO_DO = [OperationState.READY, OperationState.IN_WORK, OperationState.WAITING]


@dataclass(frozen=True, slots=True)
class StationLoad:
    """Hours of work at a station in the days ahead: what is planned, and what all its places have together."""

    pk: int
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
    taken_at: datetime
    rooms: tuple[RoomFill, ...]
    planned_at: datetime | None = None  # when the current plan was made; None without one
    until: date | None = None  # the last day that ``loads`` count
    loads: tuple[StationLoad, ...] = ()  # in the order of work

    @property
    def fullest(self) -> StationLoad | None:
        """The bottleneck of the days ahead."""
        return max((load for load in self.loads if load.planned_h), key=lambda load: load.share, default=None)

    @property
    def fullest_three(self) -> list[StationLoad]:
        return sorted((load for load in self.loads if load.planned_h), key=lambda load: -load.share)[:3]


@dataclass(frozen=True, slots=True)
class Finishes:
    """When the shells of some kits are finished by the current plan."""

    planned_at: datetime | None = None
    hours: ShopHours | None = None
    by_serial: Mapping[str, tuple[datetime, int]] = field(default_factory=dict)  # when, and how many steps were planned

    def of(self, serial: str, steps_left: int) -> datetime | None:
        """When a shell is finished; None when the plan does not know every step that is left to do."""
        when, steps = self.by_serial.get(serial, (None, 0))
        return when if steps >= steps_left else None


def finishes_of(orders: Iterable[KitOrder], now: datetime) -> Finishes:
    """For the shells of these orders alone, whatever else is planned."""
    plan = Plan.objects.filter(is_current=True).values_list("pk", "made_at").first()
    if plan is None:
        return Finishes()
    pk, made_at = plan
    # Asked for apart: in one question either database goes through every step of the plan, or of the shop.
    serials = dict(
        Operation.objects.filter(shell__order__in=list(orders), state__in=TO_DO)
        .order_by()
        .values_list("pk", "shell__serial")
    )
    ends: dict[str, list[datetime]] = defaultdict(list)
    planned = PlannedStep.objects.filter(plan=pk, operation__in=list(serials)).order_by()
    for step, ends_at in planned.values_list("operation", "ends_at"):
        ends[serials[step]].append(ends_at)
    by_serial = {serial: (max(now, *every), len(every)) for serial, every in ends.items()}
    return Finishes(made_at, ShopHours.load(), by_serial)


def lately(now: datetime) -> Ahead:
    """The look ahead that this process of the server took last, at most some minutes ago, unless another plan is current
    since."""
    plan = Plan.objects.filter(is_current=True).values_list("pk", "made_at", "state").first()
    kept = cache.get("ahead")
    if kept is not None and kept[0] == plan and now - timedelta(seconds=KEPT_S) <= kept[1].taken_at <= now:
        found: Ahead = kept[1]
        return found
    taken = look_ahead(now)
    cache.set("ahead", (plan, taken), KEPT_S)
    return taken


def look_ahead(now: datetime) -> Ahead:
    stations, rooms = _stations_and_rooms(now)
    plan = Plan.objects.filter(is_current=True).values_list("pk", "made_at").first()
    if plan is None:
        return Ahead(now, rooms)
    spans = days_ahead(ShopHours.load(), now)
    until = spans[-1][1] if spans else now
    steps = (
        PlannedStep.objects.filter(plan=plan[0], starts_at__lt=until, operation__state__in=TO_DO)
        .order_by()
        .values_list("station", "starts_at", "ends_at", "operation__state")
    )
    planned: dict[int, timedelta] = defaultdict(timedelta)
    for station, starts_at, ends_at, state in steps:
        # What should have begun and has not is still to be done, all of it.
        begins = max(starts_at, now) if state == OperationState.IN_WORK else starts_at
        planned[station] += max(min(ends_at, until) - begins, timedelta())
    return Ahead(
        now,
        rooms,
        planned_at=plan[1],
        until=timezone.localdate(until),
        loads=_loads(stations, planned, spans, now),
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
    stations: Sequence[Station],
    planned: Mapping[int, timedelta],
    spans: Sequence[tuple[datetime, datetime]],
    now: datetime,
) -> tuple[StationLoad, ...]:
    def minute(when: datetime) -> int:
        return round((when - now) / timedelta(minutes=1))

    until = spans[-1][1] if spans else now
    down: dict[int, list[tuple[int, int]]] = defaultdict(list)
    outages = Outage.objects.filter(ends_at__gt=now, starts_at__lt=until)
    for station, starts_at, ends_at in outages.values_list("station", "starts_at", "ends_at"):
        down[station].append((minute(starts_at), minute(ends_at)))
    windows = [(minute(starts), minute(ends)) for starts, ends in spans]
    return tuple(
        StationLoad(
            station.pk,
            station.name,
            planned[station.pk] / timedelta(hours=1) if station.pk in planned else 0.0,
            Hours(without(windows, down[station.pk])).total() / 60 * station.places if station.is_active else 0.0,
        )
        for station in stations
        if station.is_active or station.pk in planned
    )


def _stations_and_rooms(now: datetime) -> tuple[tuple[Station, ...], tuple[RoomFill, ...]]:
    stations = tuple(Station.objects.order_by("position", "code").prefetch_related("drying_rooms"))
    served = [(station.pk, room) for station in stations for room in station.drying_rooms.all()]
    room_after = rooms_after((station, room.pk, room.name) for station, room in served)
    places_in = {room.name: room.places for _, room in served}
    standing: Counter[str] = Counter()
    if places_in:
        for came_from, count in _dwelling_by_station(now):
            if came_from in room_after:
                standing[room_after[came_from]] += count
    rooms = (RoomFill(room, standing[room], places) for room, places in sorted(places_in.items()))
    return stations, tuple(rooms)


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
