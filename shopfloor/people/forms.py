"""People, what they are qualified for, and the shop's settings."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.forms import inlineformset_factory

from quality.models import Person, Qualification, Role
from quality.rights import Right, has_right
from routing.models import Shop


class PersonForm(forms.ModelForm[Person]):
    class Meta:
        model = Person
        fields = ("name", "username", "role", "is_active")

    def __init__(self, *args: Any, editor: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.editor = editor

    def clean_role(self) -> str:
        """Only somebody who may edit the shop makes or unmakes an administrator."""
        role: str = self.cleaned_data["role"]
        before = self.initial.get("role")
        touches_administrator = Role.ADMINISTRATOR in (role, before) and role != before
        if touches_administrator and not has_right(self.editor, Right.EDIT_SHOP):
            raise forms.ValidationError("Only an administrator gives or takes this role.")
        return role

    def clean_is_active(self) -> bool:
        active: bool = self.cleaned_data["is_active"]
        if self.instance.pk == self.editor.pk and not active:
            raise forms.ValidationError("You can't close your own account.")
        return active


class QualificationForm(forms.ModelForm[Qualification]):
    class Meta:
        model = Qualification
        fields = ("station", "valid_from", "valid_to", "trained_by")
        widgets = {
            name: forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d") for name in ("valid_from", "valid_to")
        }


QualificationFormSet = inlineformset_factory(
    Person, Qualification, form=QualificationForm, fk_name="person", extra=2, can_delete=True, max_num=60
)


class PinForm(forms.Form):
    pin = forms.CharField(
        label="New PIN",
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="6 to 12 digits. Tell it to nobody but its owner.",
    )


class PasswordForm(forms.Form):
    password = forms.CharField(
        label="New password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 10 characters; four words are better than tricks.",
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password, self.person)
        return password


class ShopForm(forms.ModelForm[Shop]):
    class Meta:
        model = Shop
        fields = (
            "name",
            "serial_prefix",
            "paper_size",
            "head_undersize_mm",
            "trim_each_end_mm",
            "rough_length_allowance_mm",
            "rough_width_allowance_mm",
            "room_temperature_c",
            "room_humidity_pct",
            "plate_moisture_pct",
            "floor_idle_minutes",
            "withdraw_minutes",
        )
