"""A week of the shop as it may go: promised dates against what happens, for each dispatch rule. Writes nothing."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import datetime, timedelta
from statistics import fmean, quantiles
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from quality.plan_people import people_to_plan
from routing.errors import RoutingError
from routing.models import KitOrder, OrderState
from routing.plan_problem import ShopProblem, problem_of, with_kit
from routing.promise import drums_of, with_margin
from routing.scheduling.dispatch import Rule
from routing.scheduling.problem import Window
from routing.scheduling.simulate import Outcome, simulate
from routing.shop_command import ShopCommand


class Command(ShopCommand):
    help = (
        "Simulate the coming weeks from the present state with random absences, rework and breakdowns: what a promised "
        "date is worth by each dispatch rule, and which rule is the better. Drafts count as if they were released now. "
        "The same state, day and seed give the same figures. Nothing is saved."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--weeks", type=int, default=1, help="1 to 26; kits promised for these weeks are judged")
        parser.add_argument("--runs", type=int, default=10, help="1 to 200 runs, each with a seed of its own")
        parser.add_argument("--seed", type=int, default=1, help="the first seed")
        parser.add_argument(
            "--drafts", type=int, default=20, help="how many draft orders to count in, the first due first"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        weeks, runs = options["weeks"], options["runs"]
        if not 1 <= weeks <= 26 or not 1 <= runs <= 200 or options["drafts"] < 0:
            raise CommandError("Give --weeks 1 to 26, --runs 1 to 200 and --drafts 0 or more.")
        now = timezone.now()
        try:
            shop = self._shop(now, options["drafts"])
        except RoutingError as error:
            raise CommandError(error.message) from error
        if not shop.problem.jobs:
            raise CommandError(
                "There is nothing to simulate: no open step and no draft. Import or release orders first."
            )
        days = _days(shop, weeks)
        if not days:
            raise CommandError("The shop is closed all these weeks; see Hours.")

        def promised(ready_min: int) -> int:
            day, _ = with_margin(shop.hours, now, shop.at(ready_min))
            return shop.minute(shop.hours.closes(day))

        found = {
            rule: [
                simulate(shop.problem, days=days, rule=rule, seed=options["seed"] + n, promised=promised)
                for n in range(runs)
            ]
            for rule in Rule
        }
        self._say(shop, found, weeks)

    def _shop(self, now: datetime, drafts: int) -> ShopProblem:
        shop = problem_of(now=now, people=people_to_plan(timezone.localdate(now)))
        for order in KitOrder.objects.filter(state=OrderState.DRAFT).order_by("due", "number")[:drafts]:
            due_min = shop.minute(shop.hours.closes(order.due))
            shop = with_kit(shop, number=order.number, drums=drums_of(order), due_min=due_min, weight=order.weight)
        return shop

    def _say(self, shop: ShopProblem, found: dict[Rule, list[Outcome]], weeks: int) -> None:
        any_run = next(iter(found.values()))
        self.stdout.write(
            f"{_count(len(shop.problem.jobs), 'shell')} of {_count(len(shop.problem.kits), 'kit')}, "
            f"{_count(weeks, 'week')}, {_count(len(any_run), 'run')}: on average {fmean(run.sent_back for run in any_run):.1f} shells sent back, "
            f"{fmean(run.days_missed for run in any_run):.1f} days missed, "
            f"{fmean(run.breakdowns for run in any_run):.1f} breakdowns."
        )
        self.stdout.write(f"{'rule':<14} {'promised':>9} {'kept':>7} {'late, mean':>11} {'late, 90 %':>11}")
        for rule, runs in found.items():
            late = sorted(hours for run in runs for hours in run.late_h)
            self.stdout.write(
                f"{rule.value:<14} {fmean(len(run.kits) for run in runs):>9.1f} {_kept(runs):>7.1%} "
                f"{fmean(late) if late else 0.0:>9.1f} h {_ninety(late):>9.1f} h"
            )
        best = max(found, key=lambda rule: (_kept(found[rule]), -_late(found[rule])))
        same = len({(_kept(runs), _late(runs)) for runs in found.values()}) == 1
        self.stdout.write("The rules do equally well." if same else f"The better rule: {best.value}.")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _days(shop: ShopProblem, weeks: int) -> list[Window]:
    today = timezone.localdate(shop.begins)
    days = []
    for n in range(7 * weeks):
        spans = shop.hours.on(today + timedelta(days=n))
        if spans and (closes := shop.minute(spans[-1][1])) > 0:
            days.append((max(0, shop.minute(spans[0][0])), closes))
    return days


def _kept(runs: list[Outcome]) -> float:
    judged = [kit.late_min(run.until_min) == 0 for run in runs for kit in run.kits]
    return fmean(judged) if judged else 1.0


def _late(runs: list[Outcome]) -> float:
    late = [hours for run in runs for hours in run.late_h]
    return fmean(late) if late else 0.0


def _ninety(late: list[float]) -> float:
    """Nine of ten kits are less late than this."""
    return quantiles(late, n=10, method="inclusive")[-1] if len(late) > 1 else sum(late)
