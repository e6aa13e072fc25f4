"""The demo shop put to work through its own actions: orders released, shells at most stations, one on hold, a kit packed,
a request taken. Signatures are dated back, night hours and dwells kept, so that nobody waits for glue."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.utils import timezone

from quality.actions import print_card, sign_off
from quality.checks import Check, checks_for
from quality.may_sign import assemblers_of
from quality.models import Defect, Person, Qualification, RequestKind, Role
from quality.problems import report_problem
from quality.requests import take_request
from quality.rights import Right, has_right
from routing.frozen import current_spec
from routing.history import Stamp
from routing.models import KitOrder, Operation, OperationState, Shell, StationKind
from routing.order_book import import_order_book, read_order_book
from routing.release import release_order
from shopfloor.demo.loading import load_demo

BOOK = Path(__file__).parents[1] / "shopfloor" / "demo" / "order_book.csv"
KITS = 9  # released; the first is packed, the second waits for its final check
AGO, STEP = timedelta(days=24), timedelta(minutes=35)
OPENS, CLOSES = 7, 16
PLACE = "Tablet 1"


def fill() -> None:
    """Into an empty database."""
    now = timezone.now()
    today = timezone.localdate(now)
    load_demo(now=now, today=today)
    by = Person.objects.get(username="greta")
    begun = _stamp(by, _by_day(now - AGO))
    import_order_book(read_order_book(BOOK.read_bytes(), today=today), stamp=begun, today=today)
    orders = list(KitOrder.objects.order_by("due", "number")[:KITS])
    for place, order in enumerate(orders):
        for number, shell in enumerate(release_order(number=order.number, stamp=begun)):
            _walk(shell, _how_far(place, number, shell.operations.count()), now)
    _hold_one(by, now)
    take_request(
        serial=Shell.objects.filter(order=orders[0]).earliest("pk").serial,
        kind=RequestKind.QUESTION,
        said="What diameter of head does it take?",
        contact="by telephone",
        person=by,
        stamp=_stamp(by, now),
    )


def _how_far(place: int, number: int, steps: int) -> int:
    """How many steps of a shell are signed: all of the first kit, the others here and there."""
    if place < 2:
        return steps - 2 * place
    return (3 * number + 2 * place) % (steps - 3)


def _walk(shell: Shell, last: int, now: datetime) -> None:
    """Sign the first steps of a shell, each as soon as the dwell before it is over."""
    moment = shell.released_at
    for position in range(1, last + 1):
        step = Operation.objects.select_related("station", "shell__model", "shell__finish").get(
            shell=shell, position=position
        )
        if step.state == OperationState.SKIPPED:
            continue
        moment = _by_day(max(moment, step.not_before or moment) + STEP)
        if moment > now:
            return  # it dries still
        _sign(step, moment)


def _sign(step: Operation, at: datetime) -> None:
    is_final = step.station.kind == StationKind.FINAL_CHECK
    who = _who(step, at)
    checks = checks_for(step, step.shell, current_spec(step.shell).results)
    sign_off(
        serial=step.shell.serial,
        position=step.position,
        person=who,
        answers={check.key: passing(check) for check in checks},
        pin_confirmed=is_final,
        stamp=_stamp(who, at),
    )
    if is_final:
        print_card(serial=step.shell.serial, person=who, stamp=_stamp(who, at))


def _who(step: Operation, at: datetime) -> Person:
    """A worker who is qualified; for the final check a checker who did not assemble the drum."""
    role = Role.FINAL_CHECKER if step.station.kind == StationKind.FINAL_CHECK else Role.WORKER
    day = timezone.localdate(at)
    found = [
        each.person
        for each in Qualification.objects.filter(station=step.station, person__role=role).select_related("person")
        if each.holds_on(day) and has_right(each.person, Right.SIGN_STEPS)
    ]
    barred = assemblers_of(step.shell) if role == Role.FINAL_CHECKER else ()
    free = [who for who in found if who.pk not in barred]
    return free[step.shell_id % len(free)]


def passing(check: Check) -> str:
    """An answer that passes a check, as somebody would enter it."""
    if not check.is_measured:
        return "yes"
    if check.lines:
        return " ".join(f"{line.wanted}" for line in check.lines)
    if check.is_spread:
        return " ".join([f"{(check.head or {}).get('target_hz') or 100.0:.0f}"] * check.places)
    if check.low is not None and check.high is not None:
        middle = (check.low + check.high) / 2
    else:
        middle = check.high * 0.6 if check.high is not None else (check.low or 0.0) + 1
    return " ".join([f"{middle:.6g}"] * check.places)


def _hold_one(by: Person, now: datetime) -> None:
    """A shell whose edges can be cut, or else any."""
    ready = Operation.objects.filter(state=OperationState.READY).select_related("shell", "station").order_by("-pk")
    step = ready.filter(station__kind=StationKind.EDGE).first() or ready[0]
    report_problem(
        serial=step.shell.serial,
        position=step.position,
        person=by,
        text="A dent beside the seam",
        defect=Defect.objects.filter(found_at__contains=step.station.kind).first(),
        stamp=_stamp(by, now),
    )


def _by_day(moment: datetime) -> datetime:
    """The moment itself by day; after hours the next morning."""
    local = timezone.localtime(moment)
    if OPENS <= local.hour < CLOSES:
        return moment
    ahead = local if local.hour < OPENS else local + timedelta(days=1)
    return ahead.replace(hour=OPENS, minute=10, second=0, microsecond=0)


def _stamp(who: Person, at: datetime) -> Stamp:
    moment = at.astimezone(UTC)
    return Stamp(person_id=who.pk, person_name=who.name, at=moment, received_at=moment, device=PLACE)
