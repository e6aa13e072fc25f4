"""Of which days the signatures are wanted."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils import timezone

USUAL_DAYS = 31


class DaysForm(forms.Form):
    first = forms.DateField(
        label="From",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as year-month-day, for example 2026-12-18."},
    )
    last = forms.DateField(
        label="To",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Enter a day as year-month-day, for example 2026-12-18."},
    )

    @classmethod
    def read(cls, given: dict[str, Any]) -> DaysForm:
        """The days that are asked for; where none is, the last month."""
        today = timezone.localdate()
        usual = {"first": (today - timedelta(days=USUAL_DAYS - 1)).isoformat(), "last": today.isoformat()}
        return cls(usual | {name: given[name] for name in usual if name in given})

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        first, last = found.get("first"), found.get("last")
        if isinstance(first, date) and isinstance(last, date) and last < first:
            self.add_error("last", "The last day lies before the first; change one of the two.")
        return found
