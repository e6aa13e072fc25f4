"""Receiving a lot, and what its list can be narrowed to."""

from __future__ import annotations

from django import forms

from quality.models import LotKind, LotState
from routing.models import GluePart, Plate, WrapSheet
from shopfloor.day_range import DayField


class LotForm(forms.Form):
    """``receive_lot`` decides whether the code is free, so that a form that is sent twice is no error."""

    kind = forms.ChoiceField(choices=LotKind.choices)
    code = forms.CharField(
        max_length=40,
        help_text="As on its label; this is what is scanned.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    name = forms.CharField(
        max_length=80,
        help_text="Plates, wraps and glue parts best by the name in the recipe book: a lot that is named like another "
        "plate or wrap is refused at the step.",
        widget=forms.TextInput(attrs={"list": "recipe-names", "autocomplete": "off"}),
    )
    received_on = DayField(label="Received", required=True)
    expires_on = DayField(label="Last day of use", required=False, help_text="Empty: it does not expire.")
    note = forms.CharField(max_length=200, required=False)


class LotFilter(forms.Form):
    kind = forms.ChoiceField(choices=[("", "every kind"), *LotKind.choices], required=False)
    state = forms.ChoiceField(choices=[("", "every state"), *LotState.choices], required=False)


def recipe_names() -> list[str]:
    """Names that a lot may have in the recipe book."""
    names: set[str] = set()
    for rows in (Plate.objects.filter(is_active=True), WrapSheet.objects.filter(is_active=True)):
        names.update(rows.values_list("name", flat=True))
    names.update(GluePart.objects.values_list("name", flat=True))
    return sorted(names)
