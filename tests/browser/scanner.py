"""A hand scanner, as a page sees it."""

from __future__ import annotations

from playwright.sync_api import Page


def scan(page: Page, code: str) -> None:
    """All keys in one go and Enter behind them; sent one by one from here, each would take its own way through a busy machine."""
    page.evaluate(
        """keys => { for (const key of keys)
            document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true })) }""",
        [*code, "Enter"],
    )
