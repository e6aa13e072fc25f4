"""Release an order from the command line."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError

from routing.errors import RoutingError
from routing.models import KitOrder
from routing.release import AT_A_TIME, release_order
from routing.shop_command import ShopCommand
from shopfloor.command_line import command_line_stamp


class Command(ShopCommand):
    help = (
        "Release a draft order: its shells get serial numbers, frozen specs and their steps, all of them or none. A "
        "release that was broken off left nothing behind; run it again."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("order", metavar="ORDER")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            shells = release_order(number=options["order"], stamp=command_line_stamp(), watch=self._say)
        except KitOrder.DoesNotExist as error:
            raise CommandError(f"There is no order {options['order']}; import or enter it first.") from error
        except RoutingError as error:
            raise CommandError(error.message) from error
        for shell in shells:
            self.stdout.write(f"{shell.serial}  {shell.drum}")
        self.stdout.write(f"Order {options['order']} is released with {len(shells)} shells.")

    def _say(self, written: int, shells: int) -> None:
        """Progress of a large order on standard error, so that the list of shells can be piped on."""
        if shells > AT_A_TIME:
            self.stderr.write(f"… {written} of {shells}")
