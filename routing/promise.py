"""What can be promised, and what would happen if: answers from the present load, by dispatch rule. Nothing is saved.

A kit that is asked about is planned behind all work that is in the house, so what it gets it can keep. The margin covers
what no plan knows: rework, breakdowns, days off sick.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from routing.errors import NotAllowedNow
from routing.models import DrumModel, Finish, KitOrder, OrderState, Shop
from routing.plan_jobs import KitInPlan, kits_in, present_problem, quick_plan
from routing.plan_problem import PlanPerson, ShopProblem, with_kit
from routing.planning import PlannedStep
from routing.release import prepare_drum
from routing.scheduling.problem import Schedule
from routing.shop_hours import SEARCH_DAYS, ShopHours
from routing.turnstile import writing

Drum = tuple[Sequence[PlannedStep], dict[str, Any], dict[str, Any]]
MARGIN = 0.2  # of the working days until a kit is ready; common practice, no source
RUSH_WEIGHT = 10
ASKED = "this kit"  # no order has such a number: it has a blank in it


@dataclass(frozen=True, slots=True)
class Wanted:
    """Drums that somebody asks a date for."""

    model: DrumModel
    finish: Finish
    quantity: int


@dataclass(frozen=True, slots=True)
class Promise:
    """What can be said to the customer of a kit that is not released yet."""

    shells: int
    ready_at: datetime  # by the plan, without anything going wrong
    day: date  # with the margin: the date to promise
    margin_days: int  # working days
    due: date | None  # what was asked for
    due_is_kept: bool  # whether that day holds, margin and all
    if_taken: tuple[KitMoved, ...]  # what else would be late, were it planned for that day


@dataclass(frozen=True, slots=True)
class KitMoved:
    """One kit before and after a change."""

    order: str
    customer: str
    due: date
    before: datetime | None  # None: not planned before
    after: datetime | None  # None: finds no place any more
    was_late: bool
    is_late: bool

    @property
    def moved_h(self) -> float:
        if self.before is None or self.after is None:
            return 0.0
        return (self.after - self.before) / timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Change:
    """What if: people away, stations down, orders that are to come first."""

    away: tuple[tuple[int, date, date], ...] = ()  # person, first and last day
    down: tuple[tuple[str, datetime, datetime], ...] = ()  # station's code, from, until
    rush: tuple[str, ...] = ()  # order numbers


@dataclass(frozen=True, slots=True)
class WhatIf:
    moved: tuple[KitMoved, ...]  # kits that end at another time, those that become late first
    kits: int
    late_before: int
    late_after: int
    notes: tuple[str, ...] = field(default=())


def promise(
    *, wanted: Sequence[Wanted], due: date | None, weight: int = 1, now: datetime, people: Sequence[PlanPerson]
) -> Promise:
    """A date for drums that are not in the house yet; ``due`` is the day the customer would like.

    Raises NotReleasable when a drum can't be made, NotAllowedNow when no date can be found.
    """
    drums = _prepared(wanted)
    if not drums:
        raise NotAllowedNow("no_lines", _("Add at least one drum first; the date depends on what is to be made."))
    shop, plan = present_problem(now, people)
    behind = with_kit(shop, number=ASKED, drums=drums, due_min=shop.problem.horizon_min)
    ready_at = next((kit.ready_at for kit in kits_in(behind, quick_plan(behind)) if kit.order == ASKED), None)
    if ready_at is None:
        words = _(
            "No date within {days} days can be found: a station that this kit needs has nobody who is qualified and "
            "there, or is full. See Plan."
        )
        raise NotAllowedNow("no_date", words.format(days=shop.problem.horizon_min // 1440))
    day, margin = with_margin(shop.hours, now, ready_at)
    moved: list[KitMoved] = []
    if due is not None:
        asked = with_kit(shop, number=ASKED, drums=drums, due_min=shop.minute(shop.hours.closes(due)), weight=weight)
        moved = _compare(shop, plan, asked, quick_plan(asked), extra=set())
    return Promise(
        shells=len(drums),
        ready_at=ready_at,
        day=day,
        margin_days=margin,
        due=due,
        due_is_kept=due is not None and day <= due,
        if_taken=tuple(kit for kit in moved if kit.is_late and not kit.was_late),
    )


def with_margin(hours: ShopHours, now: datetime, ready_at: datetime) -> tuple[date, int]:
    """The date to promise for something that is planned to be ready, and the working days added."""
    ready = timezone.localdate(ready_at)
    day, last = timezone.localdate(now), ready
    between = sum(bool(hours.on(day + timedelta(days=n))) for n in range((last - day).days + 1))
    margin = max(1, math.ceil(MARGIN * between))
    left = margin
    for _day in range(SEARCH_DAYS):
        if left == 0:
            break
        ready += timedelta(days=1)
        left -= bool(hours.on(ready))
    return ready, margin


def set_weight(*, number: str, weight: int) -> KitOrder:
    """Say how much lateness of an order counts in the next plan: 1 as usual, 10 for a rush order."""
    with writing():
        order = KitOrder.objects.select_for_update().get(number=number)
        if order.state == OrderState.SHIPPED:
            words = _("{number} has left the house; there is nothing to plan.")
            raise NotAllowedNow("shipped", words.format(number=number))
        order.weight = weight
        order.full_clean(exclude=["due"])
        order.save(update_fields=["weight"])
    return order


def what_if(*, change: Change, now: datetime, people: Sequence[PlanPerson]) -> WhatIf:
    """The plan by rule without and with a change: which kits move, which become late. Nothing is saved."""
    shop, before = present_problem(now, people)
    changed, after = present_problem(now, people, away=change.away, down=change.down)
    extra: set[str] = set()
    if change.rush:
        changed = _rushed(changed, change.rush, extra)
        after = quick_plan(changed)
    moved = _compare(shop, before, changed, after, extra=extra)
    return WhatIf(
        moved=tuple(kit for kit in moved if kit.before != kit.after),
        kits=len(moved),
        late_before=sum(kit.was_late for kit in moved),
        late_after=sum(kit.is_late for kit in moved),
        notes=changed.notes,
    )


def _rushed(shop: ShopProblem, numbers: Sequence[str], extra: set[str]) -> ShopProblem:
    """With some orders before everything else; those that are drafts still are planned as if they were released now."""
    for order in KitOrder.objects.filter(number__in=numbers, state=OrderState.DRAFT):
        extra.add(order.number)
        shop = with_kit(shop, number=order.number, drums=drums_of(order), due_min=0, weight=RUSH_WEIGHT)
    kits = tuple(
        replace(kit, weight=RUSH_WEIGHT, due_min=min(0, kit.due_min)) if kit.key in numbers else kit
        for kit in shop.problem.kits
    )
    return replace(shop, problem=replace(shop.problem, kits=kits))


def drums_of(order: KitOrder) -> list[Drum]:
    """What each drum of an order is made by. Raises NotReleasable when one can't be made."""
    lines = order.lines.select_related("model__line", "finish")
    return _prepared([Wanted(line.model, line.finish, line.quantity) for line in lines])


