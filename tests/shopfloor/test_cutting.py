"""The cutting plan on screen: what is asked for, how far it is, and what came out."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from quality.actions import sign_off
from quality.models import Role
from quality.stock import receive_parts
from routing.cutting_jobs import AT_ONCE, INTERRUPTED, KEPT, beat, finish, result_of
from routing.cutting_orders import PlanProgress
from routing.models import CuttingJob, CuttingJobState
from routing.specs.cutting_plan import BlankOrder, StockSheet
from shopfloor.cutting import background
from shopfloor.cutting.forms import quick_days
from shopfloor.cutting.pages import offcut_rows
from tests.slow_search import COUNT, NAMES, slow_search
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
PLAN = "/cutting/"
NUMBERS = {"kerf_mm": "3.2", "seconds": "5"}


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The plans that were begun; nothing makes them before the test says so."""
    numbers: list[int] = []
    monkeypatch.setattr(background, "start", numbers.append)
    return numbers


@pytest.fixture
def ask(office: Client, begun: list[int], django_capture_on_commit_callbacks: Any) -> Callable[..., Any]:
    def send(**fields: Any) -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            return office.post(PLAN, NUMBERS | fields)

    return send


def text(answer: Any) -> str:
    return str(answer.content.decode())


def test_nothing_to_cut_says_what_to_do(office: Client, shop: SmallShop) -> None:
    assert "Nothing is left to cut" in text(office.get(PLAN))
    answer = office.post(PLAN, NUMBERS)
    assert answer.status_code == 422
    assert "Nothing of this is left to cut" in text(answer)
    assert not CuttingJob.objects.exists()


def test_a_plan_is_asked_for_made_and_drawn(
    shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int]
) -> None:
    shells = shop.released("K-1", quantity=2) + shop.released("K-2", quantity=1)
    answer = ask(order=["K-1"], kerf_mm="4", seconds="7")
    job = CuttingJob.objects.get()
    assert answer["Location"] == reverse("cutting:job", args=[job.pk])
    assert begun == [job.pk]
    assert job.asked == {"orders": ["K-1"], "due_by": "", "kerf_mm": 4.0, "seconds": 7.0}
    assert job.started_by == "Some Office"
    background.make_plan(job.pk)
    page = text(office.get(answer["Location"]))
    (plan,) = result_of(CuttingJob.objects.get()).plans
    assert plan.kerf_mm == 4
    assert "Birch 3.0" in page and plan.summary in page
    assert page.count("<figure>") == len(plan.sheets) == page.count('class="drawing cutting-sheet"')
    assert all(f"{shell.serial} plate {n}" in page for shell in shells[:2] for n in (1, 2, 3))
    assert shells[2].serial not in page
    assert "Mind your hands at cut." in page
    # What was left to cut of the order: two shells, six blanks.
    assert re.search(r">K-1</a></td>.*?<td class=\"number\">2</td><td class=\"number\">6</td>", page)
    offcuts = [offcut for layout in plan.sheets for offcut in layout.offcuts]
    assert offcuts and sum(row.count for row in offcut_rows(plan)) == len(offcuts)
    for offcut in offcuts:
        assert f'{offcut.along_grain_mm:.1f}</td><td class="number">{offcut.across_grain_mm:.1f}</td>' in page
    assert f"{len(plan.sheets)} sheet" in text(office.get(PLAN))


def test_what_lies_on_the_shelf_and_what_to_buy(
    shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int]
) -> None:
    shop.released("K-1", quantity=9)
    where = ask()["Location"]
    background.make_plan(begun[0])
    (plan,) = result_of(CuttingJob.objects.get()).plans
    needed = len(plan.sheets)
    assert needed > 1
    assert "not counted" in text(office.get(where))
    assert "Birch 3.0" in text(office.get("/packing/shelf/"))
    first = office.post("/packing/shelf/count/", {"name": "Birch 3.0", "pieces": "1", "tap_key": "a"})
    assert first.status_code == 302
    counted = '<td class="number">{}</td><td class="number">{}</td>'
    assert counted.format(1, f"<strong>{needed - 1}</strong>") in text(office.get(where))
    receive_parts(
        name="Birch 3.0", quantity=needed, note="note 7", person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
    )
    assert counted.format(needed + 1, 0) in text(office.get(where))


def test_a_day_leaves_out_what_is_due_later_and_keeps_what_is_late(shop: SmallShop, ask: Callable[..., Any]) -> None:
    late = shop.released("K-1", due=date(2020, 1, 6))
    soon = shop.released("K-2", due=date(2026, 12, 1))
    shop.released("K-3", due=date(2026, 12, 2))
    ask(due_by="2026-12-01")
    job = CuttingJob.objects.get()
    background.make_plan(job.pk)
    left = result_of(CuttingJob.objects.get()).left
    assert [serial for order in left for serial in order.serials] == [late[0].serial, soon[0].serial]


