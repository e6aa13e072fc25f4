"""Kits held together: where the shells of each are, which of them holds up its kit, and what the plan says of its day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, Value, When
from django.utils.translation import gettext as _

from routing.due import Standing, standing
from routing.models import KitOrder, OrderState, Plan
from routing.plan_problem import OPEN_ORDERS
from shopfloor.board.ahead import Finishes, finishes_of
from shopfloor.work_in_process import ShellInWork, shells_of

_COMPLETE = Case(When(state=OrderState.COMPLETE, then=Value(1)), default=Value(0))
SHOWN_KITS = 12  # those due first; the rest is on the pages after it


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """So many shells of a kit at one place."""

    count: int
    state: str
    words: str


@dataclass(frozen=True, slots=True)
class BoardKit:
    order: str
    customer: str
    due: date
    standing: Standing
    finish: datetime | None  # of its last shell by the plan; None while a shell of it has no place in the plan
    shells: tuple[ShellInWork, ...]
    places: tuple[Whereabouts, ...]  # what is furthest behind first
    held: tuple[ShellInWork, ...]
    done: int
    steps: int
    holding_up: ShellInWork | None  # the shell the others wait for

    @property
    def percent(self) -> int:
        return 100 * self.done // self.steps if self.steps else 0

    @property
    def late(self) -> bool:
        return self.standing is Standing.LATE

    @property
    def is_done(self) -> bool:
        return self.holding_up is None


@dataclass(frozen=True, slots=True)
class KitsShown:
    kits: tuple[BoardKit, ...]
    page: int
    has_more: bool
    planned_at: datetime | None


def kits(now: datetime, today: date, page: int = 1) -> KitsShown:
    """Kits in process, so many of those due first, and among them the most pressing first; after them those that are
    complete and wait to be shipped."""
    first = (page - 1) * SHOWN_KITS
    due_first = KitOrder.objects.filter(state__in=OPEN_ORDERS).order_by(_COMPLETE, "due", "number")
    orders = list(due_first[first : first + SHOWN_KITS + 1])
    shown = orders[:SHOWN_KITS]
    found, planned_at = _of(shown, now, today)
    return KitsShown(found, page, len(orders) > len(shown), planned_at)


def pressing_kits(now: datetime, today: date, most: int) -> tuple[BoardKit, ...]:
    """The kits that press most: chosen among those due first and those that the plan makes late, whenever they are due."""
    in_process = KitOrder.objects.filter(state__in=OPEN_ORDERS).exclude(state=OrderState.COMPLETE)
    orders = {order.number: order for order in in_process.order_by("due", "number")[:SHOWN_KITS]}
    if others := set(_planned_late()) - set(orders):
        orders |= {order.number: order for order in in_process.filter(number__in=others)}
    found = _of(list(orders.values()), now, today)[0]
    return tuple(kit for kit in found if not kit.is_done)[:most]


def _planned_late() -> list[str]:
    """Orders that were late or at risk when the current plan was made, the most pressing first, so many as are shown."""
    summary = Plan.objects.filter(is_current=True).values_list("summary", flat=True).first() or {}
    pressing = [kit for kit in summary.get("kits", []) if kit["late"] or kit["at_risk"]]
    pressing.sort(key=lambda kit: (not kit["late"], kit["due_at"], kit["order"]))
    return [kit["order"] for kit in pressing[:SHOWN_KITS]]


def _of(orders: Sequence[KitOrder], now: datetime, today: date) -> tuple[tuple[BoardKit, ...], datetime | None]:
    """The most pressing first, and when the plan was made that says so."""
    shells, finishes = shells_of(orders, now, today), finishes_of(orders, now)
    found = [_kit(order, shells[order.pk], now, today, finishes) for order in orders]
    found.sort(key=lambda kit: (kit.is_done, kit.standing.urgency, kit.due, kit.order))
    return tuple(found), finishes.planned_at


def _kit(order: KitOrder, shells: list[ShellInWork], now: datetime, today: date, plan: Finishes) -> BoardKit:
    open_shells = [shell for shell in shells if shell.steps_left]
    finishes = {shell.serial: _finish(shell, plan) for shell in open_shells}
    known = [finish for finish in finishes.values() if finish is not None]
    complete = bool(known) and len(known) == len(open_shells)
    # A shell without a place in the plan comes after every planned one; among equals, the one with most to do.
    behind = max(
        open_shells,
        key=lambda shell: (finishes[shell.serial] is None, finishes[shell.serial] or now, shell.steps_left),
        default=None,
    )
    steps = sum(len(shell.operations) for shell in shells)
    left = sum(shell.steps_left for shell in shells)
    return BoardKit(
        order=order.number,
        customer=order.customer,
        due=order.due,
        standing=_standing(order.due, open_shells, known, complete, today, plan),
        finish=max(known) if complete else None,
        shells=tuple(shells),
        places=_places(shells),
        held=tuple(shell for shell in open_shells if shell.state == "on_hold"),
        done=steps - left,
        steps=steps,
        holding_up=behind,
    )


def _finish(shell: ShellInWork, plan: Finishes) -> datetime | None:
    """A shell on hold has none, whatever was planned for it before: nobody knows when it goes on."""
    return None if shell.state == "on_hold" else plan.of(shell.serial, shell.steps_left)


def _standing(
    due: date,
    open_shells: Sequence[ShellInWork],
    known: Sequence[datetime],
    complete: bool,
    today: date,
    plan: Finishes,
) -> Standing:
    if not open_shells:
        return Standing.ON_TIME
    if due < today:
        return Standing.LATE
    if not known or plan.hours is None:
        return Standing.UNKNOWN
    stands = standing(max(known), due, plan.hours)
    # What is planned may be in time; the shell that is not planned decides nothing good.
    return stands if complete or stands is not Standing.ON_TIME else Standing.UNKNOWN


def _places(shells: Sequence[ShellInWork]) -> tuple[Whereabouts, ...]:
    furthest: dict[tuple[str, str], int] = {}
    counted: Counter[tuple[str, str]] = Counter()
    for shell in shells:
        place = (shell.state, _words(shell))
        counted[place] += 1
        furthest[place] = max(furthest.get(place, 0), shell.steps_left)
    return tuple(
        Whereabouts(counted[place], *place) for place in sorted(counted, key=lambda place: (-furthest[place], place))
    )


def _words(shell: ShellInWork) -> str:
    if not shell.station:
        return shell.state_word
    if shell.state == "drying":
        return _("{state}, then {station}").format(state=shell.state_word, station=shell.station)
    return _("{state} at {station}").format(state=shell.state_word, station=shell.station)
