"""Travelers from the command line."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from routing.errors import RoutingError
from routing.models import KitOrder, Shell
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError
from shopfloor.command_line import command_line_stamp
from shopfloor.paper import PaperError
from shopfloor.qr import base_url
from shopfloor.travelers.printing import paper_size, print_travelers, with_everything


class Command(BaseCommand):
    help = "Print the travelers of orders and shells into one PDF."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("what", nargs="+", metavar="ORDER|SERIAL")
        parser.add_argument("--out", required=True, metavar="FILE", help="the PDF to write")
        parser.add_argument("--paper", default="", help="A4 or Letter; default: the shop's paper")

    def handle(self, *args: Any, **options: Any) -> None:
        serials = [serial for words in options["what"] for serial in _serials(words)]
        target = Path(options["out"])
        if not target.parent.is_dir():
            raise CommandError(f"There is no folder {target.parent}; make it first.")
        try:
            pdf = print_travelers(
                with_everything(serials),
                paper=paper_size(options["paper"]),
                base_url=base_url(None),
                stamp=command_line_stamp(),
            )
        except (RoutingError, PaperError) as error:
            raise CommandError(str(error)) from error
        target.write_bytes(pdf)
        self.stdout.write(f"{len(set(serials))} travelers are in {target}.")


def _serials(words: str) -> list[str]:
    """The serials of an order, or the one serial that ``words`` are."""
    order = KitOrder.objects.filter(number=words).first()
    if order is not None:
        found = list(order.shells.values_list("serial", flat=True))
        if not found:
            raise CommandError(f"Order {words} is not released yet; release it first.")
        return found
    try:
        serial = read_serial(words)
    except SpecError as error:
        raise CommandError(f"{words} is no order here, and {error.message[0].lower()}{error.message[1:]}") from error
    if not Shell.objects.filter(serial=serial).exists():
        raise CommandError(f"No drum with the serial number {serial} was made here.")
    return [serial]
