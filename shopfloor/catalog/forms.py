"""Forms for recipes, made from the models themselves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.forms import BaseInlineFormSet, inlineformset_factory, modelform_factory
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quality.models import CheckPoint
from routing.models import Fitting, RouteStep, RouteTemplate, StationKind
from shopfloor.catalog.recipes import Recipe, Rows
from shopfloor.worded_forms import WordedForm


class LongTextForm(WordedForm[Any]):
    """Sentences get room to be read while they are written."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("caution", "note"):
            if name in self.fields:
                self.fields[name].widget = forms.Textarea(attrs={"rows": 3})


def recipe_form(recipe: Recipe) -> type[forms.ModelForm[Any]]:
    return modelform_factory(recipe.model, form=LongTextForm, exclude=recipe.exclude)


class AnglesField(forms.CharField):
    """Angles as people write them: “120, 240”. Empty: the layout rules place the pieces."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(f"{angle:g}" for angle in value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> list[float] | None:  # type: ignore[override]
        words = super().to_python(value) or ""
        return [_number(word) for word in words.replace(";", ",").split(",") if word.strip()] or None

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (self.prepare_value(initial or []) or "") != (data or "").strip()


class HolesField(forms.CharField):
    """Holes as “round / axial / diameter” in mm from the fitting's centre, one after the other with semicolons."""

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, list):
            return "; ".join(" / ".join(f"{number:g}" for number in hole) for hole in value)
        return value

    def to_python(self, value: Any) -> list[list[float]]:  # type: ignore[override]
        words = super().to_python(value) or ""
        holes = [[_number(part) for part in hole.split("/")] for hole in words.split(";") if hole.strip()]
        if any(len(hole) != 3 for hole in holes):
            raise forms.ValidationError(
                _("Write each hole as round / axial / diameter, for example 0 / 19 / 5.5; 0 / -19 / 5.5")
            )
        return holes

    def has_changed(self, initial: Any, data: Any) -> bool:
        return (self.prepare_value(initial or []) or "") != (data or "").strip()


def _number(word: str) -> float:
    try:
        number = float(word.strip().replace("−", "-"))
    except ValueError as error:
        raise forms.ValidationError(_("“{word}” is not a number.").format(word=word.strip()[:20])) from error
    if not abs(number) < 10_000:
        raise forms.ValidationError(_("“{word}” is too large for a drum.").format(word=word.strip()[:20]))
    return number


class FittingForm(WordedForm[Fitting]):
    angles_deg = AnglesField(label=gettext_lazy("angles, °"), required=False)
    holes = HolesField(label=gettext_lazy("holes: round / axial / diameter, mm"), required=False)

    class Meta:
        model = Fitting
        fields = (
            "name",
            "kind",
            "pieces",
            "angles_deg",
            "holes",
            "screw",
            "footprint_round_mm",
            "footprint_axial_mm",
            "height_fraction",
            "height_mm",
        )


def rows_formset(recipe: Recipe, rows: Rows) -> type[BaseInlineFormSet[Any, Any, Any]]:
    if rows.model is Fitting:
        return inlineformset_factory(
            recipe.model, Fitting, form=FittingForm, extra=rows.extra, can_delete=True, max_num=60
        )
    return inlineformset_factory(
        recipe.model, rows.model, form=WordedForm, fields=rows.fields, extra=rows.extra, can_delete=True, max_num=60
    )


class RouteForm(WordedForm[RouteTemplate]):
    """The reason for a new revision of a route."""

    class Meta:
        model = RouteTemplate
        fields = ("note",)
        labels = {"note": gettext_lazy("what changed")}


class Steps(BaseInlineFormSet[RouteStep, RouteTemplate, WordedForm[RouteStep]]):
    def get_unique_error_message(self, unique_check: Any) -> str:
        return _("Two steps share a place; number them in the order of work.")

    def clean(self) -> None:
        super().clean()
        if any(self.errors):
            return
        kept = [form.cleaned_data for form in self.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")]
        if not kept:
            raise forms.ValidationError(_("A route needs at least one step."))
        in_order = [step["station"].kind for step in sorted(kept, key=lambda step: step["position"])]
        if StationKind.PACK in in_order:
            if in_order[-1] != StationKind.PACK or in_order.count(StationKind.PACK) > 1:
                raise forms.ValidationError(_("Packing comes once, as the last step."))
            if StationKind.FINAL_CHECK not in in_order:
                raise forms.ValidationError(_("A drum is not packed without a final check; put one before packing."))

    def kept_steps(self) -> list[RouteStep]:
        """The steps as entered, unsaved and without their old ids, for a new revision."""
        return [
            RouteStep(**{name: form.cleaned_data[name] for name in STEP_FIELDS})
            for form in self.forms
            if form.cleaned_data and not form.cleaned_data.get("DELETE")
        ]


STEP_FIELDS = ("position", "station", "repeat", "dwell_kind", "dwell_h", "work_min")
StepFormSet: type[Steps] = inlineformset_factory(  # type: ignore[assignment]
    RouteTemplate, RouteStep, form=WordedForm, formset=Steps, fields=STEP_FIELDS, extra=3, can_delete=True, max_num=40
)


class CheckPointForm(WordedForm[CheckPoint]):
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
            "tolerance_key",
            "places",
            "places_key",
            "judged",
            "sample_every",
            "role",
            "finish_kind",
        )
