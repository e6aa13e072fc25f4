"""Travelers: one from nothing beside a minimal page, many by the two processes that make them, and a print of kept ones.

Drums are of as many kinds as the demo shop has, twenty of each, so that more travelers also means more bodies to lay out.
"""

from __future__ import annotations

import gc
import http.client
import io
import os
import shutil
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from tests.bench.figure import Figure, Options, run

DATABASES = ("sqlite",)
ROUNDS = 7
OF_A_KIND = 20
LIGHT_PAGES = 300  # asked for one after the other, while nothing is made and while travelers are


def measure(options: Options) -> Iterator[Figure]:
    from django.conf import settings
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    call_command("demo", stdout=io.StringIO())
    few, hundred, many = (max(2, round(count * options.scale)) for count in (20, 100, 200))
    of_a_kind = max(1, round(OF_A_KIND * options.scale))
    shells = _released(many, of_a_kind)
    yield _one(shells[:1])
    yield _growth(shells[:few], shells)
    shutil.rmtree(settings.PAPERS)
    with _server() as port:
        _light_pages(port, lambda: False)  # both web workers load what they need
        quiet = _light_pages(port, lambda: False)
        yield from _by_the_pool(shells[:hundred], port, quiet)
        yield _print_of_kept(shells[:hundred])


def _released(count: int, of_a_kind: int) -> list[str]:
    from django.utils import timezone

    from routing.history import Stamp
    from routing.models import DrumModel, Finish, KitLine, KitOrder
    from routing.release import release_order

    now = timezone.now()
    order = KitOrder.objects.create(number="BENCH", customer="Harrow Lane School", due=now.date(), created_at=now)
    kinds = [
        (model, finish)
        for model in DrumModel.objects.select_related("line").order_by("pk")
        for finish in Finish.objects.filter(kind=model.line.finish_kind).order_by("pk")[:2]
    ]
    left = count
    for position, (model, finish) in enumerate(kinds, start=1):
        if left > 0:
            quantity = min(of_a_kind, left)
            KitLine.objects.create(order=order, position=position, model=model, finish=finish, quantity=quantity)
            left -= quantity
    assert left <= 0
    released = release_order(number=order.number, stamp=Stamp(None, "bench", now, now))
    return [shell.serial for shell in released]


def _cpu_ms(make: Callable[[], Any]) -> float:
    """Work of this process: other programs on the machine make it wait, but not work."""
    gc.collect()
    began = time.process_time()
    make()
    return (time.process_time() - began) * 1000


def _from_nothing(serials: Sequence[str]) -> Sequence[Any]:
    from django.conf import settings

    from shopfloor.travelers.facts import read
    from shopfloor.travelers.making import make

    shutil.rmtree(settings.PAPERS, ignore_errors=True)
    return make(read(serials, base_url="https://floor.example"), "A4")


def _printed(serials: Sequence[str]) -> None:
    from django.utils import timezone

    from shopfloor.travelers.pages import Imprint, Mark, print_pdf

    pages = _from_nothing(serials)
    print_pdf([(each, Mark(1)) for each in pages], Imprint("A4", timezone.now(), "bench"), "bench")


def _one(serials: Sequence[str]) -> Figure:
    """Each turn in a process of its own that has made no traveler yet: the program and the fonts are loaded, nothing else."""
    import weasyprint

    from shopfloor.travelers import making  # noqa: F401 (loads the program before it is measured)
    from shopfloor.travelers.type_case import type_case

    def minimal() -> None:
        weasyprint.HTML(string="<!doctype html><title>x</title><p>One line.</p>").write_pdf()

    minimal()
    began = time.process_time()
    type_case()
    letters = (time.process_time() - began) * 1000
    pairs = [_in_a_fork(lambda: (_cpu_ms(minimal), _cpu_ms(lambda: _printed(serials)))) for _ in range(ROUNDS)]
    small, whole = (statistics.median(each) for each in zip(*pairs, strict=True))
    return Figure(
        "one traveler from nothing, against a minimal page",
        18,
        whole / small,
        note=f"{whole:.0f} against {small:.0f} ms of processor, the middle of {ROUNDS} processes; "
        f"once for each process {letters:.0f} ms for the letters",
    )


def _in_a_fork(measured: Callable[[], tuple[float, float]]) -> tuple[float, float]:
    from django.db import connections

    connections.close_all()
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.write(writing, " ".join(map(str, measured())).encode())
        finally:
            os._exit(0)
    os.close(writing)
    with open(reading) as told:
        first, second = map(float, told.read().split())
    os.waitpid(child, 0)
    return first, second


