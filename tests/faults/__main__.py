"""Break the shop and see what is left: ``python -m tests.faults [--kills 50] [--db sqlite postgres] [--seed N]``.

For each database: the server's processes are killed under the load of ten tablets; on PostgreSQL the database server is
killed too; a disk fills up and is cleared; and every tablet sends everything again. Ends with 1 when one acknowledged tap
is not on record once and whole, one tap is there by half, or one chain does not hold.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.faults.disk import SmallDisk, own_mounts
from tests.faults.judging import judge
from tests.faults.postgres import Cluster
from tests.faults.server import Server
from tests.faults.tablets import TabletThread, Told
from tests.places import ROOT, Place

TABLETS = 10
DISK_MB = {"sqlite": 24, "postgres": 160}
TAPS_BETWEEN_KILLS = 10  # so that every kill meets a shop at work
LONGEST_PAUSE_S = 0.4  # after those, before the kill: it hits a tap at any point of its way
ERRORS_OF_FULL_DISK = 5
PATIENCE_S = 240


@dataclass(frozen=True, slots=True)
class Asked:
    kills: int
    seed: int
    tables_from: str  # a database whose tables are up to date; empty: migrate
    tablets: int


class Shop:
    """A server with its database and its tablets, that is broken and watched."""

    def __init__(self, place: Place, cluster: Cluster | None, folder: Path, asked: Asked) -> None:
        self.place, self.cluster = place, cluster
        self.chance = random.Random(asked.seed)
        self.server = Server(place, folder / "server.log")
        self.told = Told()
        filled = subprocess.run(
            [sys.executable, "-m", "tests.faults.filling", str(asked.tablets)],
            env=place.environment,
            cwd=ROOT,
            check=True,
            stdout=subprocess.PIPE,
            text=True,
        )
        shells = json.loads(filled.stdout)
        self.tablets = [
            TabletThread(number, shells, self.server.port, asked.seed, self.told) for number in range(asked.tablets)
        ]

    def open(self) -> None:
        self.server.start()
        for tablet in self.tablets:
            tablet.start()

    def at_work(self) -> None:
        """Wait until taps are taken in, and then for any short time."""
        self.told.wait_for_more("ok", TAPS_BETWEEN_KILLS, patience_s=PATIENCE_S)
        time.sleep(self.chance.uniform(0, LONGEST_PAUSE_S))

    def kill_server(self, kills: int) -> str:
        for number in range(kills):
            self.at_work()
            self.server.ways[number % len(self.server.ways)](self.chance)
        self.told.wait_for_more("ok", TAPS_BETWEEN_KILLS, patience_s=PATIENCE_S)
        return f"the server killed {kills} times"

    def kill_database(self, kills: int) -> str:
        assert self.cluster is not None
        for _ in range(kills):
            self.at_work()
            self.cluster.kill()
            self.cluster.start()
        self.told.wait_for_more("ok", TAPS_BETWEEN_KILLS, patience_s=PATIENCE_S)
        return f"PostgreSQL killed {kills} times"

    def fill_disk(self, disk: SmallDisk, times: int) -> str:
        stopped = 0
        for _ in range(times):
            self.at_work()
            disk.fill()
            self.told.wait_for_more("error", ERRORS_OF_FULL_DISK, patience_s=PATIENCE_S)
            disk.make_room()
            if self.cluster is not None and not self.cluster.runs():  # it can't go on without room for its journal
                stopped += 1
                self.cluster.start()
            self.told.wait_for_more("ok", 2 * TAPS_BETWEEN_KILLS, patience_s=PATIENCE_S)
        note = f", PostgreSQL stopped by it {stopped} times" if self.cluster is not None else ""
        return f"the disk (a tmpfs) full {times} times{note}"

    def all_quiet(self) -> None:
        for tablet in self.tablets:
            tablet.over.set()
        for tablet in self.tablets:
            tablet.join(PATIENCE_S)
            if tablet.broke is not None:
                raise tablet.broke
            assert not tablet.is_alive(), f"{tablet.name} still waits for an answer"

    def send_everything_again(self) -> str:
        counts = [tablet.send_again() for tablet in self.tablets]
        again, other = sum(count["ok"] for count in counts), sum(count.total() - count["ok"] for count in counts)
        assert other == 0, f"{other} taps that were taken in were answered in another way when they came again"
        return f"{again} taps sent again"

    def close(self) -> None:
        for tablet in self.tablets:
            tablet.over.set()
        self.server.stop()


@contextmanager
def opened(database: str, folder: Path, asked: Asked) -> Iterator[Shop]:
    """A shop of its own in ``folder``, which is the disk it lives on."""
    cluster = None
    url = ""
    data = folder / "shop"
    data.mkdir()
    if database == "postgres":
        (folder / "pg").mkdir()
        cluster = Cluster(folder / "pg")
        cluster.start()
        url = cluster.url
    place = Place(data, url)
    shop = None
    try:
        _make_tables(place, cluster, asked.tables_from)
        shop = Shop(place, cluster, folder, asked)
        shop.open()
        yield shop
    finally:
        if shop is not None:
            shop.close()
        if cluster is not None:
            cluster.stop()


def _make_tables(place: Place, cluster: Cluster | None, tables_from: str) -> None:
    if not tables_from:
        place.must("migrate", "--verbosity", "0")
    elif cluster is not None:
        cluster.copy_from(tables_from)
    else:
        with (
            closing(sqlite3.connect(tables_from)) as source,
            closing(sqlite3.connect(place.data / "shop.sqlite3")) as own,
        ):
            source.backup(own)


def run(database: str, asked: Asked, *, may_mount: bool) -> bool:
    """Everything on one database; True when nothing was lost."""
    began = time.monotonic()
    work = Path(tempfile.mkdtemp(prefix="f-", dir="/tmp"))
    work.chmod(0o755)
    try:
        if asked.kills <= 5 and may_mount:  # one shop on the small disk for all of it
            disk = SmallDisk(work / "disk", DISK_MB[database])
            good = _broken(database, disk.folder, asked, disk, times=1, with_kills=True)
            disk.unmount()
        else:
            (work / "real").mkdir()
            good = _broken(database, work / "real", asked, None, times=0, with_kills=True)
            if may_mount:
                disk = SmallDisk(work / "disk", DISK_MB[database])
                good = _broken(database, disk.folder, asked, disk, times=3, with_kills=False) and good
                disk.unmount()
        if not may_mount:
            print(f"{database}: no disk was filled, for mounting a small one needs root.")
    finally:
        shutil.rmtree(work, ignore_errors=True)
    print(f"{database}: {time.monotonic() - began:.0f} s.", flush=True)
    return good


def _broken(database: str, folder: Path, asked: Asked, disk: SmallDisk | None, *, times: int, with_kills: bool) -> bool:
    with opened(database, folder, asked) as shop:
        done = []
        if with_kills:
            done.append(shop.kill_server(asked.kills))
            if shop.cluster is not None:
                done.append(shop.kill_database(asked.kills))
        if disk is not None:
            done.append(shop.fill_disk(disk, times))
        shop.all_quiet()
        done.append(shop.send_everything_again())
        verdict = judge(shop.place, [tap for tablet in shop.tablets for tap in tablet.taps])
        counts = shop.told.counts
    print(f"{database}: {', '.join(done)}.")
    print(
        f"{database}: {verdict.acknowledged} taps acknowledged, {verdict.found} of them found once and whole; "
        f"{verdict.refused} refused and not on record; {verdict.unanswered} never answered, {verdict.unanswered_found} of "
        f"them there, whole. {counts['down']} tries met nobody, {counts['error']} an error. "
        f"{verdict.chains} chains with {verdict.records} records verified.",
        flush=True,
    )
    for wrong in verdict.wrong[:20]:
        print(f"{database}: WRONG: {wrong}", file=sys.stderr)
    return not verdict.wrong and verdict.found == verdict.acknowledged > 0


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--kills", type=int, default=50)
    ask.add_argument("--db", nargs="+", choices=["sqlite", "postgres"], default=["sqlite", "postgres"])
    ask.add_argument("--seed", type=int, default=int(time.time()))
    ask.add_argument("--tablets", type=int, default=TABLETS)
    ask.add_argument("--tables-from", default="", help="a database that is up to date, instead of migrating")
    chosen = ask.parse_args()
    os.environ.pop("DATABASE_URL", None)
    may_mount = own_mounts()
    print(f"Seed {chosen.seed}, {chosen.tablets} tablets.", flush=True)
    asked = Asked(chosen.kills, chosen.seed, chosen.tables_from, chosen.tablets)
    good = [run(database, asked, may_mount=may_mount) for database in chosen.db]
    print("Nothing was lost." if all(good) else "SOMETHING WAS LOST.")
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
