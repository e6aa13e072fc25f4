"""The pages of the plan: made, read, printed; what if; a date in the order form."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
from django.test import Client
from django.utils import timezone

from quality.models import Role
from routing.models import Absence, KitOrder, Outage, Plan, PlanState
from shopfloor.floor.queue import queue_of
from shopfloor.plan import background, pages
from tests.shopfloor.tablets import Tablet, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
SignedIn = Callable[[Role], Client]


@pytest.fixture
def today_shop(shop: SmallShop) -> SmallShop:
    """The small shop by today's clock: pages plan from now on."""
    shop.clock = timezone.now()
    return shop


def planned(client: Client, seconds: str = "0") -> Plan:
    """Made by the page, in the foreground."""
    with (
        patch.object(background, "start", background.run),
        patch("shopfloor.plan.views.transaction.on_commit", lambda act: act()),
    ):
        assert client.post("/plan/make/", {"seconds": seconds}).status_code == 302
    return Plan.objects.get(is_current=True)


def text(client: Client, address: str, status: int = 200) -> str:
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def test_a_plan_is_made_and_read(today_shop: SmallShop, signed_in: SignedIn) -> None:
    shells = today_shop.released(quantity=2, due=timezone.localdate() + timedelta(days=90))
    today_shop.released("K-2", due=timezone.localdate() - timedelta(days=3))
    client = signed_in(Role.SUPERVISOR)
    assert "There is no plan yet" in text(client, "/plan/")
    plan = planned(client)
    page = text(client, "/plan/")
    assert "K-1" in page
    assert "late by" in page
    assert page.index("K-2") < page.index("K-1")  # what is late stands first
    lists = text(client, "/plan/work/")
    assert "cut" in lists
    cut = text(client, "/plan/work/cut/")
    assert shells[0].serial in cut
    assert "Mind your hands at cut." in cut
    first = timezone.localdate(plan.steps.order_by("starts_at")[0].starts_at)
    for by in ("station", "person", "kit"):
        assert "<svg" in text(client, f"/plan/picture/?by={by}&first={first}&days=3")
    assert client.get(f"/plan/picture.pdf?first={first}").content.startswith(b"%PDF")
    assert client.get("/plan/work/cut.pdf").content.startswith(b"%PDF")


