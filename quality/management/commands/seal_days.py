"""Seal the days that are over; for a daily job. Prints one line for each new seal."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from quality.seal import printed_line, seal_days
from routing.errors import LostRace
from routing.shop_command import ShopCommand


class Command(ShopCommand):
    help = "Seal every day that is over: one line that joins all chains of the day. Print it and put it away."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = seal_days(now=timezone.now())
        except LostRace as busy:
            raise CommandError(busy.message) from busy
        for seal in made:
            self.stdout.write(printed_line(seal))
        if not made:
            self.stdout.write("Every day that is over is sealed already.")