def test_a_week_ends_on_sunday() -> None:
    monday, sunday = date(2026, 11, 23), date(2026, 11, 29)  # ISO 8601: the week begins on Monday
    assert (monday.isoweekday(), sunday.isoweekday()) == (1, 7)
    for today in (monday, date(2026, 11, 25), sunday):
        assert [day for _, day in quick_days(today)] == [today, sunday, date(2026, 12, 6), None]


def test_quick_choices_count_shells_and_fill_in_the_day(shop: SmallShop, office: Client) -> None:
    shop.released("K-1", quantity=2, due=date(2026, 11, 2))
    shop.released("K-2", quantity=3, due=date(2026, 11, 8))
    shop.released("K-3", quantity=4, due=date(2026, 11, 15))
    shop.released("K-4", quantity=5, due=date(2026, 11, 16))
    with time_machine.travel(datetime(2026, 11, 3, 9, tzinfo=UTC), tick=False):
        office.force_login(shop.supervisor)
        page = text(office.get(PLAN))
        week = text(office.get(PLAN, {"due_by": "2026-11-08"}))
    for choice in ("due today and late 2<", "due this week 5<", "due next week 9<", "everything 14<"):
        assert choice in page
    assert re.search(r"aria-current=\"page\">everything", page)
    assert re.search(r"aria-current=\"page\">due this week", week)
    assert 'value="2026-11-08"' in week
    assert [number for number in ("K-1", "K-2", "K-3", "K-4") if f'value="{number}"' in week] == ["K-1", "K-2"]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"due_by": "2026-13-01"}, "Enter a day as year-month-day"),
        ({"due_by": "0001-01-01"}, "look at the year"),
        ({"kerf_mm": "10.1"}, "less than or equal to 10"),
        ({"kerf_mm": "-1"}, "greater than or equal to 0"),
        ({"kerf_mm": "nan"}, "Enter a number"),
        ({"kerf_mm": ""}, "This field is required"),
        ({"seconds": "0"}, "greater than or equal to 1"),
        ({"seconds": "9999"}, "less than or equal to 120"),
        ({"order": ["K-9"]}, "Order K-9 has nothing left to cut"),
        ({"order": ["K-1"], "due_by": "2026-12-01"}, "K-1 is due later than 2026-12-01"),
        ({"due_by": "2020-01-01"}, "Nothing of this is left to cut"),
    ],
)
def test_bad_input_is_said_and_makes_nothing(
    shop: SmallShop, ask: Callable[..., Any], fields: dict[str, Any], sentence: str
) -> None:
    shop.released("K-1")
    answer = ask(**fields)
    assert answer.status_code == 422
    assert sentence in text(answer).replace("&#x27;", "'")
    assert not CuttingJob.objects.exists()


def test_an_address_that_chooses_a_day_that_is_none_is_told_so(shop: SmallShop, office: Client) -> None:
    shop.released("K-1")
    answer = office.get(PLAN, {"due_by": "soon"})
    assert answer.status_code == 422
    assert "Enter a day as year-month-day" in text(answer)


def test_strangers_and_wrong_roles(shop: SmallShop, signed_in: Callable[[Role], Client], begun: list[int]) -> None:
    shop.released("K-1")
    job = running_job()
    addresses = [PLAN, reverse("cutting:job", args=[job.pk]), reverse("cutting:stop", args=[job.pk])]
    for client, status in ((Client(), 302), (signed_in(Role.WORKER), 403), (signed_in(Role.FINAL_CHECKER), 403)):
        assert [client.get(address).status_code for address in addresses[:2]] == [status] * 2
        assert [client.post(address, NUMBERS).status_code for address in (addresses[0], addresses[2])] == [status] * 2
    job.refresh_from_db()
    assert not job.stop_wanted and CuttingJob.objects.count() == 1
    supervisor = signed_in(Role.SUPERVISOR)
    assert supervisor.get(addresses[2]).status_code == 405
    assert supervisor.get(reverse("cutting:job", args=[job.pk + 1])).status_code == 404
    assert supervisor.post(reverse("cutting:stop", args=[job.pk + 1])).status_code == 404


def running_job(**fields: Any) -> CuttingJob:
    now = timezone.now()
    given: dict[str, Any] = {
        "asked": {"orders": [], "due_by": "", "kerf_mm": 3.2, "seconds": 5.0},
        "progress": {},
        "started_at": now,
        "started_by": "Sam",
        "heard_at": now,
    }
    return CuttingJob.objects.create(**given | fields)