def test_the_solver_in_the_background_is_followed_and_stopped(today_shop: SmallShop, signed_in: SignedIn) -> None:
    today_shop.released()
    client = signed_in(Role.SUPERVISOR)
    with patch.object(background, "start") as started:
        assert client.post("/plan/make/", {"seconds": "5"}).status_code == 302
        assert client.post("/plan/make/", {"seconds": "5"}).status_code == 302
    assert Plan.objects.count() == 1
    assert started.call_count == 0  # begins when the request is committed; this test never commits
    plan = Plan.objects.get()
    assert 'hx-trigger="every 1s"' in text(client, "/plan/")
    part = client.get("/plan/", headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert client.post(f"/plan/{plan.pk}/stop/").status_code == 302
    background.run(plan.pk)
    assert client.get("/plan/", headers={"HX-Request": "true"}).headers["HX-Refresh"] == "true"
    assert "had ended already" in client.post(f"/plan/{plan.pk}/stop/", follow=True).content.decode()


def test_a_fault_ends_in_the_row_and_is_said(today_shop: SmallShop, signed_in: SignedIn) -> None:
    today_shop.released()
    client = signed_in(Role.SUPERVISOR)
    with patch("routing.plan_jobs.present_problem", side_effect=ZeroDivisionError):
        client.post("/plan/make/", {"seconds": "5"})
        background.run(Plan.objects.get().pk)
    assert Plan.objects.get().state == PlanState.FAILED
    assert "could not finish this plan" in text(client, "/plan/")


@pytest.mark.parametrize("seconds", ["", "-1", "301", "long"])
def test_bad_seconds(today_shop: SmallShop, signed_in: SignedIn, seconds: str) -> None:
    answer = signed_in(Role.SUPERVISOR).post("/plan/make/", {"seconds": seconds})
    assert answer.status_code == 422
    assert Plan.objects.count() == 0


@pytest.mark.parametrize("query", ["by=nothing", "days=0", "days=21", "days=x", "first=tomorrow"])
def test_bad_pictures(today_shop: SmallShop, signed_in: SignedIn, query: str) -> None:
    today_shop.released()
    client = signed_in(Role.SUPERVISOR)
    planned(client)
    assert client.get(f"/plan/picture/?{query}").status_code == 422
    assert client.get(f"/plan/picture.pdf?{query}").status_code == 422


def test_pages_ask_a_known_number_of_questions(
    today_shop: SmallShop, signed_in: SignedIn, django_assert_max_num_queries: Any
) -> None:
    for number in range(5):
        today_shop.released(f"K-{number}", quantity=3)
    client = signed_in(Role.SUPERVISOR)
    planned(client)
    for address in ("/plan/", "/plan/picture/?days=10", "/plan/work/", "/plan/work/cut/"):
        with django_assert_max_num_queries(12):
            client.get(address)


def test_work_lists_leave_out_what_is_done(today_shop: SmallShop, signed_in: SignedIn) -> None:
    (shell,) = today_shop.released()
    plan = planned(signed_in(Role.SUPERVISOR))
    cut = today_shop.stations["cut"]
    assert sum(day.count for day in pages.work_of(plan, cut, timezone.now())) == 1
    shell.operations.filter(position=1).update(state="done")
    assert pages.work_of(plan, cut, timezone.now()) == []


def test_the_tablet_follows_the_plan(today_shop: SmallShop, signed_in: SignedIn) -> None:
    first, second = today_shop.released(quantity=2)
    tablet = Tablet("cut")
    tablet.sign_in(today_shop.worker)
    assert "due first, then who waits longest" in page(tablet.get("queue"))
    plan = planned(signed_in(Role.SUPERVISOR))
    said = page(tablet.get("queue"))
    assert "what is begun, then by the plan" in said and "due first" not in said
    cut, now = today_shop.stations["cut"], timezone.now()
    assert [row.serial for row in queue_of(cut, now).now] == [first.serial, second.serial]
    begins = plan.made_at
    plan.steps.filter(operation__shell=first, station=cut).update(starts_at=begins + timedelta(hours=5))
    plan.steps.filter(operation__shell=second, station=cut).update(starts_at=begins)
    assert [row.serial for row in queue_of(cut, now).now] == [second.serial, first.serial]
    (third,) = today_shop.released("K-2", due=timezone.localdate())
    # What is not in the plan yet comes after what is.
    assert [row.serial for row in queue_of(cut, now).now] == [second.serial, first.serial, third.serial]


class TestWhatIf:
    def test_a_worker_away(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        today_shop.stations["edge"].qualifications.exclude(person=today_shop.worker).delete()
        today_shop.released()
        client = signed_in(Role.SUPERVISOR)
        until = timezone.localdate() + timedelta(days=20)
        page = text(
            client, f"/plan/what-if/?person={today_shop.worker.pk}&away_first={timezone.localdate()}&away_last={until}"
        )
        assert "1 of 1 kit moves" in page
        assert "Harrow Lane School" in page
        assert Absence.objects.count() == 0
        hidden = dict(re.findall(r'name="(absences-[a-z]+)" value="([^"]*)"', page))
        assert client.post("/hours/absences/new/", hidden).status_code == 302
        assert Absence.objects.get().person == today_shop.worker
        assert "Nothing moves" in text(
            client, f"/plan/what-if/?person={today_shop.worker.pk}&away_first={timezone.localdate()}&away_last={until}"
        )

    def test_a_press_down_is_entered_with_one_tap(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        today_shop.released()
        client = signed_in(Role.SUPERVISOR)
        day = timezone.localdate()
        page = text(client, f"/plan/what-if/?station=press&down_first={day}&down_last={day + timedelta(days=9)}")
        assert "1 of 1 kit moves" in page
        hidden = dict(re.findall(r'name="(outages-[a-z_]+)" value="([^"]*)"', page))
        assert client.post("/hours/outages/new/", hidden).status_code == 302
        assert Outage.objects.get().station == today_shop.stations["press"]

    def test_nothing_chosen_and_days_the_wrong_way_round(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        client = signed_in(Role.SUPERVISOR)
        assert "Choose who is away" in text(client, "/plan/what-if/?person=&station=&rush=", 422)
        page = text(client, "/plan/what-if/?station=press&down_first=2026-12-02&down_last=2026-12-01", 422)
        assert "lies before the first" in page

    def test_a_rush_order(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        today_shop.released()
        today_shop.order("K-2", due=timezone.localdate() + timedelta(days=90))
        client = signed_in(Role.SUPERVISOR)
        assert "new, on time" in text(client, "/plan/what-if/?rush=K-2")
        assert client.post("/plan/weight/K-2/", {"rush": "1"}).status_code == 302
        assert KitOrder.objects.get(number="K-2").weight == 10
        client.post("/plan/weight/K-2/", {})
        assert KitOrder.objects.get(number="K-2").weight == 1


class TestPromise:
    def form(self, shop: SmallShop, **given: str) -> dict[str, str]:
        return {
            "lines-TOTAL_FORMS": "1",
            "lines-INITIAL_FORMS": "0",
            "lines-MIN_NUM_FORMS": "0",
            "lines-MAX_NUM_FORMS": "40",
            "lines-0-model": str(shop.model.pk),
            "lines-0-finish": str(shop.finish.pk),
            "lines-0-quantity": "2",
            **given,
        }

    def test_a_date_for_drums_that_are_not_saved(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        client = signed_in(Role.OFFICE)
        answer = client.post("/orders/new/", self.form(today_shop, promise="1", customer="Harrow & Co"))
        assert answer.status_code == 200
        page = answer.content.decode()
        day = answer.context["promise"].day
        assert f"all 2 drums are ready on {answer.context['promise'].ready_at.astimezone():%a}" in page
        assert "Harrow &amp; Co" in page
        assert "field-error" not in page
        assert KitOrder.objects.count() == 0
        taken = client.post(
            "/orders/new/", self.form(today_shop, take=day.isoformat(), number="K-7", customer="Harrow & Co", due="")
        )
        assert taken.status_code == 302
        assert KitOrder.objects.get(number="K-7").due == day

    def test_a_due_date_that_is_not_safe(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        form = self.form(today_shop, promise="1", due=timezone.localdate().isoformat())
        assert "is not safe" in signed_in(Role.OFFICE).post("/orders/new/", form).content.decode()

    def test_no_drums_and_nobody_qualified(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        client = signed_in(Role.OFFICE)
        empty = {
            key: value for key, value in self.form(today_shop, promise="1").items() if not key.startswith("lines-0")
        }
        assert client.post("/orders/new/", empty).status_code == 422
        today_shop.stations["edge"].qualifications.all().delete()
        answer = client.post("/orders/new/", self.form(today_shop, promise="1"))
        assert answer.status_code == 422
        assert "No date within" in answer.content.decode()

    def test_a_day_that_is_none(self, today_shop: SmallShop, signed_in: SignedIn) -> None:
        form = self.form(today_shop, take="soon", number="K-7", customer="Harrow")
        assert signed_in(Role.OFFICE).post("/orders/new/", form).status_code == 422
        assert KitOrder.objects.count() == 0
