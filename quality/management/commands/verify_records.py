"""Prove that no record was changed, or name the first that was."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError

from quality.cross_checks_cartons import cartons_without_drums
from quality.made_here import broken_lots
from quality.models import DaySeal
from quality.seal import broken_seals
from quality.verification import verify_shell
from routing.models import Shell
from routing.shop_command import ShopCommand


class Command(ShopCommand):
    help = "Verify the chain of records of every shell, or of the serial numbers given."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("serials", nargs="*", metavar="SERIAL")

    def handle(self, *args: Any, **options: Any) -> None:
        shells = Shell.objects.order_by("pk")
        if options["serials"]:
            shells = shells.filter(serial__in=options["serials"])
            missing = set(options["serials"]) - set(shells.values_list("serial", flat=True))
            if missing:
                raise CommandError(f"No drum with the serial number {', '.join(sorted(missing))} was made here.")
        whole = records = 0
        for shell in shells.iterator(chunk_size=500):
            broken = next(verify_shell(shell), None)
            if broken is not None:
                raise CommandError(
                    f"{broken.serial}, record {broken.sequence}: {broken.what}. {whole} chains before it hold."
                )
            whole += 1
            records += shell.chain_length
        self.stdout.write(f"{whole} chains with {records} records hold.")
        if not options["serials"]:
            empty = next(cartons_without_drums(), None)
            if empty is not None:
                raise CommandError(f"{empty[:1].upper()}{empty[1:]}; no drum's record tells of it.")
            broken_lot = next(broken_lots(), None)
            if broken_lot is not None:
                raise CommandError(f"Lot {broken_lot.code}, made here: {broken_lot.what}.")
            broken_seal = next(broken_seals(), None)
            if broken_seal is not None:
                raise CommandError(f"The seal of {broken_seal.day}: {broken_seal.what}.")
            sealed = DaySeal.objects.count()
            if sealed:
                self.stdout.write(f"{sealed} day seals hold.")
