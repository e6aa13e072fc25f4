"""A day, and from one day to another, both counted in: the fields that a list of any kind is asked by."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

FIRST, LAST = date(1900, 1, 1), date(2199, 12, 31)
# What is typed wrong in a year would lie at an end of the calendar, where no day before or after can be counted.
IN_THESE_CENTURIES = [
    MinValueValidator(FIRST, gettext_lazy("Choose a day from 1900 on; look at the year.")),
    MaxValueValidator(LAST, gettext_lazy("Choose a day before 2200; look at the year.")),
]
_NOT_A_DAY = {"invalid": gettext_lazy("Enter a day as year-month-day, for example 2026-12-18.")}


class DayField(forms.DateField):
    """A day as browsers ask for one."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))  # as browsers write it
        kwargs.setdefault("error_messages", _NOT_A_DAY)
        super().__init__(validators=IN_THESE_CENTURIES, **kwargs)


class DayRangeForm(forms.Form):
    """Either day may be left out; what that means is said by who asks."""

    first = DayField(label=gettext_lazy("From"), required=False)
    last = DayField(label=gettext_lazy("To"), required=False)

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        first, last = said.get("first"), said.get("last")
        if isinstance(first, date) and isinstance(last, date) and last < first:
            self.add_error("last", _("The last day lies before the first; change one of the two."))
        return said