def test_asked_twice_it_is_made_once(shop: SmallShop, ask: Callable[..., Any], begun: list[int]) -> None:
    shop.released("K-1")
    first, second = ask(), ask()
    assert first["Location"] == second["Location"]
    assert CuttingJob.objects.count() == len(begun) == 1
    assert ask(kerf_mm="3")["Location"] != first["Location"]
    assert len(begun) == 2


def test_a_form_that_arrives_again_after_the_plan_is_made_finds_it(
    shop: SmallShop, ask: Callable[..., Any], begun: list[int]
) -> None:
    shop.released("K-1")
    first = ask(tap_key="one tap")
    background.make_plan(begun[0])
    assert ask(tap_key="one tap")["Location"] == first["Location"]
    assert len(begun) == 1
    assert ask(tap_key="another tap")["Location"] != first["Location"]


def test_so_many_at_once_and_no_more(shop: SmallShop, ask: Callable[..., Any], begun: list[int]) -> None:
    shop.released("K-1")
    for kerf in range(AT_ONCE):
        assert ask(kerf_mm=str(kerf)).status_code == 302
    answer = ask(kerf_mm="9")
    assert answer.status_code == 409
    assert "cutting plans are being made already" in text(answer)
    assert len(begun) == AT_ONCE


def test_while_it_is_made_the_page_shows_how_far(shop: SmallShop, office: Client) -> None:
    job = running_job()
    where = reverse("cutting:job", args=[job.pk])
    assert "Reading what is to be cut" in text(office.get(where))
    beat(
        pk=job.pk,
        progress=PlanProgress(2, 3, "Birch 3.0", "patterns", 12, 11, ("Beech 1.0: 4 sheets; no plan has fewer.",)),
        now=timezone.now(),
    )
    page = text(office.get(where))
    assert "Sheet kind 2 of 3: <strong>Birch 3.0</strong>" in page
    assert "<strong>12</strong> sheets so far, at least <strong>11</strong> needed" in page
    assert "Beech 1.0: 4 sheets; no plan has fewer." in page
    assert f'hx-get="{where}" hx-trigger="every 1s"' in page
    assert f'<a href="{where}">Look again</a>' in page
    part = text(office.get(where, headers={"HX-Request": "true"}))
    assert part.strip().startswith('<div id="progress"') and "<html" not in part
    # The button is outside the part that is exchanged every second: it would go away under the finger.
    assert "Stop" in page and "<button" not in part
    finish(pk=job.pk, result=result_of(job), now=timezone.now())
    assert office.get(where, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    assert "every 1s" not in text(office.get(where))


def test_a_plan_whose_maker_fell_silent_was_interrupted(
    shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int]
) -> None:
    shop.released("K-1")
    quiet = timezone.now() - timedelta(seconds=31)
    job = running_job(heard_at=quiet, started_at=quiet)
    where = reverse("cutting:job", args=[job.pk])
    assert INTERRUPTED in text(office.get(where))
    assert office.get(where, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    assert "was interrupted" in text(office.get(PLAN))
    again = ask()  # the same request: the silent one is no reason to wait
    assert again["Location"] != where and len(begun) == 1
    job.refresh_from_db()
    assert (job.state, job.error) == (CuttingJobState.FAILED, INTERRUPTED)
    assert INTERRUPTED in text(office.get(where))
    # Its maker wakes up after all: it is told to stop, and what it brings is not taken.
    assert not beat(pk=job.pk, progress=PlanProgress(), now=timezone.now())
    finish(pk=job.pk, result=result_of(job), now=timezone.now())
    job.refresh_from_db()
    assert job.state == CuttingJobState.FAILED


def test_heard_of_within_half_a_minute_it_is_running(shop: SmallShop, office: Client) -> None:
    job = running_job(heard_at=timezone.now() - timedelta(seconds=25))
    assert "The plan is being made" in text(office.get(reverse("cutting:job", args=[job.pk])))


def test_old_plans_go_the_last_ones_and_the_running_ones_stay(
    shop: SmallShop, ask: Callable[..., Any], begun: list[int]
) -> None:
    shop.released("K-1")
    running = running_job(asked={"orders": ["K-1"], "due_by": "", "kerf_mm": 1.0, "seconds": 5.0})
    old = [running_job(state=CuttingJobState.DONE).pk for _ in range(KEPT + 4)]
    ask()
    assert set(CuttingJob.objects.values_list("pk", flat=True)) == {running.pk, *old[5:], begun[0]}


def test_a_blank_too_large_for_its_sheet_is_said(
    shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.released("K-1")
    large = [(StockSheet("Birch 3.0", 1250, 2500), BlankOrder("SS26 plate 1", 1300, 400))]
    monkeypatch.setattr(background, "blanks_to_cut", lambda shells: large)
    where = ask()["Location"]
    background.make_plan(begun[0])
    page = text(office.get(where))
    assert "does not fit a sheet of 1250 × 2500 mm" in page
    assert "Change or make again" in page


def test_a_fault_of_the_program_ends_the_plan_and_is_logged(
    shop: SmallShop,
    office: Client,
    ask: Callable[..., Any],
    begun: list[int],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    shop.released("K-1")

    def broken(*args: Any, **kwargs: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr(background, "plan_blanks", broken)
    where = ask()["Location"]
    background.make_plan(begun[0])
    assert "The program has a fault" in text(office.get(where))
    assert "ZeroDivisionError" in caplog.text


def test_what_was_cut_since_is_said(shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int]) -> None:
    one, two = shop.released("K-1", quantity=2)
    where = ask()["Location"]
    background.make_plan(begun[0])
    assert "of this plan need" not in text(office.get(where))
    sign_off(serial=one.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert "1 of 2 shells of this plan need no cutting any more" in text(office.get(where))
    sign_off(serial=two.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
    assert "All shells of this plan" in text(office.get(where))


def test_many_sheets_are_drawn_by_kind_and_page(
    shop: SmallShop, office: Client, ask: Callable[..., Any], begun: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.released("K-1")
    blanks = [
        (StockSheet(name, 1000, 1000), BlankOrder(f"{name} {n}", 900, 900))
        for name, count in (("Ash", 3), ("Birch", 61))
        for n in range(count)
    ]
    monkeypatch.setattr(background, "blanks_to_cut", lambda shells: blanks)
    where = ask()["Location"]
    background.make_plan(begun[0])
    assert text(office.get(where)).count("<figure>") == 0
    assert text(office.get(where, {"kind": "1"})).count("<figure>") == 3
    first, second = (text(office.get(where, {"kind": "2", "page": page})) for page in "12")
    assert (first.count("<figure>"), second.count("<figure>")) == (60, 1)
    assert "Page 1 of 2" in first
    assert text(office.get(where, {"kind": "rubbish", "page": "-"})).count("<figure>") == 0


class TestThreads:
    """With the real threads and real transactions."""

    pytestmark = pytest.mark.django_db(transaction=True)

    @pytest.fixture
    def threads(self, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[threading.Thread]]:
        begun: list[threading.Thread] = []
        real = background.start
        monkeypatch.setattr(background, "start", lambda pk: begun.append(real(pk)))
        monkeypatch.setattr(background, "BETWEEN_BEATS_S", 0.05)
        yield begun
        for thread in begun:
            thread.join(30)
            assert not thread.is_alive()

    def test_a_plan_is_made_while_the_page_looks_on(
        self, shop: SmallShop, office: Client, threads: list[threading.Thread]
    ) -> None:
        shop.released("K-1", quantity=3)
        where = office.post(PLAN, NUMBERS)["Location"]
        threads[0].join(30)
        page = text(office.get(where))
        assert "no plan has fewer" in page and "<figure>" in page

    def test_stop_keeps_the_best_so_far(
        self,
        shop: SmallShop,
        office: Client,
        threads: list[threading.Thread],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        shop.released("K-1")
        search = slow_search(monkeypatch)
        where = office.post(PLAN, NUMBERS | {"seconds": "120"})["Location"]
        assert search.looked.wait(20)
        patience = time.monotonic() + 20
        while "Sheet kind 1 of 2" not in (page := text(office.get(where))):
            assert time.monotonic() < patience
        assert f"<strong>{search.told[0].sheets}</strong> sheet" in page
        answer = office.post(f"{where}stop/")
        assert answer["Location"] == where
        threads[0].join(30)
        result = result_of(CuttingJob.objects.get())
        assert [plan.stock.name for plan in result.plans] == list(NAMES)
        for plan in result.plans:
            labels = sorted(blank.label for layout in plan.sheets for blank in layout.blanks)
            assert labels == [f"{plan.stock.name} {n}" for n in range(COUNT)]
        assert len(result.plans[0].sheets) == search.told[0].sheets
        page = text(office.get(where))
        assert all(plan.stopped_early for plan in result.plans) and page.count("Stopped by hand") == 2
        # Stopping what has ended changes nothing.
        assert office.post(f"{where}stop/", follow=True).status_code == 200
        assert CuttingJob.objects.get().state == CuttingJobState.DONE