def _prepared(wanted: Sequence[Wanted]) -> list[Drum]:
    shop = Shop.current()
    kinds = {(each.model.pk, each.finish.pk): each for each in wanted}
    ready = {key: prepare_drum(each.model, each.finish, shop) for key, each in kinds.items()}
    return [
        (drum.steps, drum.inputs, drum.results)
        for each in wanted
        for drum in [ready[each.model.pk, each.finish.pk]]
        for _drum in range(each.quantity)
    ]


def _compare(
    shop: ShopProblem, before: Schedule, changed: ShopProblem, after: Schedule, *, extra: set[str]
) -> list[KitMoved]:
    """Every kit in both plans by its own due date, those that become late first."""
    was: dict[str, KitInPlan] = {kit.order: kit for kit in kits_in(shop, before)}
    will: dict[str, KitInPlan] = {kit.order: kit for kit in kits_in(changed, after)}
    rows = []
    numbers = {kit.key for kit in shop.problem.kits} | extra
    for order in KitOrder.objects.filter(number__in=numbers).order_by("due", "number"):
        first, then = was.get(order.number), will.get(order.number)
        due_at = shop.hours.closes(order.due)
        rows.append(
            KitMoved(
                order=order.number,
                customer=order.customer,
                due=order.due,
                before=first.ready_at if first else None,
                after=then.ready_at if then else None,
                was_late=bool(first and first.ready_at > due_at),
                is_late=then is None or then.ready_at > due_at,
            )
        )
    return sorted(rows, key=lambda kit: (not (kit.is_late and not kit.was_late), -kit.moved_h, kit.due, kit.order))
