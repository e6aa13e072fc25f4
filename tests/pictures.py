"""The pictures of the README and of the guide, taken anew: ``.venv/bin/python -m tests.pictures``.

They show a demo shop with work in it, which is made for them and thrown away. ``python -m tests.pictures guide`` takes those
of the guide only, an address at the end another demo shop that runs there. The browser that looks at it becomes a tablet of
that shop for this once, and revokes itself at the end.
"""

from __future__ import annotations

import io
import re
import sys
from contextlib import nullcontext
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests import guide_pictures
from tests.busy_demo import busy_shop
from tests.demo_browser import GRETA, chromium, press, sign_in, sign_in_at

FOLDER = Path(__file__).parents[1] / "docs" / "pictures"
SIZE = (1280, 800)
LARGEST = 200_000  # bytes; a README is read on a telephone, too
STATIONS = ("edge", "drill", "press", "finish", "assemble")  # whose page is shown: the first that has work
PATIENCE_S = 120
TRAVELER_SCALE = 1.5  # a leaf is read at this size, and no more


def main(*asked: str) -> None:
    addresses = [word for word in asked if word.startswith("http")]
    with nullcontext(addresses[0]) if addresses else busy_shop() as address, sync_playwright() as playwright:
        browser = chromium(playwright)
        page = browser.new_page(
            base_url=address,
            bypass_csp=True,
            viewport={"width": SIZE[0], "height": SIZE[1]},
            timezone_id="Europe/Berlin",
            locale="en-GB",
        )
        page.set_default_timeout(PATIENCE_S * 1000)
        sign_in(page, GRETA)
        page.goto("/tablets/")
        press(page, "form.tablet-here button")
        guide_pictures.take(page)
        if "guide" not in asked:
            page.set_viewport_size({"width": SIZE[0], "height": SIZE[1]})
            of_the_readme(page)
        page.goto("/tablets/")
        press(page, 'tr:has-text("this browser") form[action$="/revoke/"] button')
        browser.close()


def of_the_readme(page: Page) -> None:
    for name, path in (("board", "/board/kits/"), ("plan", "/plan/picture/"), ("trace", a_packed_drum(page))):
        page.goto(path)
        keep(name, page.screenshot())
    tablet(page)


def a_packed_drum(page: Page) -> str:
    """The story of a drum of the first order that is being packed."""
    page.goto("/cartons/")
    press(page, "main table td a")
    return page.locator("main a.serial").first.get_attribute("href") or ""


def made(page: Page, address: str) -> bytes:
    """A paper, as soon as it is made: until then the address answers with a page that waits."""
    for _ in range(PATIENCE_S):
        answer = page.request.get(address)
        if answer.headers["content-type"] == "application/pdf":
            return answer.body()
        page.wait_for_timeout(1000)
    sys.exit(f"{address} was not made within {PATIENCE_S} s.")


def tablet(page: Page) -> None:
    """A step page as the worker sees it, and the traveler of that shell."""
    code = next(code for code in STATIONS if has_work(page, code))
    sign_in_at(page, code, GRETA)
    press(page, 'section[aria-labelledby="now-title"] a.floor-row')
    keep("tablet", page.screenshot())
    serial = page.locator(".step-head .serial").inner_text()
    leaf = (
        pypdfium2.PdfDocument(made(page, f"/travelers/shell/{serial}/preview/"))[0]
        .render(scale=TRAVELER_SCALE)
        .to_pil()
    )
    picture = io.BytesIO()
    leaf.save(picture, "PNG")
    keep("traveler", picture.getvalue())


def has_work(page: Page, code: str) -> bool:
    """The queue says so before anybody signs in."""
    waiting = page.request.get(f"/floor/{code}/sign-in/").text()
    found = re.search(r"(\d+)</strong> shells? to work now", waiting)
    return found is not None and int(found[1]) > 0


def keep(name: str, picture: bytes) -> None:
    """With few colours, as the pages have few, and small because of it."""
    shown = Image.open(io.BytesIO(picture)).convert("RGB")
    path = FOLDER / f"{name}.png"
    shown.quantize(64, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.name}: {shown.width} × {shown.height}, {size // 1000} kB")
    if size > LARGEST:
        sys.exit(f"{path.name} is larger than {LARGEST // 1000} kB.")


if __name__ == "__main__":
    main(*sys.argv[1:])
