"""From the touch to the painted answer on a slow tablet, and what a station screen weighs, in a real browser."""

from __future__ import annotations

import shutil
import statistics
import sys
from collections.abc import Iterator
from typing import Any

from tests.bench.figure import Figure, Options, run

NAME = "tablet"
DATABASES = ("sqlite",)
SLOWER, LINK_MS = 4, 20
SHELLS = 40  # in the queue of the station that is weighed
TAPS = 15
WARM = 3  # taps that are not counted

# In every page: when a finger was lifted, and when the first answer to it stood on the screen (a frame after it was drawn);
# then when the page that follows stood there. Kept apart from the page, which the answer may lead away from.
WATCH = """
const keep = (name) => {
  const since = Number(sessionStorage.getItem("touched"));
  sessionStorage.setItem(name, performance.timeOrigin + performance.now() - since);
};
addEventListener("click", event => sessionStorage.setItem("touched", performance.timeOrigin + event.timeStamp), true);
const look = () => {
  const waits = sessionStorage.getItem("touched") && !sessionStorage.getItem("followed");
  const queue = document.querySelector("#live");
  if (!waits || !document.querySelector(".message.success")) return requestAnimationFrame(look);
  requestAnimationFrame(() => {
    if (!sessionStorage.getItem("answered")) keep("answered");
    if (queue) keep("followed");
    else look();
  });
};
requestAnimationFrame(look);
"""


def measure(options: Options) -> Iterator[Figure]:
    from django.core.management import call_command
    from playwright.sync_api import sync_playwright

    from tests.bench.tap_shop import make_tap_shop
    from tests.bench.taps import server

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    taps = max(5, round(TAPS * options.scale))
    shop = make_tap_shop(max(SHELLS, taps + WARM), 1)
    with server() as port, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_chromium(), args=["--no-sandbox", "--disable-gpu"])
        where = f"http://127.0.0.1:{port}"
        waits, queues = zip(*list(_taps(browser, where, shop, taps + WARM))[WARM:], strict=True)
        yield Figure(
            f"touch to painted answer, processor {SLOWER} times slower, link of {LINK_MS} ms",
            100,
            statistics.median(waits),
            "ms",
            note=f"the middle of {len(waits)} taps, the slowest {max(waits):.0f} ms; "
            f"the queue stands there after {statistics.median(queues):.0f} ms",
        )
        busy, idle = shop.stations[0].code, shop.stations[-1].code
        cold, _ = _weigh(browser, where, shop, busy)
        yield Figure(
            "station screen, cold",
            40,
            cold / 1000,
            "kB",
            note=f"{len(shop.shells) - taps - WARM} shells in it, files and headers included",
        )
        _, warm = _weigh(browser, where, shop, idle)
        yield Figure(
            "station screen, warm, without its queue",
            5,
            warm / 1000,
            "kB",
            note="a station with nothing in it, headers included",
        )
        browser.close()


def _chromium() -> str:
    from tests.browser.conftest import BROWSERS

    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    assert found, "The bench needs Chromium."
    return found


def _context(browser: Any, where: str, shop: Any, station: str) -> Any:
    """A browser that is the tablet, with a worker signed in at ``station``; without the script that keeps pages for a lost
    link, whose requests the browser would not slow."""
    from django.http import HttpResponse

    from shopfloor.tablet_station import KEY_COOKIE, keep_key
    from tests.small_shop import PIN

    answer = HttpResponse()
    keep_key(answer, shop.keys[shop.tablets[0].pk])
    key = answer.cookies[KEY_COOKIE].value
    context = browser.new_context(viewport={"width": 800, "height": 1280}, service_workers="block")
    context.add_cookies([{"name": KEY_COOKIE, "value": key, "url": where}])
    page = context.new_page()
    page.goto(f"{where}/floor/{station}/")
    page.get_by_role("link", name=shop.people[0].name).first.click()
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="Sign in").click()
    page.locator("#live").wait_for()
    page.close()
    return context


def _slow(page: Any) -> Any:
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": LINK_MS, "downloadThroughput": -1, "uploadThroughput": -1},
    )
    return session


def _taps(browser: Any, where: str, shop: Any, taps: int) -> Iterator[tuple[float, float]]:
    """The first step of one shell after the other, with its three readings typed in before the clock runs: milliseconds
    until it was said that it is signed, and until the queue stood there again."""
    from tests.bench.tap_shop import good_answers
    from tests.browser.pages import until

    station, answers = shop.stations[0].code, good_answers(shop.stations, shop.shells[0])[shop.stations[0].pk]
    context = _context(browser, where, shop, station)
    context.add_init_script(WATCH)
    page = context.new_page()
    _slow(page)
    for shell in shop.shells[:taps]:
        page.goto(f"{where}/floor/{station}/shell/{shell.serial}/")
        page.evaluate("sessionStorage.clear()")
        for point, answer in answers.items():
            page.locator(f"[name=check-{point}]").fill(answer)
        page.get_by_role("button", name="Sign as").click()
        page.locator("#live").wait_for()
        # The pages let no script be made from text, so nothing else can be waited for.
        until(
            page,
            lambda: page.evaluate("sessionStorage.getItem('followed')") is not None,
            f"no page said that {shell.serial} is signed and showed the queue: does it still say so with .message.success?",
        )
        answered, followed = (page.evaluate(f"sessionStorage.getItem('{name}')") for name in ("answered", "followed"))
        yield float(answered), float(followed)
    context.close()


def _weigh(browser: Any, where: str, shop: Any, station: str) -> tuple[int, int]:
    """Bytes of the first visit and of the second, everything that travels."""
    context = _context(browser, where, shop, station)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.clearBrowserCache")  # signing in has filled it
    came: list[int] = []
    session.on("Network.loadingFinished", lambda event: came.append(int(event["encodedDataLength"])))
    totals = []
    for _ in range(2):
        came.clear()
        page.goto(f"{where}/floor/{station}/", wait_until="load")
        page.wait_for_load_state("networkidle")
        totals.append(sum(came))
    context.close()
    return totals[0], totals[1]


if __name__ == "__main__":
    sys.exit(run(measure))
