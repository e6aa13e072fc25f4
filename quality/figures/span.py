"""Some days, and perhaps one line of drums: what every figure is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from routing.models import ProductLine


@dataclass(frozen=True, slots=True)
class Span:
    """Days by the shop's clock, both counted in; ``line`` None is every line."""

    first: date
    last: date
    line: ProductLine | None = None

    @property
    def begins(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.first, time.min))

    @property
    def ends(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.last + timedelta(days=1), time.min))

    def within(self, moment: str, shell: str = "") -> Q:
        """A filter for rows whose ``moment`` lies in these days; ``shell`` is the way to the shell, for the line."""
        limits = Q(**{f"{moment}__gte": self.begins, f"{moment}__lt": self.ends})
        if self.line is not None:
            limits &= Q(**{f"{shell}model__line": self.line})
        return limits
