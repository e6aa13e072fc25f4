"""Of which days the signatures are wanted."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone

from shopfloor.day_range import DayRangeForm

USUAL_DAYS = 31


class DaysForm(DayRangeForm):
    @classmethod
    def read(cls, given: dict[str, Any]) -> DaysForm:
        """The days that are asked for; where none is, the last month."""
        today = timezone.localdate()
        usual = {"first": (today - timedelta(days=USUAL_DAYS - 1)).isoformat(), "last": today.isoformat()}
        return cls({name: given.get(name) or day for name, day in usual.items()})
