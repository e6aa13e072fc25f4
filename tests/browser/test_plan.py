"""A date promised on the phone, and a worker moved away, in a real browser."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from routing.models import Absence, KitOrder
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def busy() -> SmallShop:
    """A kit in the house; only one person works at the edge station."""
    shop = small_shop()
    shop.clock = timezone.now()
    shop.stations["edge"].qualifications.exclude(person=shop.worker).delete()
    shop.released(quantity=3, due=timezone.localdate() + timedelta(days=60))
    return shop


def test_a_date_is_promised_and_taken(
    live_server: LiveServer, page: Page, busy: SmallShop, tablet: dict[str, int]
) -> None:
    sign_in(page, live_server, busy.supervisor.username)
    page.goto(f"{live_server.url}/orders/new/")
    page.locator("[name=number]").fill("K-2")
    page.locator("[name=customer]").fill("Mossbank Music")
    page.locator("[name=lines-0-model]").select_option(str(busy.model.pk))
    page.locator("[name=lines-0-finish]").select_option(str(busy.finish.pk))
    page.locator("[name=lines-0-quantity]").fill("2")
    press(page.get_by_role("button", name="What can we promise?"))
    answer = page.get_by_role("status").filter(has_text="behind everything that is in the house")
    expect(answer).to_contain_text("all 2 drums are ready on")
    expect(page.locator("[name=customer]")).to_have_value("Mossbank Music")
    assert_readable(page, tablet["width"])
    assert KitOrder.objects.count() == 1
    button = page.get_by_role("button", name="Save with due date")
    day = button.get_attribute("value")
    press(button)
    expect(page.get_by_text("Order K-2 is saved as a draft.")).to_be_visible()
    assert KitOrder.objects.get(number="K-2").due.isoformat() == day


def test_a_worker_moved_away_shows_what_moves(
    live_server: LiveServer, page: Page, busy: SmallShop, tablet: dict[str, int]
) -> None:
    sign_in(page, live_server, busy.supervisor.username)
    page.goto(f"{live_server.url}/plan/what-if/")
    page.get_by_label("Away", exact=False).first.select_option(label=busy.worker.name)
    page.locator("[name=away_first]").fill(timezone.localdate().isoformat())
    page.locator("[name=away_last]").fill((timezone.localdate() + timedelta(days=20)).isoformat())
    press(page.get_by_role("button", name="See what moves"))
    expect(page.get_by_role("heading", name="1 of 1 kit moves")).to_be_visible()
    expect(page.get_by_role("row").filter(has_text="K-1")).to_contain_text("Harrow Lane School")
    assert_readable(page, tablet["width"])
    assert not Absence.objects.exists()
    press(page.get_by_role("button", name=f"Enter it: {busy.worker.name} is away"))
    expect(page.get_by_text("saved.")).to_be_visible()
    assert Absence.objects.get().person == busy.worker
