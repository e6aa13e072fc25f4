"""The form of the spec bench: a drum model and a finish, saved only when somebody says so."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from routing.models import DrumModel, Finish
from shopfloor.worded_forms import WordedForm


class BenchForm(WordedForm[DrumModel]):
    finish = forms.ModelChoiceField(queryset=Finish.objects.filter(is_active=True))
    # The room of the trial; empty: that of the shop's settings. Not part of a drum model.
    temperature_c = forms.FloatField(label=gettext_lazy("room, °C"), required=False, min_value=-5, max_value=45)
    humidity_pct = forms.FloatField(label=gettext_lazy("humidity, %"), required=False, min_value=5, max_value=100)
    plate_moisture_pct = forms.FloatField(
        label=gettext_lazy("moisture of the plates, %"), required=False, min_value=2, max_value=25
    )
    measured_mm = forms.CharField(
        label=gettext_lazy("measured plates, mm"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Outer plate first, with spaces; a dash for one not measured: 3.05 – 2.95"),
    )

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

    def clean_measured_mm(self) -> tuple[float | None, ...]:
        words = self.cleaned_data["measured_mm"].replace(",", ".").split()
        try:
            return tuple(None if word in {"-", "–", "—"} else float(word) for word in words)
        except ValueError as error:
            asked = _("Write the thicknesses in mm with spaces, for example 3.05 – 2.95.")
            raise forms.ValidationError(asked) from error

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        line, finish = cleaned.get("line"), cleaned.get("finish")
        if line and finish and line.finish_kind != finish.kind:
            refused = _("{line} drums are made with {kind}; “{finish}” is {other}.")
            kind, other = _(line.get_finish_kind_display()), _(finish.get_kind_display())
            self.add_error("finish", refused.format(line=line, kind=kind, finish=finish, other=other))
        return cleaned


class SaveForm(forms.Form):
    code = forms.SlugField(
        max_length=40, help_text=gettext_lazy("Used in order books, for example heron-snare-14x5-5.")
    )

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        if DrumModel.objects.filter(code=code).exists():
            raise forms.ValidationError(_("There is a drum model with this code already; choose another."))
        return code


def proposed_code(drum: DrumModel) -> str:
    size = f"{drum.nominal_diameter_in:g}x{drum.nominal_depth_in:g}".replace(".", "-")
    return slugify(f"{drum.line} {drum.role.replace('_', ' ')} ")[:28] + f"-{size}"
