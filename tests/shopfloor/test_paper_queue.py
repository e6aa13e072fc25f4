"""Papers made ahead: who makes what, what stays when a process is killed, and that kept paper is never stale."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from pytest_django import Settings

from quality.actions import sign_off
from quality.models import CheckPoint, Defect, Person
from quality.problems import report_problem
from routing.models import KitLine, KitOrder, Shell, Shop, Station
from routing.reissue import current_inputs, reissue_spec
from shopfloor import paper_queue
from shopfloor.paper_queue import PLACES, Ask, next_ask, only_me, place, put, waiting
from shopfloor.paper_queue import wake as really_wake
from shopfloor.travelers import kept, printing
from shopfloor.travelers.facts import read
from tests.places import ROOT, Place, place_for_test
from tests.shopfloor.papers_made import work_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.usefixtures("papers_folder")
PATIENCE_S = 300


def ask(name: str, rank: int = 0) -> Ask:
    return Ask(rank, name, {"do": "nothing"})


def test_the_same_ask_twice_is_one_and_the_urgent_come_first() -> None:
    for name, rank in (("later", 2), ("soon", 0), ("between", 1), ("soon", 0)):
        put(ask(name, rank))
    assert [path.name for path in waiting()] == ["0-soon", "1-between", "2-later"]


def test_what_somebody_makes_nobody_else_takes() -> None:
    put(ask("one"))
    put(ask("two", 1))
    with next_ask() as first, next_ask() as second, next_ask() as third:
        assert first is not None and second is not None
        assert (first.name, second.name, third) == ("one", "two", None)
    assert waiting() == []


def test_what_fails_is_given_up_for_a_while() -> None:
    put(ask("broken"))
    with pytest.raises(ValueError, match="no"), next_ask():
        raise ValueError("no")
    assert waiting() == []
    assert paper_queue.has_failed("broken")
    put(ask("broken"))
    assert waiting() == []
    long_ago = time.time() - paper_queue.FAILED_S - 1
    os.utime(paper_queue.folder("failed") / "broken", (long_ago, long_ago))
    put(ask("broken"))
    assert len(waiting()) == 1


def test_what_ends_its_process_stays_but_not_for_ever() -> None:
    put(ask("deadly"))
    put(ask("other", 2))
    for _ in range(paper_queue.MOST_TRIES):
        with pytest.raises(SystemExit), next_ask() as mine:
            assert mine is not None and mine.name == "deadly"
            raise SystemExit
    with next_ask() as mine:
        assert mine is not None and mine.name == "other"
    assert paper_queue.has_failed("deadly")
    assert waiting() == []


def test_a_damaged_ask_is_given_up() -> None:
    (paper_queue.folder("asked") / "0-damaged").write_bytes(b"{\n")
    (paper_queue.folder("asked") / "0-empty").write_bytes(b"")
    with next_ask() as mine:
        assert mine is None
    assert waiting() == []


def test_there_are_two_places_and_no_more_processes_than_work() -> None:
    assert PLACES == 2
    assert paper_queue._wanting() == 0
    put(ask("one"))
    assert paper_queue._wanting() == 1
    put(ask("two"))
    put(ask("three"))
    assert paper_queue._wanting() == 2
    with place() as first:
        assert first
        assert paper_queue._wanting() == 1  # one is there and will take some of it
        with next_ask(), place() as second, place() as third:
            assert (second, third) == (True, False)
            assert paper_queue._wanting() == 0


def test_one_idle_process_is_enough_for_one_ask() -> None:
    with place():
        put(ask("one"))
        assert paper_queue._wanting() == 0


def test_kept_is_found_by_its_key_only_and_dropped_when_nobody_used_it() -> None:
    assert kept.find("SS1", "k") is None
    kept.keep(b"sheaf", [("SS1", "k", 2), ("SS2", "k", 3)])
    kept.keep(b"other", [("SS3", "k", 1)])
    second = kept.find("SS2", "k")
    assert second is not None
    assert (second.sheaf.read_bytes(), second.first, second.count) == (b"sheaf", 2, 3)
    assert kept.find("SS2", "l") is None
    later = time.time() + kept.UNUSED_S - 60
    assert kept.drop_old(later) == 0
    os.utime(kept._place("SS2", "k"), (later, later))
    assert kept.drop_old(later + 120) == 3  # SS1 and SS3, and the sheaf that nobody names any more
    assert kept.find("SS1", "k") is None
    assert kept.find("SS2", "k") == second


def test_a_sheaf_that_is_gone_is_not_found() -> None:
    kept.keep(b"sheaf", [("SS1", "k", 2)])
    found = kept.find("SS1", "k")
    assert found is not None
    found.sheaf.unlink()
    assert kept.find("SS1", "k") is None


def test_prints_are_dropped_after_a_day_and_so_is_another_version(papers_folder: Path) -> None:
    kept.print_path("print-1").write_bytes(b"%PDF")
    (papers_folder / "older" / "places").mkdir(parents=True)
    assert kept.drop_old() == 0
    later = time.time() + kept.DAY_S + 1
    assert kept.drop_old(later) == 1
    assert [path.name for path in papers_folder.iterdir()] == [paper_queue.program()]


def test_two_that_drop_the_same_at_once_do_not_end_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """The other is always faster here: what was listed is gone when this one looks at it."""
    kept.keep(b"sheaf", [("SS1", "k", 2)])
    kept.print_path("print-1").write_bytes(b"%PDF")
    list_folder, read = os.scandir, Path.read_text

    def listed(where: Path) -> list[os.DirEntry[str]]:
        entries = list(list_folder(where))
        if where.name in ("prints", "sheaves"):
            for entry in entries:
                Path(entry.path).unlink()
        return entries

    def read_too_late(path: Path) -> str:
        path.unlink()
        return read(path)

    monkeypatch.setattr(os, "scandir", listed)
    monkeypatch.setattr(Path, "read_text", read_too_late)
    assert kept.drop_old(time.time() + kept.DAY_S + 60) == 0
    monkeypatch.undo()
    assert [list(paper_queue.folder(name).iterdir()) for name in ("shells", "prints", "sheaves")] == [[], [], []]


def test_what_a_killed_process_left_half_written_goes_too() -> None:
    part = paper_queue.folder("sheaves") / ".half.1-1"
    part.write_bytes(b"%PDF")
    assert kept.drop_old() == 0
    assert kept.drop_old(time.time() + kept.NOT_YET_NAMED_S + 60) == 1


@pytest.mark.django_db
def test_whatever_a_traveler_shows_is_in_its_key(shop: SmallShop) -> None:
    shell, other = shop.released(quantity=2)
    point = CheckPoint.objects.create(code="look", station=shop.stations["cut"], text="Look", kind="yes_no")
    defect = Defect.objects.create(code="D1", name="dent")

    def key(paper: str = "A4", base: str = "https://floor.example") -> str:
        (facts,) = read([shell.serial], base_url=base)
        return facts.key(paper)

    def hold() -> None:
        report_problem(
            serial=other.serial, position=1, text="", defect=defect, person=shop.worker, stamp=shop.stamp(shop.worker)
        )

    def sign() -> None:
        sign_off(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            answers={str(point.pk): "yes"},
            stamp=shop.stamp(shop.worker),
        )

    changes: list[Callable[[], object]] = [
        lambda: KitOrder.objects.update(customer="Weir Lane Band"),
        lambda: KitOrder.objects.update(customer_reference="PO 2"),
        lambda: KitOrder.objects.update(note="Badge at the top."),
        lambda: KitLine.objects.update(note="No badge."),
        lambda: KitOrder.objects.update(due=shell.order.due + timedelta(days=1)),
        lambda: Station.objects.filter(code="cut").update(caution="Mind the blade."),
        lambda: Station.objects.filter(code="cut").update(name="Saw"),
        lambda: CheckPoint.objects.filter(pk=point.pk).update(text="Look well"),
        lambda: CheckPoint.objects.filter(pk=point.pk).update(sample_every=3),
        lambda: Shop.objects.update(name="Another shop"),
        lambda: shell.operations.filter(position=3).update(dwell_minutes=77),
        lambda: shell.operations.filter(position=1).update(state="in_work"),
        sign,
        lambda: Person.objects.filter(pk=shop.worker.pk).update(name="Married Name"),
        lambda: reissue_spec(
            serial=shell.serial,
            inputs=replace(current_inputs(shell), trim_each_end_mm=9.0),
            reason="blunt saw",
            stamp=shop.stamp(shop.supervisor),
        ),
        lambda: shell.operations.filter(state="ready").update(state="on_hold"),
    ]
    seen = [key()]
    for change in changes:
        change()
        seen.append(key())
    assert len(set(seen)) == len(seen)
    assert len({key(), key("Letter"), key(base="https://other.example")}) == 3
    before = key()
    shell.operations.update(touch_seconds=7, started_by_name="Somebody")
    Shell.objects.update(chain_length=99)
    hold()
    assert key() == before


@pytest.mark.django_db
def test_nothing_is_laid_out_twice_and_a_signature_makes_it_new(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    from shopfloor.travelers import making

    laid_out: list[int] = []

    def quickly(sheets: list[object], **_: str) -> tuple[bytes, list[int]]:
        laid_out.append(len(sheets))
        return b"sheaf", [2] * len(sheets)

    monkeypatch.setattr(making, "sheaf_pages", quickly)
    monkeypatch.setattr(making, "body_pages", lambda *_: b"body")
    shells = shop.released(quantity=3)
    for _ in range(2):
        progress = printing.ask_ahead("K-1", base_url="")
        work_through()
    assert (progress.made, progress.of, laid_out) == (3, 3, [3])
    sign_off(serial=shells[0].serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert printing.ask_ahead("K-1", base_url="").of == 2  # work has begun on one: it is made when it is printed
    making.make(read([shell.serial for shell in shells], base_url=""), "A4")
    assert laid_out == [3, 1]
    making.make(read([shell.serial for shell in shells], base_url=""), "Letter")
    assert laid_out == [3, 1, 3]


@pytest.mark.django_db
def test_a_released_order_is_asked_for_and_the_page_shows_how_far_it_is(
    shop: SmallShop, supervisor: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    from django.test import Client

    from shopfloor.travelers import making

    assert isinstance(supervisor, Client)
    monkeypatch.setattr(making, "sheaf_pages", lambda sheets, **_: (b"sheaf", [2] * len(sheets)))
    monkeypatch.setattr(making, "body_pages", lambda *_: b"body")
    shop.order("K-1", quantity=2)
    released = supervisor.post(reverse("orders:release", args=["K-1"]))
    assert released.status_code == 302, released.content.decode()
    assert released["Location"] == reverse("orders:order", args=["K-1"])
    assert [path.name for path in waiting()] == ["2-order-K-1"]
    page = supervisor.get(reverse("orders:order", args=["K-1"])).content.decode()
    assert reverse("travelers:ahead", args=["K-1"]) in page
    ahead = reverse("travelers:ahead", args=["K-1"])
    assert "<strong>0</strong> of 2" in supervisor.get(ahead).content.decode()
    assert work_through() == 2
    part = supervisor.get(ahead, headers={"HX-Request": "true"}).content.decode()
    assert "All 2 travelers are ready to print." in part
    assert "hx-trigger" not in part


@pytest.fixture
def real_shop(tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[Place]:
    """A demo shop in a place of its own, for real processes. What this test starts ends with it."""
    with place_for_test(tmp_path / "shop") as here:
        here.must("migrate", "--verbosity", "0")
        here.must("demo")
        here.must("import_orders", ROOT / "shopfloor" / "demo" / "order_book.csv")
        ((order,),) = here.rows("SELECT number FROM routing_kitorder WHERE state = 'draft' ORDER BY id LIMIT 1")
        here.must("release", order)
        settings.SHOP_DATA = here.data
        settings.PAPERS = here.data / "papers"
        monkeypatch.delenv("DATABASE_URL", raising=False)
        for name, value in here.environment.items():
            monkeypatch.setenv(name, value)
        try:
            yield here
        finally:
            for process in paper_queue._started:
                process.kill()
                process.wait()
            paper_queue._started.clear()


def until(is_so: Callable[[], bool]) -> None:
    patience = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < patience
        time.sleep(0.05)


def test_a_kill_in_the_middle_loses_nothing(real_shop: Place) -> None:
    (one, first), (two, second) = real_shop.rows("SELECT id, serial FROM routing_shell ORDER BY id LIMIT 2")
    wanted = {"do": "sheaf", "paper": "A4", "base_url": ""}
    put(Ask(0, "first", wanted | {"serials": [first]}))
    put(Ask(1, "second", wanted | {"serials": [second]}))
    # Somebody else is making the second traveler, or seems to: the process waits there, in the middle of its work.
    with only_me("shells", [two]):
        process = subprocess.Popen(
            [sys.executable, "manage.py", "make_papers", "--idle", "600"], cwd=ROOT, env=real_shop.environment
        )
        try:
            until(lambda: any(b"begun" in path.read_bytes() for path in waiting() if path.name == "1-second"))
            shells = paper_queue.folder("shells")
            (made,) = shells.iterdir()
            assert made.name.startswith(f"{first}.")
            when = made.stat().st_mtime_ns
            assert paper_queue._wanting() == 0  # it is busy, and the rest is being made
        finally:
            process.send_signal(signal.SIGKILL)
            process.wait()
    assert [path.name for path in waiting()] == ["1-second"]
    really_wake()
    until(lambda: waiting() == [])
    assert sorted(path.name.split(".")[0] for path in shells.iterdir()) == sorted([first, second])
    assert made.stat().st_mtime_ns == when
    assert one != two


def test_another_wording_in_a_language_is_another_program(settings: Settings, tmp_path: Path) -> None:
    settings.BASE_DIR = tmp_path
    words = tmp_path / "shopfloor" / "django.mo"
    words.parent.mkdir()
    programs = []
    for content in (b"Kessel", b"Rohkessel"):
        words.write_bytes(content)
        programs.append(paper_queue.program.__wrapped__())
    assert programs[0] != programs[1]
