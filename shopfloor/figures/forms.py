"""Which days and which line a figure is asked for, and what findings are counted by."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quality.figures import Span
from quality.figures.findings import By
from routing.models import ProductLine
from shopfloor.day_range import DayRangeForm

USUAL_DAYS = 30
LONGEST_DAYS = 3660


class SpanForm(DayRangeForm):
    line = forms.ModelChoiceField(
        ProductLine.objects.order_by("name"),
        label=gettext_lazy("Line"),
        required=False,
        empty_label=gettext_lazy("every line"),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        last = said.get("last") or self.today
        first = said.get("first") or last - timedelta(days=USUAL_DAYS - 1)
        if last < first:  # of days that were left out
            self.add_error("first", _("This day has not come yet; choose one until today."))
        elif (last - first).days > LONGEST_DAYS:
            self.add_error("first", _("Ask for ten years at most."))
        return said | {"span": Span(first, last, said.get("line"))}

    @property
    def span(self) -> Span:
        """Of a valid form; of another the usual days."""
        if self.is_valid():
            span: Span = self.cleaned_data["span"]
            return span
        return Span(self.today - timedelta(days=USUAL_DAYS - 1), self.today)


def by_of(words: str) -> By:
    """What findings are counted by; anything else means by defect."""
    return By(words) if words in set(By) else By.DEFECT


def shortcuts(today: date) -> list[tuple[str, date]]:
    """Spans of one tap, each until today: the name and the first day."""
    return [
        (_("this week"), today - timedelta(days=today.weekday())),
        (_("30 days"), today - timedelta(days=29)),
        (_("90 days"), today - timedelta(days=89)),
        (_("a year"), today - timedelta(days=364)),
    ]
