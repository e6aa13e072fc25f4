"""What a station's tablet shows: what can be worked now, what still dries, what is held, what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Max, OuterRef, Q, Subquery
from django.utils import timezone

from quality.models import Person, SignOff
from routing.history import LONGEST_KEPT
from routing.languages import present_language
from routing.models import Operation, OperationState, Plan, PlannedStep, RecordKind, ShellRecord, Shop, Station
from shopfloor.work_in_process import ShellInWork, shells_at

SHOWN_NEXT = 8
SHOWN_OTHERS = 4


@dataclass(frozen=True, slots=True)
class Queue:
    now: tuple[ShellInWork, ...]
    drying: tuple[ShellInWork, ...]
    held: tuple[ShellInWork, ...]
    coming: tuple[ShellInWork, ...]
    by_plan: bool  # whether a plan orders what can be worked now

    @property
    def is_empty(self) -> bool:
        return not (self.now or self.drying or self.held or self.coming)


AT_LEAST_EVERY_S = 600  # what changes without a record: due dates, the shop's words, the date


@dataclass(frozen=True, slots=True)
class Waiting:
    """How much there is to do at a station, for whoever comes to sign in."""

    now: int
    drying: int
    held: int


def waiting_at(station: Station, now: datetime) -> Waiting:
    here = Operation.objects.current().filter(station=station)
    held = Q(state=OperationState.ON_HOLD)
    drying = Q(not_before__gt=now) & ~held
    counts = here.aggregate(
        now=Count("pk", filter=~held & ~drying), drying=Count("pk", filter=drying), held=Count("pk", filter=held)
    )
    return Waiting(**counts)


def queue_version(station: Station, now: datetime) -> str:
    """Changes when anything was recorded anywhere, when a dwell here ends, and every ten minutes; with a new plan and another
    language: three indexed reads."""
    newest = ShellRecord.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    dwelling = Operation.objects.current().filter(station=station, not_before__gt=now).count()
    plan = Plan.objects.filter(is_current=True).values_list("pk", "found_by").first() or ""
    every = int(now.timestamp()) // AT_LEAST_EVERY_S
    return f"{station.pk}-{newest}-{dwelling}-{plan}-{every}-{present_language()}"


def queue_of(station: Station, now: datetime) -> Queue:
    """The queue of a station: by the plan; what is in none is due first, then oldest. A fixed number of queries."""
    today = timezone.localdate(now)
    here, by_plan = _by_plan(shells_at(Operation.objects.current().filter(station=station), now, today), station)
    return Queue(
        now=tuple(shell for shell in here if shell.state in ("ready", "in_work")),
        drying=tuple(
            sorted((s for s in here if s.state == "drying"), key=lambda shell: (shell.until or now, shell.serial))
        ),
        held=tuple(shell for shell in here if shell.state == "on_hold"),
        coming=tuple(_coming_to(station, now)),
        by_plan=by_plan,
    )


def _by_plan(shells: list[ShellInWork], station: Station) -> tuple[list[ShellInWork], bool]:
    """What is in work first, then in the order of the current plan; what it does not know stays in order behind it. False
    where the plan knows nothing of what is here: then all of it stays in order."""
    planned = dict(
        PlannedStep.objects.filter(plan__is_current=True, station=station)
        .filter(operation__in=Operation.objects.current().filter(station=station))
        .values_list("operation__shell__serial", "starts_at")
    )
    if not planned:
        return shells, False
    last = max(planned.values()) + timedelta(days=1)
    return sorted(shells, key=lambda shell: (shell.state != "in_work", planned.get(shell.serial, last))), True


def _coming_to(station: Station, now: datetime) -> list[ShellInWork]:
    """Shells whose very next step after the present one is at this station."""
    # Of each present step the next one is looked up; joined, a database may take all the steps of the station first.
    after = Operation.objects.filter(
        shell=OuterRef("shell"), position=OuterRef("position") + 1, state=OperationState.WAITING
    )
    before_here = (
        Operation.objects.current()
        .exclude(state=OperationState.ON_HOLD)
        .annotate(goes_to=Subquery(after.values("station")[:1]))
        .filter(goes_to=station.pk)
    )
    soonest = before_here.order_by("shell__order__due", "shell_id").values_list("shell_id", flat=True)[:SHOWN_NEXT]
    current = Operation.objects.current().filter(shell__in=list(soonest)).exclude(station=station)
    return shells_at(current, now, timezone.localdate(now))


def lately_here(station: Station, person: Person, now: datetime) -> list[Person]:
    """Who else signed at a station since yesterday, the last first: the ones who take over this tablet."""
    last = (
        SignOff.objects.filter(record__kind=RecordKind.SIGNED, record__at__gt=now - timedelta(days=1))
        .filter(operation__station=station)
        .filter(person__is_active=True)
        .exclude(Q(person=person) | Q(person__pin=""))
        .values("person_id")
        .annotate(last=Max("at"))
        .order_by("-last")[:SHOWN_OTHERS]
    )
    order = [row["person_id"] for row in last]
    return sorted(Person.objects.filter(pk__in=order), key=lambda other: order.index(other.pk))


def last_tap(station: Station, person: Person, now: datetime) -> SignOff | None:
    """The signature that ``person`` gave here last and may still take back without a supervisor."""
    since = now - timedelta(minutes=Shop.current().withdraw_minutes)
    return (
        SignOff.objects.standing()
        # Found by whom it is of and when it was done; what came in lately was done within the days that a link is down.
        .filter(record__person=person, record__at__gte=since - LONGEST_KEPT)
        .filter(operation__station=station, record__received_at__gte=since, operation__state="done")
        .filter(entered_by__isnull=True)  # a supervisor entered it from paper: no tap of this person's
        .select_related("operation__shell", "record")
        .order_by("-pk")
        .first()
    )
