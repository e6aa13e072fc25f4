"""First pass yield by station, rolled throughput yield, rework and scrap ratios, lead time and touch time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Sum

from quality.figures.span import Span
from quality.models import Disposition, Problem, SignOff
from quality.statistics import (
    SpreadOfTimes,
    first_pass_yield,
    rework_ratio,
    rolled_yield,
    scrap_ratio,
    spread_of_times,
)
from routing.history import LONGEST_KEPT
from routing.models import (
    Operation,
    OperationState,
    RecordKind,
    RouteTemplate,
    ShellRecord,
    Station,
    StationKind,
)
from routing.models.recipes import FINISH_CHOICES

# A decision that says the shell was not right. One that was let go again counts against nobody.
_AGAINST = [Disposition.SCRAP, Disposition.AS_IS, Disposition.REGRADE]


@dataclass(frozen=True, slots=True)
class StationYield:
    """Of the shells that had a step signed, or were scrapped, at a station in these days."""

    station: Station
    shells: int
    passed_first: int

    @property
    def first_pass(self) -> float | None:
        return first_pass_yield(self.passed_first, self.shells)


@dataclass(frozen=True, slots=True)
class RolledYield:
    """Over the stations of the routes of one finish; None where one of them has no shell in these days."""

    finish: str
    stations: tuple[str, ...]
    rolled: float | None
    missing: tuple[str, ...]  # stations without a shell


@dataclass(frozen=True, slots=True)
class ShopYields:
    stations: tuple[StationYield, ...]
    rolled: tuple[RolledYield, ...]
    processed: int  # shells on which something was signed
    reworked: int
    packed: int
    scrapped: int
    lead_days: SpreadOfTimes | None  # from release to the signature under packing
    touch_hours: SpreadOfTimes | None  # of those drums, where a touch time is known
    touch_share: float | None  # of the whole lead time
    touch_stations: tuple[str, ...]  # where work is begun and finished with a tap

    @property
    def rework(self) -> float | None:
        return rework_ratio(self.reworked, self.processed)

    @property
    def scrap(self) -> float | None:
        return scrap_ratio(self.scrapped, self.packed + self.scrapped)


def yields_between(span: Span) -> ShopYields:
    """Everything about yields and times in a fixed number of queries.

    A shell passes a station the first time unless it was sent back to a step there, or unless it was scrapped, regraded
    or used as it is for what was found at a step there. A signature that was taken back counts against nobody.
    """
    signed = SignOff.objects.filter(span.within("at", "operation__shell__"))
    shells = dict(
        signed.order_by()
        .values("operation__station")
        .annotate(shells=Count("operation__shell", distinct=True))
        .values_list("operation__station", "shells")
    )
    failed = _failed(span)
    seen = set(
        signed.filter(operation__shell__in={shell for shell, _ in failed})
        .order_by()
        .values_list("operation__shell", "operation__station")
        .distinct()
    )
    unsigned = _scrapped_pairs(span) - seen
    against = Counter(station for _, station in (failed & seen) | unsigned)
    more = Counter(station for _, station in unsigned)
    stations = tuple(
        StationYield(station, count, count - against[station.pk])
        for station in Station.objects.order_by("position")
        if (count := shells.get(station.pk, 0) + more[station.pk])
    )
    processed = signed.order_by().aggregate(n=Count("operation__shell", distinct=True))["n"]
    reworks = ShellRecord.objects.filter(span.within("at", "shell__"), kind=RecordKind.REWORK)
    scraps = ShellRecord.objects.filter(span.within("at", "shell__"), kind=RecordKind.SCRAPPED)
    lead, touch, share, packed = _times(span)
    return ShopYields(
        stations=stations,
        rolled=tuple(_rolled(stations)),
        processed=processed,
        reworked=min(processed, reworks.aggregate(n=Count("shell", distinct=True))["n"]),
        packed=packed,
        scrapped=scraps.aggregate(n=Count("shell", distinct=True))["n"],
        lead_days=lead,
        touch_hours=touch,
        touch_share=share,
        touch_stations=tuple(Station.objects.filter(counts_touch_time=True).values_list("name", flat=True)),
    )


def _failed(span: Span) -> set[tuple[int, int]]:
    """(shell, station) pairs that were not right the first time, from decisions of any day since these days began."""
    reworks = ShellRecord.objects.filter(kind=RecordKind.REWORK, at__gte=span.begins, operation__isnull=False)
    pairs = set(reworks.order_by().values_list("shell", "operation__station"))
    problems = Problem.objects.filter(disposition__in=_AGAINST, found_at__gte=span.begins)
    return pairs | set(problems.order_by().values_list("shell", "operation__station"))


def _scrapped_pairs(span: Span) -> set[tuple[int, int]]:
    scrapped = Problem.objects.filter(span.within("settled_at", "shell__"), disposition=Disposition.SCRAP)
    return set(scrapped.order_by().values_list("shell", "operation__station"))


def _rolled(stations: Iterable[StationYield]) -> Iterable[RolledYield]:
    found = {each.station.pk: each for each in stations}
    on_routes: dict[str, dict[int, str]] = {}
    templates = RouteTemplate.objects.filter(is_current=True).prefetch_related("steps__station")
    for template in templates:
        for step in template.steps.all():
            on_routes.setdefault(template.finish_kind, {})[step.station_id] = step.station.name
    for kind, label in FINISH_CHOICES:
        on_route = on_routes.get(kind, {})
        if not on_route:
            continue
        missing = tuple(name for pk, name in on_route.items() if pk not in found)
        rolled = rolled_yield(found[pk].first_pass for pk in on_route if pk in found)
        yield RolledYield(str(label), tuple(on_route.values()), None if missing else rolled, missing)


def _times(span: Span) -> tuple[SpreadOfTimes | None, SpreadOfTimes | None, float | None, int]:
    # Found by the records around these days, as steps have no index by time; a tap that was kept on a tablet without a link
    # may be older than its step's end.
    signed = ShellRecord.objects.filter(
        kind=RecordKind.SIGNED,
        at__gte=span.begins - LONGEST_KEPT,
        at__lt=span.ends,
        operation__station__kind=StationKind.PACK,
    )
    packing = Operation.objects.filter(
        span.within("done_at", "shell__"), pk__in=signed.order_by().values("operation"), state=OperationState.DONE
    )
    rows = list(packing.order_by().values_list("shell", "shell__released_at", "done_at"))
    touched = dict(
        Operation.objects.filter(shell__in=packing.values("shell"), touch_seconds__gt=0)
        .order_by()
        .values("shell")
        .annotate(seconds=Sum("touch_seconds"))
        .values_list("shell", "seconds")
    )
    leads = {shell: (done_at - released_at).total_seconds() for shell, released_at, done_at in rows if done_at}
    known = [shell for shell in leads if shell in touched]
    lead_known = sum(leads[shell] for shell in known)
    return (
        spread_of_times([seconds / 86400 for seconds in leads.values()]),
        spread_of_times([touched[shell] / 3600 for shell in known]),
        sum(touched[shell] for shell in known) / lead_known if lead_known else None,
        len(rows),
    )
