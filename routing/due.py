"""What a finish means against the day a kit is due; every screen that says late or at risk asks here.

Late: it is finished after the hours of the day on which it is due. At risk: in time, but with less than one working day to
spare, so that one shell sprayed again or one person away makes it late.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from routing.shop_hours import ShopHours

_WORDS = {
    "late": gettext_noop("late"),
    "at_risk": gettext_noop("at risk"),
    "unknown": gettext_noop("not planned"),
    "on_time": gettext_noop("on time"),
}


class Standing(StrEnum):
    """From the most pressing to the least."""

    LATE = "late"
    AT_RISK = "at_risk"
    UNKNOWN = "unknown"  # its day has not passed and nobody planned it
    ON_TIME = "on_time"

    @property
    def words(self) -> str:
        return _(_WORDS[self.value])

    @property
    def urgency(self) -> int:
        """The more pressing, the lower."""
        return list(Standing).index(self)


def at_risk_after(due_at: datetime, hours: ShopHours) -> datetime:
    """Finished later than this, less than a working day is left: the end of the working day before."""
    return hours.closes(due_at.astimezone(hours.zone).date() - timedelta(days=1))


def standing(finish: datetime, due: date, hours: ShopHours) -> Standing:
    """How something stands that is finished at ``finish`` and due on ``due``."""
    due_at = hours.closes(due)
    if finish > due_at:
        return Standing.LATE
    return Standing.AT_RISK if finish > at_risk_after(due_at, hours) else Standing.ON_TIME
