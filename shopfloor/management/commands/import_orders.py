"""Import an order book from the command line."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from routing.order_book import OrderBook, OrderBookRefused, import_order_book, read_order_book
from routing.order_book_text import MAX_BYTES
from routing.shop_command import ShopCommand
from shopfloor.command_line import command_line_stamp

SHOWN = 100


class Command(ShopCommand):
    help = "Import a CSV order book (docs/order-book.md): draft orders, all or nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--dry-run", action="store_true", help="say what would happen and save nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        path = Path(options["file"])
        try:
            with path.open("rb") as file:
                data = file.read(MAX_BYTES + 1)
        except OSError as error:
            raise CommandError(f"{path} can't be read: {error.strerror}. Check the name of the file.") from error
        today = timezone.localdate()
        book = read_order_book(data, today=today)
        if book.errors:
            self._refuse(OrderBookRefused(book.errors))
        self._show(book)
        if options["dry_run"]:
            self.stdout.write("Dry run: nothing was saved.")
            return
        try:
            imported = import_order_book(book, stamp=command_line_stamp(), today=today)
        except OrderBookRefused as refused:
            self._refuse(refused)
        self.stdout.write(
            f"Imported {len(imported.created)} orders with {imported.drums} drums as drafts; "
            f"{len(imported.unchanged)} were here already, unchanged."
        )

    def _show(self, book: OrderBook) -> None:
        for order in book.orders:
            state = "here already" if order.known else "new"
            self.stdout.write(
                f"{order.number:14} {order.due.isoformat()}  {order.drums:3} drums  {state:12}  {order.customer}"
            )
            for warning in order.warnings:
                self.stdout.write(f"{'':14} look at it: {warning}")
        self.stdout.write(f"{len(book.new)} new orders with {book.new_drums} drums, {len(book.known)} here already.")

    def _refuse(self, refused: OrderBookRefused) -> None:
        for error in refused.errors[:SHOWN]:
            self.stderr.write(str(error))
        if len(refused.errors) > SHOWN:
            self.stderr.write(f"… and {len(refused.errors) - SHOWN} more.")
        raise CommandError(refused.message) from refused
