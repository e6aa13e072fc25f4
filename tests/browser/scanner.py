"""A hand scanner, as a page sees it."""

from __future__ import annotations

from playwright.sync_api import Page


def scan(page: Page, code: str) -> None:
    """All keys in one go and Enter behind them, each with the time at which a scanner would have sent it.

    Sent one by one from here, each would take its own way through a busy machine; stamped by the page, a pause of the
    machine in the middle would look like a slow hand. A scanner comes when the page listens, which is after it has loaded.
    """
    page.wait_for_load_state()
    page.evaluate(
        """keys => {
            const begun = performance.now()
            keys.forEach((key, place) => {
                const event = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true })
                Object.defineProperty(event, "timeStamp", { value: begun + 4 * place })
                document.body.dispatchEvent(event)
            })
        }""",
        [*code, "Enter"],
    )
