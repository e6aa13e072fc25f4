"""Makes the papers that are asked for. Started by the program itself; ends when nothing was asked for a while."""

from __future__ import annotations

import logging
import os
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import close_old_connections

from routing.shop_command import ShopCommand
from shopfloor.paper_queue import next_ask, place, program, waiting
from shopfloor.travelers import kept

logger = logging.getLogger(__name__)
LOOK_S = 0.05
IDLE_S = 60.0
TO_FIND_A_PLACE_S = 1.0
NICE = 10  # whoever taps comes first


class Command(ShopCommand):
    help = "Make the papers that wait to be made, then end. The program starts this by itself when it needs it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--idle", type=float, default=IDLE_S, metavar="SECONDS", help="stay so long without work")

    def handle(self, *args: Any, **options: Any) -> None:
        os.nice(NICE)
        program()
        parent = os.getppid()
        until = time.monotonic() + TO_FIND_A_PLACE_S
        while time.monotonic() < until and Path(settings.SHOP_DATA).exists():
            with place() as mine:
                if mine:
                    _work(parent, options["idle"])
            if mine and not waiting():
                return
            if mine:  # something was asked for after the last look, by somebody who saw this place taken
                until = time.monotonic() + TO_FIND_A_PLACE_S
            time.sleep(LOOK_S)


def _work(parent: int, idle_s: float) -> None:
    kept.drop_old()
    since = time.monotonic()
    while time.monotonic() - since < idle_s and Path(settings.SHOP_DATA).exists():
        if make_one():
            since = time.monotonic()
            close_old_connections()  # one that the database ended meanwhile is not used again
        elif os.getppid() != parent:
            return  # the server ended, and nothing is left to do
        else:
            time.sleep(LOOK_S)


def make_one() -> bool:
    """Make what waits longest; False when nothing does. What can't be made is logged, and noted for whoever waits."""
    try:
        with next_ask() as ask:
            if ask is None:
                return False
            from shopfloor.travelers import making  # what makes a PDF is heavy: only for who found work

            making.work(ask)
    except Exception:
        logger.exception("a paper could not be made")
    return True
