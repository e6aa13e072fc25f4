"""The floor as something to put on a tablet's home screen: the manifest and its icons."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from PIL import Image

from shopfloor.tablet_app import ICONS, colour
from tests.shopfloor.tablets import Tablet, make_tablet, page
from tests.small_shop import SmallShop

STATIC = Path(__file__).parents[2] / "static"


def test_the_manifest_opens_the_floor_full_screen_in_the_shops_name(client: Client, shop: SmallShop) -> None:
    answer = client.get("/manifest.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    said = json.loads(answer.content)
    assert said["name"] == "Small Shop: floor"
    assert (said["display"], said["start_url"], said["id"]) == ("fullscreen", "/floor/", "/floor/")
    assert said["theme_color"] == colour("sheet") == "#fcf8ef"
    for icon, (path, sizes, purpose) in zip(said["icons"], ICONS, strict=True):
        assert icon["src"].startswith(settings.STATIC_URL) and path.rpartition(".")[0] in icon["src"]
        assert (icon["sizes"], icon["purpose"]) == (sizes, purpose)


def test_every_page_of_the_floor_names_it_and_the_policy_allows_it(client: Client, shop: SmallShop) -> None:
    make_tablet(client)
    answer = client.get("/floor/cut/sign-in/")
    assert '<link rel="manifest" href="/manifest.webmanifest">' in answer.content.decode()
    assert "manifest-src 'self'" in answer["Content-Security-Policy"]
    assert 'rel="manifest"' not in client.get("/sign-in/").content.decode(), "only the floor is put on tablets"


def test_two_fingers_zoom_and_a_second_tap_does_not(client: Client, shop: SmallShop) -> None:
    """WCAG 2.2, 1.4.4: text can be made larger."""
    make_tablet(client)
    page = client.get("/floor/cut/sign-in/").content.decode()
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in page
    assert "touch-action: manipulation" in (STATIC / "css" / "floor.css").read_text()


@pytest.mark.parametrize(("path", "sizes"), [(path, sizes) for path, sizes, _ in ICONS])
def test_an_icon_has_the_size_that_the_manifest_says(path: str, sizes: str) -> None:
    with Image.open(STATIC / path) as icon:
        assert f"{icon.width}x{icon.height}" == sizes


def test_nothing_that_matters_is_cut_off_a_maskable_icon() -> None:
    """Web app manifest, icon masks: a circle of four fifths of the width is always seen."""
    with Image.open(STATIC / ICONS[2][0]) as picture:
        icon = picture.convert("RGB")
    ground, middle = icon.getpixel((0, 0)), icon.width / 2
    ink = [(x, y) for x in range(0, icon.width, 4) for y in range(0, icon.height, 4) if icon.getpixel((x, y)) != ground]
    assert len(ink) > 500, "there is a ring"
    assert max(((x - middle) ** 2 + (y - middle) ** 2) ** 0.5 for x, y in ink) <= 0.4 * icon.width


def test_the_screen_stays_on_while_a_step_is_worked_on(client: Client, shop: SmallShop) -> None:
    (shell,) = shop.released()
    tablet = Tablet("cut")
    tablet.sign_in(shop.worker)
    assert "data-awake" in page(tablet.get("step", shell.serial)), "one tap signs here: open is in work"
    shop.stations["cut"].counts_touch_time = True
    shop.stations["cut"].save()
    assert "data-awake" not in page(tablet.get("step", shell.serial)), "not begun yet"
    tablet.tap("start", shell)
    assert "data-awake" in page(tablet.get("step", shell.serial))
    tablet.tap("pause", shell)
    assert "data-awake" not in page(tablet.get("step", shell.serial)), "paused"
    assert "data-awake" not in page(tablet.get("queue"))
