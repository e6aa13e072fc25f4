"""Take a backup of the shop while it works."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.utils import timezone

from routing.shop_command import ShopCommand
from shopfloor.backups.manifest import BackupRefused
from shopfloor.backups.taking import take_backup

KEEP = 14


def _how_many(text: str) -> int:
    number = int(text) if text.isascii() and text.isdecimal() else 0
    if number < 1:
        raise ArgumentTypeError("keep at least 1")
    return number


class Command(ShopCommand):
    help = (
        "Take a backup of the database, the photos and the secret key while the shop works, read it back, and drop the "
        "oldest good ones beyond --keep."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder",
            nargs="?",
            metavar="FOLDER",
            help="where backups lie, best on another disk; without it SHOP_DATA/backups",
        )
        parser.add_argument("--keep", type=_how_many, default=KEEP, metavar="N", help=f"good backups kept, {KEEP}")

    def handle(self, *args: Any, **options: Any) -> None:
        data = Path(settings.SHOP_DATA)
        folder = Path(options["folder"]).resolve() if options["folder"] else data / "backups"
        try:
            taken = take_backup(folder, keep=options["keep"], now=timezone.now())
        except BackupRefused as refused:
            raise CommandError(refused.message) from refused
        manifest = taken.manifest
        self.stdout.write(
            f"{taken.folder}: {len(manifest.tables)} tables with {manifest.rows} rows, {len(manifest.files) - 1} files, "
            f"{manifest.bytes / 1e6:.1f} MB; written and read back."
        )
        self.stdout.write(f"{taken.kept} good backups there." + "".join(f" Dropped {name}." for name in taken.dropped))
        for name, what in taken.dropped_damaged.items():
            self.stderr.write(f"{name} was damaged: {what}. It is older than every good one that is kept, and went.")
        for name, what in taken.damaged.items():
            self.stderr.write(f"{name} is damaged and would be refused: {what}. It was left there; look at that disk.")
        for name, why in taken.undroppable.items():
            self.stderr.write(f"{name} should have been dropped and could not be ({why}). Delete it by hand.")
        for file in taken.lost_photos:
            self.stderr.write(
                f"The photo {file} is missing in the shop or was changed; look for it in an older backup."
            )
        if folder.stat().st_dev == data.stat().st_dev:
            self.stderr.write("This backup lies on the same disk as the shop. Copy it to another one.")
