"""Cartons in a real browser: one that is short of a bag stays open, and closes when the bag is checked."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.actions import print_card
from quality.kitting import count_bag, fill_bag
from quality.models import Carton
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def packed() -> SmallShop:
    """One snare, packed, its card printed and its bag filled; nobody checked the bag."""
    shop = small_shop()
    shop.clock = timezone.now() - timedelta(days=40)
    (shell,) = shop.released()
    sign_through(shop, shell, 8)
    print_card(serial=shell.serial, person=shop.checker, stamp=shop.stamp(shop.checker))
    fill_bag(serial=shell.serial, name="rods", person=shop.worker, stamp=shop.stamp(shop.worker))
    return shop


def test_a_carton_closes_when_its_bag_is_checked(
    live_server: LiveServer, page: Page, packed: SmallShop, tablet: dict[str, int]
) -> None:
    sign_in(page, live_server, packed.supervisor.username)
    page.goto(f"{live_server.url}/orders/order/K-1/")
    press(page.get_by_role("link", name="0 of 1 closed"))
    page.get_by_label("Weight of the closed carton").fill("2.4")
    press(page.get_by_role("button", name="Close carton 1"))
    refusal = page.get_by_role("alert")
    expect(refusal).to_contain_text("can't be closed yet")
    expect(refusal).to_contain_text("is filled, but nobody checked it")
    assert_readable(page, tablet["width"])
    assert not Carton.objects.exists()

    serial = packed.model.shells.get().serial
    count_bag(serial=serial, name="rods", counts=[20], person=packed.checker, stamp=packed.stamp(packed.checker))
    press(page.get_by_role("button", name="Close carton 1"))
    expect(page.get_by_text("Carton 1 of 1 is closed by Sam Supervisor.")).to_be_visible()
    expect(page.get_by_text("1 of 1 closed", exact=True)).to_be_visible()
    assert_readable(page, tablet["width"])
    assert Carton.objects.get().weighed_g == 2400

    page.goto(f"{live_server.url}/orders/order/K-1/")
    press(page.get_by_role("button", name="Mark as shipped"))
    expect(page.get_by_text("Order K-1 is marked as shipped.")).to_be_visible()
