"""A bad lot in a real browser: held with its drums, released with one sentence, found again from the trace."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from routing.models import Shell, ShellState
from tests.browser.pages import press
from tests.browser.test_office import assert_readable, sign_in
from tests.quality.test_materials import lot, sign
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rows() -> SmallShop:
    return small_shop()


def test_a_lot_is_held_with_its_drums_and_they_are_released(
    live_server: LiveServer, page: Page, tablet: dict[str, int], rows: SmallShop
) -> None:
    bad = lot(rows)
    gone, here = rows.released(quantity=2)
    for shell in (gone, here):
        sign(rows, shell, plate_birch_3_0="P-1")
    Shell.objects.filter(pk=gone.pk).update(state=ShellState.PACKED)
    sign_in(page, live_server, "sam-supervisor")
    page.goto(f"{live_server.url}/materials/lots/{bad.pk}/")
    page.get_by_label("From now on").select_option("held")
    page.get_by_label("Why").fill("delaminates at the seam")
    press(page.get_by_role("button", name="Mark it"))
    expect(page.get_by_text("1 drum has left the shop already")).to_be_visible()
    expect(page.locator("tbody tr").first).to_contain_text(gone.serial)
    assert_readable(page, tablet["width"])
    page.get_by_label("Why are all of them good?").fill("pulled apart, good")
    press(page.get_by_role("button", name="Release the shells"))
    expect(page.get_by_role("status")).to_contain_text(f"{here.serial} released from hold")
    page.goto(f"{live_server.url}/trace/")
    press(page.get_by_role("link", name="Which drums"))
    assert_readable(page, tablet["width"])
    page.get_by_label("Lot of material").fill("P-1")
    press(page.get_by_role("button", name="Show the drums"))
    expect(page.get_by_role("heading", name="2 drums: lot of material P-1")).to_be_visible()
    assert_readable(page, tablet["width"])
    with page.expect_download() as file:
        page.get_by_role("link", name="Spreadsheet").click()
    assert file.value.suggested_filename == "drums.xlsx"
    page.goto(f"{live_server.url}/materials/lots/{bad.pk}/")
    assert_readable(page, tablet["width"])
