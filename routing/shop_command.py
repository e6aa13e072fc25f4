"""What the shop's own management commands are made from."""

from __future__ import annotations

from django.core.management.base import BaseCommand


class ShopCommand(BaseCommand):
    """Begins without Django's system checks, which load every page of the program to look at its addresses.

    They are about the program, not about what a command is asked for: ``migrate`` runs all of them before each start of
    the server, those of the database too, and so do the tests. A command that depends on one names its tag.
    """

    requires_system_checks: tuple[str, ...] = ()
