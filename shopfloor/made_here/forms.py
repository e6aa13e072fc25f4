"""How a sub-assembly is made, and how many pieces are begun."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms import BaseInlineFormSet, inlineformset_factory
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from quality.models import LotRoute, LotRouteStep
from shopfloor.worded_forms import WordedForm

STEP_FIELDS = ("position", "title", "station", "check_text", "dwell_h")


class LotRouteForm(WordedForm[LotRoute]):
    class Meta:
        model = LotRoute
        fields = ("name", "code", "kind", "unit")
        labels = {"name": _("Name"), "code": _("Code"), "kind": _("Kind"), "unit": _("Unit")}
        help_texts = {
            "code": _("Begins the code of each lot: small letters, digits and dashes."),
            "unit": _("What is counted: pieces, sets, pairs."),
        }

    def __init__(self, *args: Any, current: LotRoute | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.current = current
        if current is not None:
            self.fields["code"].disabled = True

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"])
        if self.current is None and LotRoute.objects.filter(code=code).exists():
            raise forms.ValidationError(gettext("There is a route with this code already; choose another."))
        return code


class LotSteps(BaseInlineFormSet[LotRouteStep, LotRoute, forms.ModelForm[LotRouteStep]]):
    def get_unique_error_message(self, unique_check: Any) -> str:
        return gettext("Two steps share a place; number them in the order of work.")

    def clean(self) -> None:
        super().clean()
        if not any(self.errors) and not self.kept():
            raise forms.ValidationError(gettext("A route needs at least one step."))

    def kept(self) -> list[LotRouteStep]:
        """The steps as entered, unsaved, for a new revision."""
        return [
            LotRouteStep(**{name: form.cleaned_data[name] for name in STEP_FIELDS})
            for form in self.forms
            if form.cleaned_data and not form.cleaned_data.get("DELETE")
        ]


class LotStepForm(forms.ModelForm[LotRouteStep]):
    class Meta:
        model = LotRouteStep
        fields = STEP_FIELDS
        labels = {
            "position": _("Position"),
            "title": _("Title"),
            "station": _("Station"),
            "check_text": _("Check text"),
            "dwell_h": _("Wait after, h"),
        }


LotStepFormSet: type[LotSteps] = inlineformset_factory(  # type: ignore[assignment]
    LotRoute, LotRouteStep, form=LotStepForm, formset=LotSteps, extra=3, can_delete=True, max_num=12
)


class BeginForm(forms.Form):
    route = forms.ModelChoiceField(LotRoute.objects.filter(is_current=True), label=_("What"), empty_label=None)
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=100_000)
