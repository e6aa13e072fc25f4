"""What a cutting plan is asked for."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from routing.cutting_jobs import PlanRequest
from routing.languages import day as written
from shopfloor.day_range import DayField

KERF_MM, SECONDS, MOST_SECONDS = 3.2, 5, 120


def quick_days(today: date) -> list[tuple[str, date | None]]:
    """What to choose with one tap. A week ends on Sunday (ISO 8601); what is late is always part of it."""
    sunday = today + timedelta(days=7 - today.isoweekday())
    return [
        (_("due today and late"), today),
        (_("due this week"), sunday),
        (_("due next week"), sunday + timedelta(days=7)),
        (_("everything"), None),
    ]


class PlanForm(forms.Form):
    due_by = DayField(
        label=gettext_lazy("Due by"),
        required=False,
        help_text=gettext_lazy("What is late is always included. Empty: whenever it is due."),
        error_messages={
            "invalid": gettext_lazy("Enter a day as year-month-day, for example 2026-12-18, or leave it empty.")
        },
    )
    kerf_mm = forms.FloatField(
        label=gettext_lazy("Saw kerf, mm"),
        min_value=0,
        max_value=10,
        help_text=gettext_lazy("Width of the cut, 0 to 10 mm."),
        widget=forms.NumberInput(attrs={"step": "0.1", "inputmode": "decimal"}),
    )
    seconds = forms.FloatField(
        label=gettext_lazy("Seconds for each kind of sheet"),
        min_value=1,
        max_value=MOST_SECONDS,
        help_text=format_lazy(gettext_lazy("1 to {most}. A longer search can save a sheet."), most=MOST_SECONDS),
        widget=forms.NumberInput(attrs={"step": "1", "inputmode": "numeric"}),
    )
    order = forms.MultipleChoiceField(
        label=gettext_lazy("Only these orders"),
        required=False,
        error_messages={
            "invalid_choice": gettext_lazy("Order %(value)s has nothing left to cut. Choose among the orders below.")
        },
    )

    def __init__(self, *args: Any, orders: Collection[tuple[str, date]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.due_of = dict(orders)
        field = self.fields["order"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(number, number) for number in self.due_of]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        day = cleaned.get("due_by")
        later = [number for number in cleaned.get("order", ()) if day is not None and self.due_of[number] > day]
        if day is not None and later:
            refused = ngettext(
                "{orders} is due later than {day}. Choose a later day, or leave the order out.",
                "{orders} are due later than {day}. Choose a later day, or leave the order out.",
                len(later),
            )
            self.add_error("due_by", refused.format(orders=", ".join(later), day=written(day)))
        return cleaned

    def asked(self) -> PlanRequest:
        day = self.cleaned_data["due_by"]
        return PlanRequest(
            orders=tuple(sorted(self.cleaned_data["order"])),
            due_by=day.isoformat() if day else "",
            kerf_mm=self.cleaned_data["kerf_mm"],
            seconds=self.cleaned_data["seconds"],
        )
