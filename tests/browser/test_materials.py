"""Lots and glue at the tablet in a real browser: a scanned code signs nothing, gloves hit, glue shows its clock."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import GlueBatch, LotKind, MaterialUse, SignOff
from tests.browser.conftest import LYING, enrol
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import press
from tests.quality.test_glue_batches import at_press
from tests.quality.test_materials import lot
from tests.small_shop import PIN, SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shop_rows() -> SmallShop:
    return small_shop()


def test_a_scanned_code_goes_into_its_field_and_signs_nothing(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    lot(shop_rows), lot(shop_rows, "P-2")
    at(page, live_server, "cut")
    press(page.get_by_role("link", name=shell.serial))
    assert_fit_for_the_floor(page, tablet["width"])
    choice = page.get_by_label("Lot of Birch 3.0 if you keep it")
    choice.select_option("P-1")
    code = page.get_by_label("Lot of Birch 3.0: scan or type a code")
    code.click()
    page.keyboard.type("p-2")
    page.keyboard.press("Enter")  # as every scanner does
    expect(code).to_have_value("p-2")
    expect(choice).to_be_disabled()
    expect(page.get_by_role("button", name="Sign as Wanda Worker")).to_be_visible()
    assert not SignOff.objects.exists()
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text("is signed by Wanda Worker")
    assert [use.lot and use.lot.code for use in MaterialUse.objects.all()] == ["P-2"]


def test_a_scan_before_the_scripts_listen_signs_nothing_either(
    live_server: LiveServer, browser: Browser, shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    lot(shop_rows)
    context = browser.new_context(java_script_enabled=False, viewport=LYING)
    page = context.new_page()
    enrol(context, live_server.url)
    page.goto(f"{live_server.url}/floor/cut/")
    press(page.get_by_role("link", name="Wanda Worker"))
    page.get_by_label("Your PIN").fill(PIN)
    press(page.get_by_role("button", name="Sign in"))
    press(page.get_by_role("link", name=shell.serial))
    code = page.get_by_label("Lot of Birch 3.0: scan or type a code")
    code.fill("P-1")
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.url))
    code.press("Enter")
    expect(code).to_have_value("P-1")
    assert not sent
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text("is signed by Wanda Worker")
    context.close()


def test_glue_is_weighed_mixed_and_signed_with(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    first, second = at_press(shop_rows, 2)
    lot(shop_rows, "RES-1", LotKind.GLUE, "powder")
    at(page, live_server, "press")
    press(page.get_by_role("link", name="Mix glue"))
    assert_fit_for_the_floor(page, tablet["width"])
    for shell in (first, second):
        page.get_by_role("checkbox", name=shell.serial).check()
    press(page.get_by_role("button", name="Show what to weigh"))
    expect(page.get_by_role("heading", name="Weigh for 2 shells")).to_be_visible()
    assert_fit_for_the_floor(page, tablet["width"])
    page.get_by_label("Lot of powder if you keep it").select_option("RES-1")
    press(page.get_by_role("button", name="Mixed now"))
    batch = GlueBatch.objects.get()
    expect(page.locator(".glue-line")).to_contain_text(f"{batch.code}: 3 h 0 min left")
    assert_fit_for_the_floor(page, tablet["width"])
    press(page.get_by_role("link", name=first.serial))
    expect(page.get_by_label("Glue batch", exact=True)).to_have_value(batch.code)
    press(page.get_by_role("button", name="Sign as Wanda Worker"))
    expect(page.locator(".message.success")).to_contain_text("is signed by Wanda Worker")
    assert MaterialUse.objects.get().glue_batch == batch
