"""The form of the spec bench: a drum model and a finish, saved only when somebody says so."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify

from routing.models import DrumModel, Finish


class BenchForm(forms.ModelForm[DrumModel]):
    finish = forms.ModelChoiceField(queryset=Finish.objects.filter(is_active=True))

    class Meta:
        model = DrumModel
        fields = (
            "line",
            "finish",
            "role",
            "nominal_diameter_in",
            "nominal_depth_in",
            "lay_up",
            "batter_edge",
            "resonant_edge",
            "hardware",
            "head_undersize_mm",
            "trim_each_end_mm",
            "snare_bed_depth_mm",
            "snare_bed_flat_mm",
            "snare_bed_width_mm",
            "batter_pitch_hz",
            "resonant_pitch_hz",
        )

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        line, finish = cleaned.get("line"), cleaned.get("finish")
        if line and finish and line.finish_kind != finish.kind:
            self.add_error(
                "finish",
                f"{line} drums are made with {line.get_finish_kind_display()}; “{finish}” is {finish.get_kind_display()}.",
            )
        return cleaned


class SaveForm(forms.Form):
    code = forms.SlugField(max_length=40, help_text="Used in order books, for example heron-snare-14x5-5.")

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        if DrumModel.objects.filter(code=code).exists():
            raise forms.ValidationError("There is a drum model with this code already; choose another.")
        return code


def proposed_code(drum: DrumModel) -> str:
    size = f"{drum.nominal_diameter_in:g}x{drum.nominal_depth_in:g}".replace(".", "-")
    return slugify(f"{drum.line} {drum.role.replace('_', ' ')} ")[:28] + f"-{size}"
