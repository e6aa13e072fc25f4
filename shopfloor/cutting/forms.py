"""What a cutting plan is asked for."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from typing import Any

from django import forms

from routing.cutting_jobs import PlanRequest
from shopfloor.day_range import DayField

KERF_MM, SECONDS, MOST_SECONDS = 3.2, 5, 120


def quick_days(today: date) -> list[tuple[str, date | None]]:
    """What to choose with one tap. A week ends on Sunday (ISO 8601); what is late is always part of it."""
    sunday = today + timedelta(days=7 - today.isoweekday())
    return [
        ("due today and late", today),
        ("due this week", sunday),
        ("due next week", sunday + timedelta(days=7)),
        ("everything", None),
    ]


class PlanForm(forms.Form):
    due_by = DayField(
        label="Due by",
        required=False,
        help_text="What is late is always included. Empty: whenever it is due.",
        error_messages={"invalid": "Enter a day as year-month-day, for example 2026-12-18, or leave it empty."},
    )
    kerf_mm = forms.FloatField(
        label="Saw kerf, mm",
        min_value=0,
        max_value=10,
        help_text="Width of the cut, 0 to 10 mm.",
        widget=forms.NumberInput(attrs={"step": "0.1", "inputmode": "decimal"}),
    )
    seconds = forms.FloatField(
        label="Seconds for each kind of sheet",
        min_value=1,
        max_value=MOST_SECONDS,
        help_text=f"1 to {MOST_SECONDS}. A longer search can save a sheet.",
        widget=forms.NumberInput(attrs={"step": "1", "inputmode": "numeric"}),
    )
    order = forms.MultipleChoiceField(
        label="Only these orders",
        required=False,
        error_messages={"invalid_choice": "Order %(value)s has nothing left to cut. Choose among the orders below."},
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
        if later:
            self.add_error(
                "due_by",
                f"{', '.join(later)} {'is' if len(later) == 1 else 'are'} due later than {day}. Choose a later day, "
                "or leave the order out.",
            )
        return cleaned

    def asked(self) -> PlanRequest:
        day = self.cleaned_data["due_by"]
        return PlanRequest(
            orders=tuple(sorted(self.cleaned_data["order"])),
            due_by=day.isoformat() if day else "",
            kerf_mm=self.cleaned_data["kerf_mm"],
            seconds=self.cleaned_data["seconds"],
        )
