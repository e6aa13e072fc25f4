"""How long somebody has to wait, in words."""

from __future__ import annotations

from datetime import datetime
from math import ceil


def wait_in_words(until: datetime, now: datetime) -> str:
    """“30 seconds”, “15 minutes”, “3 hours”; rounded up, so that nobody comes back too early."""
    seconds = ceil((until - now).total_seconds())
    if seconds < 120:
        return f"{seconds} seconds"
    minutes = ceil(seconds / 60)
    return f"{minutes} minutes" if minutes < 120 else f"{ceil(minutes / 60)} hours"
