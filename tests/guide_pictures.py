"""The pictures of the guide, taken by ``python -m tests.pictures`` from the program as it runs.

Before each one is taken, names of people and customers give way to letters: the guide hangs on walls. Beside them,
``static/guide/pictures.json`` keeps what each shows: headings and buttons that stand in a template, and a digest of the templates and sheets it
is made from. ``python -m tests.guide_pictures`` says which of those changed since; then look, and take them anew.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Page

from shopfloor.demo.people import PEOPLE
from tests.demo_browser import GRETA, press, sign_in_at

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "static" / "guide"
BESIDE = FOLDER / "pictures.json"
LARGEST = 60_000  # bytes
COLOURS = 48
MARGIN_PX = 12
UPRIGHT, DESK = {"width": 800, "height": 640}, {"width": 1024, "height": 800}
LETTERS = """(names) => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT)
    for (let node = walk.nextNode(); node; node = walk.nextNode())
        for (const [name, letter] of names) node.data = node.data.replaceAll(name, letter)
    for (const field of document.querySelectorAll("option, input:not([type=hidden])"))
        for (const [name, letter] of names) if (field.value === name) field.value = letter
    for (const part of document.querySelectorAll(".demo-strip, .messages")) part.remove()
}"""
WORDS = """([wanted, box]) => [...document.querySelectorAll(wanted)].filter((part) => {
    const at = part.getBoundingClientRect()
    return at.width > 0 && at.top + scrollY < box.y + box.height && at.bottom + scrollY > box.y
}).map((part) => part.innerText.trim().replace(/\\s+/g, " ")).filter(Boolean)"""
NAMED = "main h1, main h2, main button, main .button, main summary, main th, main label, main .choice span"
SHEETS = "() => [...document.querySelectorAll('link[rel=stylesheet]')].map((link) => new URL(link.href).pathname)"


@dataclass(frozen=True, slots=True)
class Shot:
    """One picture: how to get there, what of the page it shows, and the templates that make it."""

    name: str
    go: Callable[[Page], None]
    around: Sequence[str]  # the first of each of these is on it
    templates: Sequence[str]
    most_px: int = 520
    size: dict[str, int] | None = None


def station(code: str) -> Callable[[Page], None]:
    """The queue of a station at which the supervisor is signed in."""

    def go(page: Page) -> None:
        sign_in_at(page, code, GRETA)

    return go


def step_at(code: str) -> Callable[[Page], None]:
    """The first step that can be worked at a station."""

    def go(page: Page) -> None:
        station(code)(page)
        press(page, 'section[aria-labelledby="now-title"] a.floor-row')

    return go


def address(path: str) -> Callable[[Page], None]:
    def go(page: Page) -> None:
        page.goto(path)

    return go


def held_drum(page: Page) -> None:
    page.goto("/orders/?state=in_production")
    for order in page.locator("main table a").evaluate_all("all => all.map((a) => a.getAttribute('href'))"):
        page.goto(order)
        held = page.locator("tr:has(.chip-on_hold) a.serial")
        if held.count():
            press(page, "tr:has(.chip-on_hold) a.serial")
            return
    sys.exit("No drum is on hold in this shop.")


def an_order(page: Page) -> None:
    page.goto("/orders/?state=in_production")
    page.goto(page.locator("main table a").nth(1).get_attribute("href") or "")


def a_plan(page: Page) -> None:
    page.goto("/plan/")
    page.fill("[name=seconds]", "0")
    press(page, "form.sheet button[type=submit]")
    page.wait_for_timeout(3000)
    page.goto("/plan/")
    page.locator(".plan-figures").wait_for()


def a_person(page: Page) -> None:
    page.goto("/people/")
    press(page, f'main a:has-text("{PEOPLE[0].name}")')


FLOOR = ("floor_base.html",)
STEP = (*FLOOR, "floor/step.html", "floor/_check.html")
SHOTS = (
    Shot("worker-who", address("/floor/cut/sign-in/"), ("main h1", ".people-grid"), (*FLOOR, "floor/sign_in.html")),
    Shot(
        "worker-queue", station("cut"), ("#now-title", ".floor-list"), (*FLOOR, "floor/queue.html", "floor/_row.html")
    ),
    Shot("worker-step", step_at("edge"), (".step-head", ".step-see .numbers"), STEP, 600),
    Shot("worker-sign", step_at("edge"), (".floor-checks", ".step-sign .floor-actions"), STEP),
    Shot("checker-step", step_at("final-check"), (".step-head", ".step-see .numbers"), STEP, 560),
    Shot("checker-checks", step_at("final-check"), (".floor-checks",), STEP, 480),
    Shot("checker-sign", step_at("final-check"), (".check-row:has(#pin)", ".step-sign .floor-actions"), STEP, 420),
    Shot(
        "supervisor-board", address("/board/"), (".page-head", "#live"), ("base.html", "board/stations.html"), 600, DESK
    ),
    Shot(
        "supervisor-decide",
        held_drum,
        (".hold-box",),
        ("base.html", "trace/shell.html", "trace/_decisions.html"),
        560,
        DESK,
    ),
    Shot(
        "supervisor-plan",
        a_plan,
        (".plan-figures", "main section .table-wrap"),
        ("base.html", "plan/home.html"),
        420,
        DESK,
    ),
    Shot("supervisor-people", a_person, (".qualifications",), ("base.html", "people/person.html"), 460, DESK),
    Shot(
        "office-orders", address("/orders/"), (".page-head", "main table"), ("base.html", "orders/list.html"), 480, DESK
    ),
    Shot("office-order", an_order, (".page-head", "main table"), ("base.html", "orders/order.html"), 600, DESK),
    Shot(
        "office-request",
        address("/requests/"),
        (".page-head", "main .table-wrap"),
        ("base.html", "requests/list.html"),
        640,
        DESK,
    ),
)


def take(page: Page) -> None:
    """All of them, in a browser in which the supervisor is signed in and which is a tablet."""
    beside: dict[str, Any] = {}
    program = templates()
    for shot in SHOTS:
        page.set_viewport_size(shot.size or UPRIGHT)  # type: ignore[arg-type]
        shot.go(page)
        page.evaluate(LETTERS, letters(page))
        # The bar with the button stands at the end of the form here, not over what is above it.
        page.add_style_tag(
            content=".step-sign .floor-actions { position: static !important } * { animation: none !important }"
        )
        box = around(page, shot)
        keep(shot.name, page.screenshot(clip=box, full_page=True))  # type: ignore[arg-type]
        beside[shot.name] = {
            "words": [word for word in dict.fromkeys(page.evaluate(WORDS, [NAMED, box])) if word in program],
            "templates": list(shot.templates),
            "sheets": sorted(re.sub(r"\.[0-9a-f]{12}(?=\.css$)", "", path) for path in page.evaluate(SHEETS)),
        }
        beside[shot.name]["digest"] = digest(beside[shot.name])
    BESIDE.write_text(json.dumps(beside, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def letters(page: Page) -> list[tuple[str, str]]:
    """What stands for each person and each customer."""
    people = sorted({person.name for person in PEOPLE})
    book = (ROOT / "shopfloor" / "demo" / "order_book.csv").read_text(encoding="utf-8").splitlines()[1:]
    customers = sorted({line.split(",")[1] for line in book})
    found = [(name, f"Person {chr(65 + n % 26)}") for n, name in enumerate(people)]
    found += [(name, f"Customer {chr(65 + n % 26)}") for n, name in enumerate(customers)]
    return sorted(found, key=lambda pair: -len(pair[0]))


def around(page: Page, shot: Shot) -> dict[str, float]:
    """The part of the page that has all of it, as far down as is wanted."""
    boxes = [page.locator(target).first.bounding_box() for target in shot.around]
    missing = [target for target, box in zip(shot.around, boxes, strict=True) if box is None]
    if missing:
        sys.exit(f"{shot.name}: there is no {missing[0]} at {page.url}.")
    scrolled = page.evaluate("scrollY")
    there = [box for box in boxes if box]
    left = max(0, min(box["x"] for box in there) - MARGIN_PX)
    top = max(0, min(box["y"] for box in there) + scrolled - MARGIN_PX)
    right = max(box["x"] + box["width"] for box in there) + MARGIN_PX
    bottom = max(box["y"] + box["height"] for box in there) + scrolled + MARGIN_PX
    across = (shot.size or UPRIGHT)["width"]
    return {"x": left, "y": top, "width": min(right, across) - left, "height": min(bottom - top, shot.most_px)}


def keep(name: str, picture: bytes) -> None:
    shown = Image.open(io.BytesIO(picture)).convert("RGB")
    path = FOLDER / f"{name}.png"
    shown.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.name}: {shown.width} × {shown.height}, {size // 1000} kB")
    if size > LARGEST:
        sys.exit(f"{path.name} is larger than {LARGEST // 1000} kB.")


def templates() -> str:
    """The words of the program's screens, those of the guide itself left out."""
    paths = sorted((ROOT / "templates").rglob("*.html"))
    return "".join(path.read_text(encoding="utf-8") for path in paths if path.parent.name != "guide")


def digest(entry: dict[str, Any]) -> str:
    """Of the templates and sheets that a picture is made from, as they are now."""
    said = hashlib.sha256()
    for path in [f"templates/{name}" for name in entry["templates"]] + [path.lstrip("/") for path in entry["sheets"]]:
        said.update((ROOT / path).read_bytes() if (ROOT / path).exists() else b"gone")
    return said.hexdigest()[:16]


def perhaps_old() -> list[str]:
    """Pictures whose templates or sheets changed since they were taken."""
    beside = json.loads(BESIDE.read_text(encoding="utf-8"))
    return [name for name, entry in beside.items() if digest(entry) != entry["digest"]]


if __name__ == "__main__":
    old = perhaps_old()
    print(
        f"Templates or sheets of these pictures changed since they were taken: {', '.join(old)}.\nLook at them, or take them "
        "anew: python -m tests.pictures"
        if old
        else "Every picture of the guide is as its templates and sheets are."
    )
