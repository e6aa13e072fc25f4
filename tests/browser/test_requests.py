"""A missing part from the call to the post, in a real browser."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import CustomerRequest, Defect
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def packed() -> SmallShop:
    """One snare in a closed carton."""
    shop = small_shop()
    shop.clock = timezone.now() - timedelta(days=40)
    (shell,) = shop.released()
    sign_through(shop, shell, 8)
    shop.close_cartons()
    Defect.objects.create(code="D78", name="part missing in the carton", caused_at="pack")
    return shop


def test_a_missing_part_from_the_call_to_the_post(
    live_server: LiveServer, page: Page, packed: SmallShop, tablet: dict[str, int]
) -> None:
    serial = packed.model.shells.get().serial
    sign_in(page, live_server, packed.supervisor.username)
    page.goto(f"{live_server.url}/requests/")
    page.get_by_label("A customer calls: the serial number").fill(serial.lower())
    press(page.get_by_role("button", name="Open", exact=True))
    expect(page.get_by_text("Final check by Chris Checker")).to_be_visible()
    expect(page.get_by_text("checked by Chris Checker").first).to_be_visible()
    page.get_by_label("What it is about").select_option("missing")
    page.get_by_label("What the customer says").fill("two rods are not there")
    page.get_by_label("Ship to").fill("Mill Road 3, Harrow")
    page.get_by_label("Send of tension rod").first.fill("2")
    assert_readable(page, tablet["width"])
    press(page.get_by_role("button", name="Take the request"))
    expect(page.get_by_text("two rods are not there").first).to_be_visible()
    expect(page.get_by_text("carton 1 of 1, closed by Wanda Worker").first).to_be_visible()
    assert_readable(page, tablet["width"])

    press(page.get_by_role("button", name="The parts are picked"))
    press(page.get_by_role("button", name="It is sent"))  # without the cause it stays open
    expect(page.locator(".field-error").first).to_be_visible()
    page.get_by_label("Why it happened").select_option(str(Defect.objects.get(code="D78").pk))
    page.get_by_label("Where it came from").select_option("pack")
    press(page.get_by_role("button", name="It is sent"))
    expect(page.get_by_text("Nothing waits for an answer")).to_be_visible()
    request = CustomerRequest.objects.get()
    assert (request.state, request.caused_at) == ("sent", packed.stations["pack"])
    page.goto(f"{live_server.url}/figures/findings/?by=found")
    expect(page.get_by_text("the customer").first).to_be_visible()
