"""Receiving a lot, and what its list can be narrowed to."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from quality.models import LotKind, LotState
from routing.models import GluePart, Plate, WrapSheet
from shopfloor.day_range import DayField
from shopfloor.worded_forms import worded


class LotForm(forms.Form):
    """``receive_lot`` decides whether the code is free, so that a form that is sent twice is no error."""

    kind = forms.ChoiceField(label=_("Kind"), choices=worded(LotKind))
    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_("As on its label; this is what is scanned."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    name = forms.CharField(
        label=_("Name"),
        max_length=80,
        help_text=_(
            "Plates, wraps and glue parts best by the name in the recipe book: a lot that is named like another "
            "plate or wrap is refused at the step."
        ),
        widget=forms.TextInput(attrs={"list": "recipe-names", "autocomplete": "off"}),
    )
    received_on = DayField(label=_("Received"), required=True)
    expires_on = DayField(label=_("Last day of use"), required=False, help_text=_("Empty: it does not expire."))
    note = forms.CharField(label=_("Note"), max_length=200, required=False)


class LotFilter(forms.Form):
    kind = forms.ChoiceField(choices=[("", _("every kind")), *worded(LotKind)], required=False)
    state = forms.ChoiceField(choices=[("", _("every state")), *worded(LotState)], required=False)


def recipe_names() -> list[str]:
    """Names that a lot may have in the recipe book."""
    names: set[str] = set()
    for rows in (Plate.objects.filter(is_active=True), WrapSheet.objects.filter(is_active=True)):
        names.update(rows.values_list("name", flat=True))
    names.update(GluePart.objects.values_list("name", flat=True))
    return sorted(names)
