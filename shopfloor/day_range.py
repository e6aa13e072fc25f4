"""From one day to another, both counted in: the two fields that a list of any kind is asked by."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

_NOT_A_DAY = {"invalid": "Enter a day as year-month-day, for example 2026-12-18."}


def _day(label: str) -> forms.DateField:
    as_browsers_write = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=as_browsers_write, error_messages=_NOT_A_DAY)


class DayRangeForm(forms.Form):
    """Either day may be left out; what that means is said by who asks."""

    first = _day("From")
    last = _day("To")

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        first, last = said.get("first"), said.get("last")
        if isinstance(first, date) and isinstance(last, date) and last < first:
            self.add_error("last", "The last day lies before the first; change one of the two.")
        return said
