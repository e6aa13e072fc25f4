"""The floor's work in a real browser: racks, readings, holds, number keys, the camera, taking back, a phone."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, ViewportSize, expect
from pytest_django.live_server_helper import LiveServer

from quality.models import CheckPoint, Defect, Problem, SignOff, Withdrawal
from routing.models import Operation, RoomReading, Shell
from tests.browser.floor import assert_fit_for_the_floor, at
from tests.browser.pages import another_page, press
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)
PHONE: ViewportSize = {"width": 390, "height": 844}


@pytest.fixture
def shop_rows(settings: Any, tmp_path: Path) -> SmallShop:
    settings.MEDIA_ROOT = tmp_path
    made = small_shop()
    station = made.stations["cut"]
    CheckPoint.objects.create(code="sound", station=station, text="Plates free of splits")
    CheckPoint.objects.create(
        code="moisture",
        station=station,
        text="Moisture of one plate",
        kind="measured",
        unit="%",
        nominal=8,
        minus=2,
        plus=2,
        position=2,
    )
    Defect.objects.create(code="C1", name="Plate too wet", found_at="cut")
    return made


def open_step(page: Page, shell: Shell) -> None:
    press(page.get_by_role("link", name=shell.serial))
    expect(page.locator("#sign")).to_be_visible()


def test_a_rack_of_24_in_one_go(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    shop_rows.released("K-1", quantity=20)
    shop_rows.released("K-2", quantity=4)
    at(page, live_server, "cut")
    press(page.get_by_role("link", name="Several at once"))
    assert_fit_for_the_floor(page, tablet["width"])
    page.get_by_role("link", name="Choose all").click()
    expect(page.get_by_role("button", name="Go on with these (24)")).to_be_visible()
    press(page.get_by_role("button", name="Go on with these"))
    assert_fit_for_the_floor(page, tablet["width"])
    page.get_by_role("radio", name="yes, all").check()
    page.locator("input[inputmode=decimal]:visible").fill("8.2")
    press(page.get_by_role("button", name="Sign 24 as Wanda Worker"))
    expect(page.get_by_role("heading", name="24 signed")).to_be_visible()
    assert_fit_for_the_floor(page, tablet["width"])
    assert SignOff.objects.count() == 24
    assert Operation.objects.filter(position=1, state="done").count() == 24


def test_one_shell_of_a_rack_differs(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    good, bad = shop_rows.released("K-1", quantity=2)
    at(page, live_server, "cut")
    press(page.get_by_role("link", name="Several at once"))
    page.get_by_role("link", name="Whole kit, 2 here").click()
    press(page.get_by_role("button", name="Go on with these (2)"))
    page.get_by_role("radio", name="yes, all").check()
    page.locator("input[name^=check-]:visible:not([type=radio])").first.fill("8")
    page.get_by_text("Differs from shell to shell").nth(1).click()
    page.locator(f"input[name$='-{bad.serial}'][inputmode=decimal]").fill("13")
    press(page.get_by_role("button", name="Sign 2 as"))
    expect(page.get_by_role("heading", name="1 signed, 1 not signed")).to_be_visible()
    expect(page.get_by_role("listitem").filter(has_text=bad.serial)).to_contain_text("allowed 6 … 10 %")
    assert list(SignOff.objects.values_list("operation__shell__serial", flat=True)) == [good.serial]


def test_a_reading_out_of_limits_turns_signing_into_holding(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop, tmp_path: Path
) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    open_step(page, shell)
    sign, hold = page.get_by_role("button", name="Sign as"), page.get_by_role("button", name="Hold " + shell.serial)
    page.get_by_role("radio", name="yes", exact=True).check()
    field = page.get_by_label("Moisture of one plate")
    field.fill("8")
    expect(sign).to_be_visible()
    expect(hold).to_be_hidden()
    field.fill("14")
    expect(sign).to_be_hidden()
    expect(hold).to_be_visible()
    assert_fit_for_the_floor(page, tablet["width"])
    page.locator("[data-out-of-limits]").get_by_role("radio", name="Plate too wet").check()
    out = io.BytesIO()
    Image.new("RGB", (3000, 2000), "tan").save(out, "PNG")
    page.locator("#photo-sign").set_input_files(
        {"name": "IMG_1.png", "mimeType": "image/png", "buffer": out.getvalue()}
    )
    expect(page.locator(".photo:has(#photo-sign) .photo-name")).to_contain_text("Photo taken")
    press(hold)
    expect(page.locator("#live")).to_be_visible()
    problem = Problem.objects.get()
    assert problem.text == "Plate too wet; Moisture of one plate: 14 % (allowed 6 … 10 %)"
    assert problem.photos.count() == 1 and not SignOff.objects.exists()
    press(page.get_by_role("link", name=shell.serial))
    picture = page.locator(".problem-photo")
    expect(picture).to_be_visible()
    assert picture.evaluate("image => image.complete && image.naturalWidth") == 1600
    assert_fit_for_the_floor(page, tablet["width"])


def test_the_number_keys_come_for_fingers_and_fill_the_field(
    live_server: LiveServer, browser: Browser, shop_rows: SmallShop
) -> None:
    (shell,) = shop_rows.released()
    context = browser.new_context(viewport=PHONE, has_touch=True)
    page = context.new_page()
    at(page, live_server, "cut")
    open_step(page, shell)
    pad = page.get_by_role("group", name="Number keys")
    expect(pad).to_be_hidden()
    field = page.get_by_label("Moisture of one plate")
    field.tap()
    expect(pad).to_be_visible()
    for name in ("8", "Decimal point", "9", "Delete", "4"):
        pad.get_by_role("button", name=name, exact=True).tap()
    expect(field).to_have_value("8.4")
    assert field.get_attribute("inputmode") == "none"
    top = pad.bounding_box()
    box = field.bounding_box()
    assert top is not None and box is not None and box["y"] + box["height"] <= top["y"], "the keys cover the field"
    for key in pad.get_by_role("button").all():
        size = key.bounding_box()
        assert size is not None and min(size["width"], size["height"]) >= 64
    pad.get_by_role("button", name="Close the keys").tap()
    expect(pad).to_be_hidden()
    page.get_by_role("radio", name="yes", exact=True).check()
    with another_page(page):
        page.get_by_role("button", name="Sign as").tap()
    expect(page.locator("#live")).to_be_visible()
    assert SignOff.objects.get().readings.get(check_point__code="moisture").value == 8.4
    context.close()


def test_a_mouse_gets_no_number_keys(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    open_step(page, shell)
    page.get_by_label("Moisture of one plate").click()
    expect(page.get_by_role("group", name="Number keys")).to_be_hidden()


# A camera that sees one code after a moment: the browser here has neither camera nor reader.
CAMERA = """
window.BarcodeDetector = class { async detect() { return [{ rawValue: "%s" }]; } };
navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
"""


def test_the_camera_opens_the_shell_it_sees(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    _, second = shop_rows.released(quantity=2)
    page.add_init_script(CAMERA % second.serial)
    at(page, live_server, "cut")
    with another_page(page):
        page.get_by_role("button", name="Camera", exact=True).click()
    expect(page.locator(".step-head")).to_contain_text(second.serial)


def test_without_a_reader_of_codes_there_is_no_camera_button(
    live_server: LiveServer, page: Page, shop_rows: SmallShop
) -> None:
    page.add_init_script("delete window.BarcodeDetector")
    at(page, live_server, "cut")
    expect(page.get_by_role("button", name="Camera", exact=True)).to_have_count(0)


def test_a_wrong_tap_is_taken_back(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    open_step(page, shell)
    page.get_by_role("radio", name="yes", exact=True).check()
    page.get_by_label("Moisture of one plate").fill("8")
    press(page.get_by_role("button", name="Sign as"))
    press(page.get_by_role("button", name="Take it back"))
    expect(page.locator("#sign")).to_be_visible()
    assert Withdrawal.objects.count() == 1
    assert shop_rows.step(shell, 1).state == "ready"


def test_begin_pause_go_on_and_finish(live_server: LiveServer, page: Page, shop_rows: SmallShop) -> None:
    station = shop_rows.stations["cut"]
    station.counts_touch_time = True
    station.save()
    (shell,) = shop_rows.released()
    at(page, live_server, "cut")
    open_step(page, shell)
    press(page.get_by_role("button", name="Begin", exact=True))
    expect(page.get_by_text("Wanda Worker works on it since")).to_be_visible()
    press(page.get_by_role("button", name="Pause"))
    press(page.get_by_role("button", name="I go on"))
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.get_by_role("radio", name="yes", exact=True).check()
    page.get_by_label("Moisture of one plate").fill("8")
    press(page.get_by_role("button", name="Finish and sign as Wanda Worker"))
    expect(page.locator("#live")).to_be_visible()
    kinds = list(shell.records.order_by("sequence").values_list("kind", flat=True))
    assert kinds == ["released", "started", "paused", "started", "signed"]


def test_the_room_is_read_and_shown(
    live_server: LiveServer, page: Page, tablet: dict[str, int], shop_rows: SmallShop
) -> None:
    at(page, live_server, "finish")
    press(page.get_by_role("link", name="Read the room's air"))
    assert_fit_for_the_floor(page, tablet["width"])
    page.get_by_label("Temperature").fill("21,5")
    page.get_by_label("Relative humidity").fill("48")
    press(page.get_by_role("button", name="Enter"))
    expect(page.get_by_role("link", name="The room: 21.5 °C, 48 %")).to_be_visible()
    assert RoomReading.objects.get().person_name == "Wanda Worker"


def test_a_phone_shows_the_whole_way(live_server: LiveServer, browser: Browser, shop_rows: SmallShop) -> None:
    (shell,) = shop_rows.released()
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    at(page, live_server, "cut")
    assert_fit_for_the_floor(page, PHONE["width"])
    open_step(page, shell)
    assert_fit_for_the_floor(page, PHONE["width"])
    context.close()
