"""The demo shop put to work through its own actions: orders released, shells at most stations, one on hold, a kit packed,
a request taken. Signatures are dated back, night hours and dwells kept, so that nobody waits for glue."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from django.utils import timezone

from quality.models import Defect, Person, RequestKind
from quality.problems import report_problem
from quality.requests import take_request
from routing.models import KitOrder, Operation, OperationState, Shell, StationKind
from routing.order_book import import_order_book, read_order_book
from routing.release import release_order
from shopfloor.demo.loading import load_demo
from shopfloor.demo.walking import in_hours, stamp_of, walk

BOOK = Path(__file__).parents[1] / "shopfloor" / "demo" / "order_book.csv"
KITS = 9  # released; the first is packed, the second waits for its final check
AGO = timedelta(days=24)
PLACE = "Tablet 1"


def fill() -> None:
    """Into an empty database."""
    now = timezone.now()
    today = timezone.localdate(now)
    load_demo(now=now, today=today)
    by = Person.objects.get(username="greta")
    begun = stamp_of(by, in_hours(now - AGO), PLACE)
    import_order_book(read_order_book(BOOK.read_bytes(), today=today), stamp=begun, today=today)
    orders = list(KitOrder.objects.order_by("due", "number")[:KITS])
    for place, order in enumerate(orders):
        for number, shell in enumerate(release_order(number=order.number, stamp=begun)):
            walk(shell, last=_how_far(place, number, shell.operations.count()), now=now, place=PLACE)
    _hold_one(by, now)
    take_request(
        serial=Shell.objects.filter(order=orders[0]).earliest("pk").serial,
        kind=RequestKind.QUESTION,
        said="What diameter of head does it take?",
        contact="by telephone",
        person=by,
        stamp=stamp_of(by, now, PLACE),
    )


def _how_far(place: int, number: int, steps: int) -> int:
    """How many steps of a shell are signed: all of the first kit, the others here and there."""
    if place < 2:
        return steps - 2 * place
    return (3 * number + 2 * place) % (steps - 3)


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
        stamp=stamp_of(by, now, PLACE),
    )
