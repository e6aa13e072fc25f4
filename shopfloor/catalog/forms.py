"""Forms for recipes, made from the models themselves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms import BaseInlineFormSet, inlineformset_factory, modelform_factory

from quality.models import CheckPoint
from routing.models import RouteStep, RouteTemplate
from shopfloor.catalog.recipes import Recipe, Rows


class LongTextForm(forms.ModelForm[Any]):
    """Sentences get room to be read while they are written."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("caution", "note"):
            if name in self.fields:
                self.fields[name].widget = forms.Textarea(attrs={"rows": 3})


def recipe_form(recipe: Recipe) -> type[forms.ModelForm[Any]]:
    return modelform_factory(recipe.model, form=LongTextForm, exclude=recipe.exclude)


def rows_formset(recipe: Recipe, rows: Rows) -> type[BaseInlineFormSet[Any, Any, Any]]:
    return inlineformset_factory(
        recipe.model, rows.model, fields=rows.fields, extra=rows.extra, can_delete=True, max_num=60
    )


class RouteForm(forms.ModelForm[RouteTemplate]):
    """The reason for a new revision of a route."""

    class Meta:
        model = RouteTemplate
        fields = ("note",)
        labels = {"note": "what changed"}


class Steps(BaseInlineFormSet[RouteStep, RouteTemplate, forms.ModelForm[RouteStep]]):
    def clean(self) -> None:
        super().clean()
        if any(self.errors):
            return
        kept = [form.cleaned_data for form in self.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")]
        if not kept:
            raise forms.ValidationError("A route needs at least one step.")
        positions = [step["position"] for step in kept]
        if len(set(positions)) != len(positions):
            raise forms.ValidationError("Two steps share a place; number them in the order of work.")

    def kept_steps(self) -> list[RouteStep]:
        """The steps as entered, unsaved and without their old ids, for a new revision."""
        return [
            RouteStep(**{name: form.cleaned_data[name] for name in STEP_FIELDS})
            for form in self.forms
            if form.cleaned_data and not form.cleaned_data.get("DELETE")
        ]


STEP_FIELDS = ("position", "station", "repeat", "dwell_kind", "dwell_h")
StepFormSet: type[Steps] = inlineformset_factory(  # type: ignore[assignment]
    RouteTemplate, RouteStep, formset=Steps, fields=STEP_FIELDS, extra=3, can_delete=True, max_num=40
)


class CheckPointForm(forms.ModelForm[CheckPoint]):
    class Meta:
        model = CheckPoint
        fields = (
            "station",
            "position",
            "text",
            "kind",
            "unit",
            "spec_key",
            "nominal",
            "minus",
            "plus",
            "role",
            "finish_kind",
        )
