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
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from quality.models import Person, Tablet
from shopfloor.tablet_station import STATION_COOKIE, binding_of, keep_key
from shopfloor.worker_token import WorkerAtTablet, keep_worker

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
        self.which = "large"
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
        self.which = which
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
        """How many ms of the processor ``ask`` takes in the small and in the large one: the fastest of each turn, the
        middle of the turns. What other programs take of the machine only ever makes a round slower.
        """
        times: dict[str, list[float]] = {"small": [], "large": []}
        for _ in range(turns):
            for which, taken in times.items():
                self.turn_to(which)
                for _ in range(warm):
                    ask()
                clock = Processor()
                taken.append(min(clock.ms_of(ask) for _ in range(rounds)))
        return statistics.median(times["small"]), statistics.median(times["large"])

    def alone(self, ask: Callable[[], object], rounds: int = 40) -> float:
        """How many ms of the processor ``ask`` takes in the database that is turned to: the middle of all rounds."""
        ask()
        clock = Processor()
        return statistics.median(clock.ms_of(ask) for _ in range(rounds))


def tablet_of(tablet: Tablet, key: str, worker: Person) -> Client:
    """The browser of an enrolled tablet, with somebody signed in."""
    client, answer = Client(), HttpResponse()
    keep_key(answer, key)
    keep_worker(answer, WorkerAtTablet(worker, timezone.now()), device=binding_of(tablet), secure=False)
    answer.set_cookie(STATION_COOKIE, tablet.stations.all()[0].code)
    for name, morsel in answer.cookies.items():
        client.cookies[name] = morsel.value
    return client


class Processor:
    """Time of the processor: of this thread, and of the database server's process that answers it.

    Unlike the time of the clock it does not count the wait for other programs, which is most of it on a busy machine. A
    wait for the disk is not counted either: what is read again and again is in memory.
    """

    def __init__(self) -> None:
        self.server: Path | None = None
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_backend_pid()")
                self.server = Path(f"/proc/{cursor.fetchone()[0]}/schedstat")
                if not self.server.exists():
                    raise SystemExit("These times are measured where the database server runs, under Linux.")

    def ms_of(self, ask: Callable[[], object]) -> float:
        begun = self._spent()
        ask()
        return self._spent() - begun

    def _spent(self) -> float:
        there = int(self.server.read_text().split()[0]) / 1e6 if self.server else 0.0
        return time.thread_time() * 1000 + there
