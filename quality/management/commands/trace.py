"""The whole story of a drum on the command line."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from quality.trace import story_of
from routing.models import Shell
from routing.shop_command import ShopCommand
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError


class Command(ShopCommand):
    help = "Print everything the record says about one drum."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("serial")
        parser.add_argument("--json", action="store_true", help="as JSON instead of text")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            serial = read_serial(options["serial"])
        except SpecError as error:
            raise CommandError(error.message) from error
        shell = Shell.objects.select_related("order", "line", "model__line", "finish").filter(serial=serial).first()
        if shell is None:
            raise CommandError(f"No drum with the serial number {serial} was made here.")
        story = story_of(shell)
        if options["json"]:
            self.stdout.write(json.dumps(story.as_json(), indent=2, ensure_ascii=False))
            return
        checked = f"{story.final_check_by}, {_time(story.final_check_at)}" if story.final_check_by else "not yet"
        self.stdout.write(f"{story.serial}  {story.drum}, {story.finish}")
        self.stdout.write(f"Final check: {checked}")
        self.stdout.write(f"Order {story.order} for {story.customer}, due {story.due}; {story.state}")
        for event in story.events:
            void = f" ({event.void})" if event.void else ""
            self.stdout.write(f"{event.sequence:4}  {_time(event.at)}  {event.person:24} {event.title}{void}")
            if event.detail:
                self.stdout.write(f"{'':50}{event.detail}")
            for reading in event.readings:
                self.stdout.write(f"{'':50}{reading.text}: {reading.shown}")


def _time(moment: Any) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%d %H:%M")
