"""Pictures of every page and every paper of a shop that runs, side by side: ``.venv/bin/python -m tests.every_page FOLDER
http://127.0.0.1:8000``.

It follows the links of a demo shop with some work in it, one or two addresses of each kind, at a desk and at a tablet, and
takes each page lying and upright. What breaks a rule of WCAG 2.2 AA, or scrolls sideways, is said on the way. The browser
becomes a tablet of that shop for this once, and revokes itself at the end.
"""

from __future__ import annotations

import io
import os
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pypdfium2
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageDraw
from playwright.sync_api import Page, ViewportSize, sync_playwright

from shopfloor.demo.people import PEOPLE
from tests.demo_browser import GRETA, choose_name, chromium, give_pin, press, sign_in
from tests.pictures import made

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
SIZES: dict[str, ViewportSize] = {
    "lying": {"width": 1280, "height": 800},
    "upright": {"width": 800, "height": 1280},
}
OF_EACH = 2  # addresses of one kind that are looked at
TALLEST = 2600  # of a picture
ACROSS, THUMB = 4, 480
DESKS = (next(person for person in PEOPLE if person.username == "ada"), GRETA)  # administrator and supervisor
STATIONS = ("cut", "press", "edge", "drill", "finish", "assemble", "final-check", "pack")
NOT_FOLLOWED = ("/floor/", "/s/", "/static/", "/health/", "/api/v")


def main(folder: str, address: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
    import django

    django.setup()
    to = Path(folder)
    to.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = chromium(playwright)
        page = browser.new_page(base_url=address, timezone_id="Europe/Berlin")
        page.set_default_timeout(60_000)
        papers: dict[str, str] = {}
        seen: Counter[str] = Counter()
        follow(page, to, ["/", "/glossary/", "/sign-in/", "/nowhere/"], seen, papers, deep=False)
        for who in DESKS:
            page.context.clear_cookies()
            sign_in(page, who)
            follow(page, to, ["/board/", "/sign-in/password/", "/board/wall/"], seen, papers)
        print_papers(page, to, papers)
        tablet(page, to, seen)
        browser.close()
    for size in (*SIZES, "paper"):
        contact_sheets(to, size)


def kind_of(path: str) -> str:
    """The name of an address, ``trace:shell``; empty for one that is not there."""
    from django.urls import Resolver404, resolve

    try:
        return resolve(path).view_name
    except Resolver404:
        return ""


def links(page: Page) -> list[str]:
    every = page.eval_on_selector_all("a[href]", "all => all.map(a => a.href)")
    return [urlsplit(link).path for link in every if urlsplit(link).netloc == urlsplit(page.url).netloc]


def follow(
    page: Page, to: Path, first: Iterable[str], seen: Counter[str], papers: dict[str, str], *, deep: bool = True
) -> None:
    """Look at pages, and at those that they lead to."""
    waiting, known = list(first), set(first)
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path) or path.strip("/").replace("/", "-")
        if seen[kind] >= OF_EACH:
            continue
        answer = page.request.get(path, max_redirects=0)
        is_html = "text/html" in answer.headers.get("content-type", "")
        if answer.headers.get("content-type") == "application/pdf" or (path.endswith(".pdf") and answer.status < 400):
            papers.setdefault(kind, path)
        if not is_html or answer.status in (301, 302, 403):
            continue
        seen[kind] += 1
        look(page, to, path, f"{kind.replace(':', '-')}-{seen[kind]}")
        for link in links(page) if deep else ():
            if link not in known and not link.startswith(NOT_FOLLOWED):
                known.add(link)
                waiting.append(link)


def look(page: Page, to: Path, path: str, name: str) -> None:
    page.goto(path)
    page.wait_for_load_state("networkidle")
    for size, viewport in SIZES.items():
        page.set_viewport_size(viewport)
        page.screenshot(path=to / f"{size}-{name}.png", full_page=True)
        broken = [
            f"{each['id']} ×{len(each['nodes'])}" for each in Axe().run(page, options=RULES).response["violations"]
        ]
        if page.evaluate("document.documentElement.scrollWidth") > viewport["width"]:
            broken.append("scrolls sideways")
        if broken:
            print(f"{path} {size}: {', '.join(broken)}")


def tablet(page: Page, to: Path, seen: Counter[str]) -> None:
    """The pages of the floor, at some stations."""
    page.goto("/tablets/")
    press(page, "form.tablet-here button")
    look(page, to, "/floor/", "floor-stations")
    for code in STATIONS:
        look(page, to, f"/floor/{code}/sign-in/", f"floor-sign_in-{code}")
        choose_name(page, code, GRETA)
        look(page, to, urlsplit(page.url).path, f"floor-pin-{code}")
        give_pin(page, GRETA)
        for path in dict.fromkeys([urlsplit(page.url).path, *floor_links(page, code)]):
            kind = f"{kind_of(path).replace(':', '-')}-{code}"
            seen[kind] += 1
            if seen[kind] <= OF_EACH and page.request.get(path, max_redirects=0).status == 200:
                look(page, to, path, f"{kind}-{seen[kind]}")
    page.goto("/tablets/")
    press(page, 'tr:has-text("this browser") form[action$="/revoke/"] button')


def floor_links(page: Page, code: str) -> Iterator[str]:
    yield from [link for link in links(page) if link.startswith(f"/floor/{code}/") and not link.endswith("sign-in/")]


def print_papers(page: Page, to: Path, papers: dict[str, str]) -> None:
    """Each leaf of every paper as a picture."""
    for kind, path in papers.items():
        for number, leaf in enumerate(pypdfium2.PdfDocument(made(page, path)), start=1):
            leaf.render(scale=1.6).to_pil().save(to / f"paper-{kind.replace(':', '-')}-{number}.png")


def contact_sheets(to: Path, size: str, rows: int = 3) -> None:
    """Many pictures beside one another, each with its name, on a few sheets."""
    pictures = sorted(path for path in to.glob(f"{size}-*.png"))
    each = ACROSS * rows
    for number in range(0, len(pictures), each):
        some = pictures[number : number + each]
        thumbs = [shrunk(path) for path in some]
        tall = [max(thumb.height for thumb in thumbs[n : n + ACROSS]) + 24 for n in range(0, len(thumbs), ACROSS)]
        sheet = Image.new("RGB", (ACROSS * (THUMB + 8), sum(tall)), "#777777")
        for n, (path, thumb) in enumerate(zip(some, thumbs, strict=True)):
            x, y = (n % ACROSS) * (THUMB + 8), sum(tall[: n // ACROSS])
            ImageDraw.Draw(sheet).text((x + 4, y + 4), path.stem, fill="white")
            sheet.paste(thumb, (x, y + 20))
        sheet.save(to / f"sheet-{size}-{number // each + 1:02d}.png")


def shrunk(path: Path) -> Image.Image:
    with Image.open(io.BytesIO(path.read_bytes())) as opened:
        picture = opened.convert("RGB").crop((0, 0, opened.width, min(opened.height, TALLEST)))
    return picture.resize((THUMB, round(picture.height * THUMB / picture.width)), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    main(*sys.argv[1:3])
