"""Travelers from the command line."""

from __future__ import annotations

import tempfile
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from routing.errors import RoutingError
from routing.models import KitOrder, Shell
from routing.shop_command import ShopCommand
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError
from shopfloor.command_line import command_line_stamp
from shopfloor.paper import PaperError
from shopfloor.paper_check import PRINTING
from shopfloor.qr import base_url
from shopfloor.travelers.printing import paper_size, print_travelers


class Command(ShopCommand):
    help = "Print the travelers of orders and shells into one PDF; each print goes on the record of its shell."
    requires_system_checks = (PRINTING,)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("what", nargs="+", metavar="ORDER|SERIAL")
        parser.add_argument("--out", required=True, metavar="FILE", help="the PDF to write")
        parser.add_argument("--paper", default="", help="A4 or Letter; default: the shop's paper")

    def handle(self, *args: Any, **options: Any) -> None:
        serials = {serial for words in options["what"] for serial in _serials(words)}
        target = Path(options["out"])
        if target.is_dir():
            raise CommandError(f"{target} is a folder; name a file.")
        if not target.parent.is_dir():
            raise CommandError(f"There is no folder {target.parent}; make it first.")
        if not base_url(None):
            self.stderr.write("SHOP_URL is not set, so the codes hold no address; set it to print travelers to scan.")
        try:
            paper = paper_size(options["paper"])
            # Somewhere to write to first: what can't be written must not stand on record as printed.
            descriptor, waiting = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        except RoutingError as error:
            raise CommandError(error.message) from error
        except OSError as error:
            raise CommandError(f"{target} can't be written: {error.strerror}.") from error
        from shopfloor.travelers.making import make_print  # what makes a PDF is heavy, and a refusal needs none of it

        try:
            with open(descriptor, "wb") as file:
                asked, _ = print_travelers(
                    serials, name=target.name[:80], paper=paper, base_url=base_url(None), stamp=command_line_stamp()
                )
                file.write(make_print(asked))
            Path(waiting).chmod(0o644)
            Path(waiting).replace(target)
        except (RoutingError, PaperError) as error:
            raise CommandError(str(error)) from error
        finally:
            Path(waiting).unlink(missing_ok=True)
        self.stdout.write(f"{len(serials)} traveler{'s are' if len(serials) > 1 else ' is'} in {target}.")


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
        raise CommandError(f"{words} is no order here, and no serial number: {error.message}") from error
    if not Shell.objects.filter(serial=serial).exists():
        raise CommandError(f"No drum with the serial number {serial} was made here.")
    return [serial]
