"""The cutting plan on screen: what is asked for, and what came out."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.models import Role
from quality.stock import receive_parts
from routing.cutting_jobs import result_of
from routing.models import CuttingJob
from routing.specs.cutting_plan import BlankOrder, StockSheet
from shopfloor.cutting import background
from shopfloor.cutting.forms import quick_days
from shopfloor.cutting.pages import offcut_rows
from tests.shopfloor import cutting_plans
from tests.shopfloor.cutting_plans import NUMBERS, PLAN, running_job, text
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db
begun, ask = cutting_plans.begun, cutting_plans.ask  # fixtures


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
