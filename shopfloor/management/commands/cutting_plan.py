"""The cutting plan on the command line."""

from __future__ import annotations

import json
from argparse import ArgumentParser, ArgumentTypeError
from datetime import date
from typing import Any

from django.core.management.base import CommandError

from routing.cutting_orders import PlanProgress, plan_cut, shells_to_cut
from routing.models import KitOrder
from routing.shop_command import ShopCommand
from routing.specs.errors import SpecError
from routing.specs.jsonable import to_json


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"“{text}” is no day; write year-month-day, for example 2026-12-18") from error


class Command(ShopCommand):
    help = "Plan the blanks of orders that are not cut yet (all of them when none is named) from stock sheets."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("orders", nargs="*", metavar="ORDER")
        parser.add_argument(
            "--due-by", type=_day, metavar="YYYY-MM-DD", help="only what is due by this day, and what is late"
        )
        parser.add_argument(
            "--kerf", type=float, default=3.2, metavar="MM", help="width of the saw cut, default 3.2 mm"
        )
        parser.add_argument("--seconds", type=float, default=20.0, help="time limit for each kind of sheet")
        parser.add_argument("--json", action="store_true", help="as JSON instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        known = set(KitOrder.objects.filter(number__in=options["orders"]).values_list("number", flat=True))
        if missing := [number for number in options["orders"] if number not in known]:
            raise CommandError(f"There is no order {', '.join(missing)}.")
        shells = shells_to_cut(orders=options["orders"], due_until=options["due_by"])
        if not shells and options["due_by"]:
            raise CommandError(f"Nothing that is due by {options['due_by']} is left to cut; choose a later day.")
        if not shells:
            raise CommandError("Nothing is left to cut; release an order first.")
        try:
            plans = plan_cut(
                shells,
                kerf_mm=options["kerf"],
                time_limit_s=options["seconds"],
                watch=self._say,
            )
        except SpecError as error:
            raise CommandError(error.message) from error
        if options["json"]:
            self.stdout.write(json.dumps([to_json(plan) for plan in plans], indent=2, ensure_ascii=False))
            return
        for plan in plans:
            self.stdout.write(f"{plan.stock.name}: {plan.summary} Yield {plan.yield_pct:.1f} %.")
            for layout in plan.sheets:
                for blank in layout.blanks:
                    self.stdout.write(
                        f"  sheet {layout.number:3}  {blank.label:28} {blank.along_grain_mm:7.0f} × {blank.across_grain_mm:5.0f} mm"
                        f"  at {blank.x_mm:.0f}, {blank.y_mm:.0f}"
                    )

    said = PlanProgress()

    def _say(self, progress: PlanProgress) -> bool:
        """Progress on standard error, so that the plan itself can be piped on; True: go on."""
        if progress != self.said:
            self.stderr.write(
                f"… {progress.stock} ({progress.kind} of {progress.kinds}), {progress.step}: "
                f"{progress.sheets} sheets, at least {progress.lower_bound}"
            )
        self.said = progress
        return True
