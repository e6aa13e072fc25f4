"""The record in a real browser: figures, seals, who may sign where, and a sub-assembly from the office to the shelf."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import sign_off
from quality.models import CheckPoint, LotState, MaterialLot
from quality.seal import seal_days
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.quality.test_made_here import route
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def worked() -> SmallShop:
    """Thirty drums measured at the cut, the last two too thick to be chance."""
    shop = small_shop()
    shop.clock = timezone.now() - timedelta(days=3)
    point = CheckPoint.objects.create(
        code="thick",
        station=shop.stations["cut"],
        text="Thickness",
        kind="measured",
        unit="mm",
        nominal=3,
        minus=1,
        plus=1,
    )
    for n, shell in enumerate(shop.released(quantity=30)):
        shop.wait(minutes=20)
        value = 3.6 if n > 27 else 3.0 + 0.02 * (n % 5 - 2)
        sign_off(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            answers={str(point.pk): f"{value:.3f}"},
            stamp=shop.stamp(shop.worker),
        )
    seal_days(now=timezone.now())
    return shop


def test_a_chart_marks_what_is_no_chance(
    live_server: LiveServer, page: Page, worked: SmallShop, tablet: dict[str, int]
) -> None:
    sign_in(page, live_server, worked.supervisor.username)
    press(page.get_by_role("navigation", name="Main").get_by_role("link", name="Figures"))
    expect(page.get_by_role("heading", name="First pass yield by station")).to_be_visible()
    assert_readable(page, tablet["width"])
    press(page.get_by_role("link", name="Thickness"))
    expect(page.get_by_text("beyond a limit").first).to_be_visible()
    expect(page.get_by_role("img", name="Control chart: Thickness")).to_be_visible()
    expect(page.get_by_text("30 readings", exact=False).first).to_be_visible()
    assert_readable(page, tablet["width"])
    press(page.get_by_role("link", name="Findings"))
    expect(page.get_by_text("Nothing was found in these days.")).to_be_visible()
    assert_readable(page, tablet["width"])


def test_seals_and_the_matrix(live_server: LiveServer, page: Page, worked: SmallShop, tablet: dict[str, int]) -> None:
    sign_in(page, live_server, worked.supervisor.username)
    page.goto(f"{live_server.url}/trace/seals/")
    press(page.get_by_role("button", name="Compute them again"))
    expect(page.get_by_text("agree with the records")).to_be_visible()
    assert_readable(page, tablet["width"])
    page.goto(f"{live_server.url}/people/matrix/")
    expect(page.get_by_text("At every station two or more people may sign.")).to_be_visible()
    assert_readable(page, tablet["width"])


def test_a_lot_made_here_from_the_office_to_the_shelf(
    live_server: LiveServer, page: Page, worked: SmallShop, tablet: dict[str, int]
) -> None:
    by = route(worked, "panels", "Panel", "other")
    by.steps.filter(position=1).update(dwell_h=0)
    by.steps.filter(position=3).update(station=worked.stations["cut"])
    sign_in(page, live_server, worked.supervisor.username)
    page.goto(f"{live_server.url}/made-here/")
    assert_readable(page, tablet["width"])
    page.get_by_label("How many").fill("8")
    press(page.get_by_role("button", name="Begin"))
    expect(page.get_by_text("is begun")).to_be_visible()
    at(page, live_server, "cut")
    press(page.get_by_role("link", name="Sub-assemblies: 1 waiting"))
    for title in ("Saw", "Joint", "Count"):
        expect(page.get_by_role("heading", name=title)).to_be_visible()
        page.get_by_label("Good pieces").fill("8")
        checked = page.get_by_label("Checked:")
        if checked.count():
            checked.check()
        assert_fit_for_the_floor(page, tablet["width"])
        press(page.get_by_role("button", name=f"Sign as {worked.worker.name}"))
        expect(page.get_by_text(f"“{title}”")).to_be_visible()
    expect(page.get_by_text("It is in stock now.")).to_be_visible()
    assert MaterialLot.objects.get(name="Panel").state == LotState.RECEIVED