def _growth(few: Sequence[str], many: Sequence[str]) -> Figure:
    _from_nothing(few)  # what only the first of a process costs would make the few look dear
    a_few = _cpu_ms(lambda: _from_nothing(few)) / len(few)
    a_lot = _cpu_ms(lambda: _from_nothing(many)) / len(many)
    return Figure(
        f"a traveler among {len(many)}, against one among {len(few)}",
        1.3,
        a_lot / a_few,
        note=f"{a_lot:.0f} against {a_few:.0f} ms of processor each, from nothing",
    )


def _by_the_pool(serials: Sequence[str], port: int, quiet: list[float]) -> Iterator[Figure]:
    from shopfloor import paper_queue
    from shopfloor.travelers import kept
    from shopfloor.travelers.facts import read
    from shopfloor.travelers.printing import _ask_for_sheaves

    facts = read(serials, base_url="https://floor.example")
    keys = [(each.head.serial, each.key("A4")) for each in facts]
    most_kb: dict[int, int] = {}

    def is_made() -> bool:
        for process in paper_queue._started:
            most_kb[process.pid] = max(most_kb.get(process.pid, 0), _most_memory_kb(process.pid))
        return all(kept.find(serial, key) for serial, key in keys)

    began = time.perf_counter()
    _ask_for_sheaves(paper_queue.RANK_AHEAD, list(serials), "A4", "https://floor.example")
    paper_queue.wake()
    beside = _light_pages(port, lambda: not is_made())
    while not is_made():
        time.sleep(0.1)
    took = time.perf_counter() - began
    yield Figure(
        f"{len(serials)} travelers from nothing, by two processes",
        10,
        took,
        "s",
        note=f"with the start of the processes; {os.getloadavg()[0]:.0f} programs wanted the {os.cpu_count()} cores",
    )
    yield Figure(
        "the most memory of such a process", 150, max(most_kb.values()) / 1024, "MB", note="resident, its peak"
    )
    before, during = _p99(quiet), _p99(beside)
    yield Figure(
        "p99 of a light page while travelers are made, against none being made",
        3,
        during / before,
        note=f"{during:.1f} against {before:.1f} ms, {len(beside)} and {len(quiet)} pages",
    )


def _print_of_kept(serials: Sequence[str]) -> Figure:
    from django.utils import timezone

    from routing.history import Stamp
    from shopfloor.travelers import printing

    took = []
    for _ in range(ROUNDS):
        now = timezone.now()
        began = time.perf_counter()
        asked, _ = printing.print_travelers(
            serials,
            name="bench.pdf",
            paper="A4",
            base_url="https://floor.example",
            stamp=Stamp(None, "bench", now, now),
        )
        printing.ask_for_print(asked)
        while printing.file_of(asked) is None:
            time.sleep(0.01)
        took.append(time.perf_counter() - began)
    return Figure(
        f"a print of {len(serials)} that were made ahead, with its records",
        1,
        statistics.median(took),
        "s",
        note=f"the middle of {ROUNDS}, {min(took):.2f} to {max(took):.2f} s, by a process that is awake",
    )


def _most_memory_kb(pid: int) -> int:
    try:
        status = Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return 0
    peaks = [line.split()[1] for line in status.splitlines() if line.startswith("VmHWM:")]
    return int(peaks[0]) if peaks else 0


class _server:  # noqa: N801 (used as a word: with _server() as port)
    """The shop as it is served, two web workers, on a port of its own."""

    def __enter__(self) -> int:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = int(free.getsockname()[1])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "shopfloor.serve"],
            env=os.environ | {"HOST": "127.0.0.1", "PORT": str(port), "WORKERS": "2"},
        )
        while self.process.poll() is None:
            try:
                _page(http.client.HTTPConnection("127.0.0.1", port, timeout=60))
                return port
            except OSError:
                time.sleep(0.1)
        raise RuntimeError("the server did not start")

    def __exit__(self, *_: object) -> None:
        self.process.terminate()
        self.process.wait(timeout=60)


def _page(connection: http.client.HTTPConnection) -> None:
    connection.request("GET", "/sign-in/")
    answer = connection.getresponse()
    assert answer.status in (200, 302, 404), answer.status
    answer.read()


def _light_pages(port: int, is_wanted: Callable[[], bool]) -> list[float]:
    """Milliseconds of one page after the other; at least so many, and as long as ``is_wanted``."""
    times: list[float] = []
    wanted = [True]

    def ask() -> None:
        while wanted[0] or len(times) < LIGHT_PAGES:
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            began = time.perf_counter()
            _page(connection)
            times.append((time.perf_counter() - began) * 1000)
            connection.close()

    asking = threading.Thread(target=ask)
    asking.start()
    while is_wanted():
        time.sleep(0.1)
    wanted[0] = False
    asking.join()
    return times


def _p99(times: Sequence[float]) -> float:
    return statistics.quantiles(times, n=100)[98]


if __name__ == "__main__":
    sys.exit(run(measure))
