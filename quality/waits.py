"""How long somebody has to wait, in words."""

from __future__ import annotations

from datetime import datetime
from math import ceil

from django.utils.translation import gettext as _


def wait_in_words(until: datetime, now: datetime) -> str:
    """“30 seconds”, “15 minutes”, “3 hours”; rounded up, so that nobody comes back too early."""
    seconds = ceil((until - now).total_seconds())
    if seconds < 120:
        return _("{count} seconds").format(count=seconds)
    minutes = ceil(seconds / 60)
    if minutes < 120:
        return _("{count} minutes").format(count=minutes)
    return _("{count} hours").format(count=ceil(minutes / 60))
