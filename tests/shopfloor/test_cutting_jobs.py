"""A cutting plan while it is made: once for each request, how far it is, stopped, interrupted, and in real threads."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from routing.cutting_jobs import AT_ONCE, INTERRUPTED, KEPT, beat, finish, result_of
from routing.cutting_orders import PlanProgress
from routing.models import CuttingJob, CuttingJobState
from shopfloor.cutting import background
from tests.shopfloor import cutting_plans
from tests.shopfloor.cutting_plans import NUMBERS, PLAN, running_job, text
from tests.slow_search import COUNT, NAMES, slow_search
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
begun, ask = cutting_plans.begun, cutting_plans.ask  # fixtures


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
