"""Come back from a backup."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import CommandError

from routing.shop_command import ShopCommand
from shopfloor.backups.manifest import BackupRefused
from shopfloor.backups.restoring import SECRET, restore_backup
from shopfloor.backups.taking import BESIDE


class Command(ShopCommand):
    help = (
        "Put a backup into an empty place (SHOP_DATA and the database), bring it up to date and verify every record. "
        "Refuses to write over anything."
    )
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", metavar="FOLDER", help="one backup, for example /backups/shop-20261104T020000Z")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest = restore_backup(Path(options["folder"]).resolve())
        except BackupRefused as refused:
            raise CommandError(refused.message) from refused
        self.stdout.write(
            f"Restored the shop as it was at {manifest.made_at}: {len(manifest.tables)} tables with {manifest.rows} rows, "
            f"{len(manifest.files) - 1} files."
        )
        if f"{BESIDE}/{SECRET}" not in manifest.files:
            self.stderr.write(
                "The secret key is not in this backup, for the shop had it from SECRET_KEY. Set the same one again, or every "
                "tablet has to be added anew."
            )
        call_command("verify_records", stdout=self.stdout, stderr=self.stderr)
