"""Two databases of one process: what is compared is asked of both in turns, so that a busy machine slows both alike."""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import connection

TURNS = 7


def demo_shop() -> None:
    """The recipes, stations and people of the demo, in the empty database of this run; and pages can be asked for."""
    settings.ALLOWED_HOSTS = ["testserver"]
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
    call_command("migrate", verbosity=0)
    with open(os.devnull, "w") as nowhere:
        call_command("demo", stdout=nowhere)


class Twins:
    """The database of this run, and a copy of it as it was when this was made."""

    def __init__(self) -> None:
        self.names = {"large": connection.settings_dict["NAME"]}
        if connection.vendor == "sqlite":
            copy = Path(str(self.names["large"])).with_name("small.sqlite3")
            with connection.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(copy)])
            self.names["small"] = copy
            return
        self.names["small"] = "small"
        self._turn_to("template1")
        with connection.cursor() as cursor:
            cursor.execute(f'CREATE DATABASE small TEMPLATE "{self.names["large"]}"')
        self.turn_to("large")

    def turn_to(self, which: str) -> None:
        self._turn_to(self.names[which])

    def _turn_to(self, name: object) -> None:
        connection.close()
        connection.settings_dict["NAME"] = name
        if connection.vendor == "postgresql":
            with suppress(AttributeError):
                connection.close_pool()  # type: ignore[attr-defined]

    def compare(
        self, ask: Callable[[], object], *, rounds: int, warm: int = 2, turns: int = TURNS
    ) -> tuple[float, float]:
        """How many ms ``ask`` takes in the small and in the large one: the fastest of each turn, the middle of the turns.

        What other programs take of the machine only ever makes a round slower.
        """
        times: dict[str, list[float]] = {"small": [], "large": []}
        for _ in range(turns):
            for which, taken in times.items():
                self.turn_to(which)
                for _ in range(warm):
                    ask()
                taken.append(min(timed(ask) for _ in range(rounds)))
        return statistics.median(times["small"]), statistics.median(times["large"])


def timed(ask: Callable[[], object]) -> float:
    begun = time.perf_counter()
    ask()
    return (time.perf_counter() - begun) * 1000
