"""Bags at a tablet in a real browser: filled, weighed wrong, counted; large enough for gloves."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import Bag
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import press
from tests.quality.test_kitting import with_bags
from tests.small_shop import small_shop

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_bag_is_filled_refused_and_then_counted(live_server: LiveServer, page: Page, tablet: dict[str, int]) -> None:
    shell = with_bags(small_shop())
    at(page, live_server, "assemble")
    page.goto(f"{live_server.url}/floor/assemble/shell/{shell.serial}/bags/")
    assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("button", name="Filled by this list, as Wanda Worker").first)
    page.get_by_label("Weight").fill("323")
    press(page.get_by_role("button", name="Weighed, as Wanda Worker"))
    expect(page.locator(".message.error")).to_contain_text("Something is missing")
    assert_fit_for_the_floor(page, tablet["width"])
    page.locator("summary", has_text="Count it instead").click()
    page.get_by_label("tension rod").first.fill("20")
    press(page.get_by_role("button", name="Counted, as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text("counted by Wanda Worker")
    assert Bag.objects.get().counts == [20]
