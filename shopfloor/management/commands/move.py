"""Move the shop from the embedded database to PostgreSQL."""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError

from routing.shop_command import ShopCommand
from shopfloor.backups.manifest import BackupRefused
from shopfloor.backups.moving import move_to_postgresql


class Command(ShopCommand):
    help = (
        "Copy every row of the embedded database in SHOP_DATA into the empty PostgreSQL database of DATABASE_URL, compare "
        "both, verify every record there, and close the old one. Stop the shop before. Photos stay where they are."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            moved = move_to_postgresql()
        except BackupRefused as refused:
            raise CommandError(refused.message) from refused
        self.stdout.write(
            f"{moved.tables} tables with {moved.rows} rows are in PostgreSQL, each compared with the old."
        )
        self.stdout.write(moved.verified, ending="")
        self.stdout.write(
            f"Start the shop with the same DATABASE_URL from now on. {moved.left} is closed; keep it a while."
        )
