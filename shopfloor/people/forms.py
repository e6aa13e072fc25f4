"""People, what they are qualified for, and the shop's settings."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quality.accounts import ONLY_ADMINISTRATOR, note_change, other_administrators
from quality.models import AccountEvent, Person, Qualification, Role
from quality.rights import Right, has_right
from routing.languages import Language
from routing.models import Shop, Station
from shopfloor.day_range import DayField
from shopfloor.secret_forms import TypedTwice, secret
from shopfloor.worded_forms import worded


class PersonForm(forms.ModelForm[Person]):
    # Which edit of the account the page showed: whoever saves an older one is told.
    version = forms.IntegerField(min_value=0, max_value=2**31 - 1, required=False, widget=forms.HiddenInput)

    class Meta:
        model = Person
        fields = ("name", "username", "role", "language", "is_active")
        labels = {
            "name": gettext_lazy("Name"),
            "username": gettext_lazy("User name"),
            "role": gettext_lazy("Role"),
            "language": gettext_lazy("Language"),
            "is_active": gettext_lazy("Works here"),
        }
        help_texts = {"is_active": gettext_lazy("Without the tick the account is closed; every signature stays.")}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "username": forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
        }

    def __init__(self, *args: Any, editor: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["version"] = self.instance.version
        self.editor = editor
        self.fields["language"].choices = [("", _("the shop's")), *Language.choices]  # type: ignore[attr-defined]
        if has_right(editor, Right.EDIT_SHOP):
            self.fields["role"].choices = worded(Role)  # type: ignore[attr-defined]
        else:
            self.fields["role"] = forms.ChoiceField(
                label=_("Role"),
                choices=worded(role for role in Role if role != Role.ADMINISTRATOR),
                initial=Role.WORKER,
                help_text=_("An administrator makes administrators."),
                error_messages={"invalid_choice": _("Only an administrator gives this role.")},
            )

    def clean_is_active(self) -> bool:
        active: bool = self.cleaned_data["is_active"]
        if self.instance.pk == self.editor.pk and not active:
            raise forms.ValidationError(_("You can't close your own account; somebody else has to."))
        return active

    def clean(self) -> dict[str, Any]:
        """A shop keeps an administrator; saving looks once more, when nobody else can be saved at the same time."""
        cleaned = super().clean() or self.cleaned_data
        was_one = self.initial.get("role") == Role.ADMINISTRATOR and self.initial.get("is_active")
        stays_one = cleaned.get("role") == Role.ADMINISTRATOR and cleaned.get("is_active")
        if was_one and not stays_one and not other_administrators(self.instance).exists():
            self.add_error("role", _(ONLY_ADMINISTRATOR))
        return cleaned


class QualificationRow(forms.Form):
    """One station in the table of a person: may they sign here, from when, until when, who trained them."""

    holds = forms.BooleanField(label=gettext_lazy("May sign"), required=False)
    valid_from = DayField(label=gettext_lazy("From"), required=False)
    valid_to = DayField(label=gettext_lazy("Until"), required=False)
    trained_by = forms.TypedChoiceField(label=gettext_lazy("Trained by"), required=False, coerce=int, empty_value=None)

    def __init__(self, data: Mapping[str, Any] | None, *, station: Station, trainers: list[tuple[Any, str]]) -> None:
        super().__init__(data, prefix=f"station-{station.pk}")
        self.station = station
        self.fields["trained_by"].choices = trainers  # type: ignore[attr-defined]
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label}, {station.name}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("valid_from"), cleaned.get("valid_to")
        if cleaned.get("holds") and last and first and last < first:
            self.add_error("valid_to", _("The last day lies before the first."))
        return cleaned

    def save(self, person: Person, *, today: date, by: Person, at: datetime) -> bool:
        """Whether it changed anything; what is as it was leaves no line in the history. Only inside ``writing``."""
        mine = Qualification.objects.filter(person=person, station=self.station)
        before = _in_words(mine.select_related("trained_by").first())
        if not self.cleaned_data["holds"]:
            mine.delete()
        else:
            Qualification.objects.update_or_create(
                person=person,
                station=self.station,
                defaults={
                    "valid_from": self.cleaned_data["valid_from"] or today,
                    "valid_to": self.cleaned_data["valid_to"],
                    "trained_by_id": self.cleaned_data["trained_by"],
                },
            )
        after = _in_words(mine.select_related("trained_by").first())
        changed = before != after
        if changed:
            name = self.station.name
            note_change(
                person, AccountEvent.QUALIFIED, by=by, at=at, before=f"{name}: {before}", after=f"{name}: {after}"
            )
        return changed


def _in_words(held: Qualification | None) -> str:
    """For the history of the account: in English, whoever saves it."""
    if held is None:
        return "may not sign"
    until = f" until {held.valid_to}" if held.valid_to else ""
    return f"from {held.valid_from}{until}" + (f", trained by {held.trained_by.name}" if held.trained_by else "")


def qualification_rows(person: Person, data: Mapping[str, Any] | None = None) -> list[QualificationRow]:
    """A row for every station in use, and for those out of use at which the person may sign."""
    held = {row.station_id: row for row in Qualification.objects.filter(person=person)} if person.pk else {}
    working = Q(is_active=True) | Q(pk__in=[row.trained_by_id for row in held.values()])
    trainers = [
        ("", _("not recorded")),
        *Person.objects.filter(working).exclude(pk=person.pk).values_list("pk", "name"),
    ]
    rows = []
    for station in Station.objects.filter(Q(is_active=True) | Q(pk__in=held)):
        row = QualificationRow(data, station=station, trainers=trainers)
        if (now := held.get(station.pk)) is not None:
            row.initial = {
                "holds": True,
                "valid_from": now.valid_from,
                "valid_to": now.valid_to,
                "trained_by": now.trained_by_id,
            }
        rows.append(row)
    return rows


class PinForm(TypedTwice):
    secret_fields = ("pin", "pin_again")
    pin = secret(
        gettext_lazy("New PIN"),
        gettext_lazy("6 to 12 digits. Its owner types it; nobody else needs to know it."),
        inputmode="numeric",
    )
    pin_again = secret(gettext_lazy("The same again"), inputmode="numeric")


class ShopForm(forms.ModelForm[Shop]):
    class Meta:
        model = Shop
        fields = (
            "name",
            "serial_prefix",
            "paper_size",
            "language",
            "floor_idle_minutes",
            "withdraw_minutes",
            "head_undersize_mm",
            "trim_each_end_mm",
            "rough_length_allowance_mm",
            "rough_width_allowance_mm",
            "room_temperature_c",
            "room_humidity_pct",
            "plate_moisture_pct",
        )
        labels = {
            "name": gettext_lazy("Name of the shop"),
            "serial_prefix": gettext_lazy("Serial numbers begin with"),
            "paper_size": gettext_lazy("Paper"),
            "language": gettext_lazy("Language"),
            "floor_idle_minutes": gettext_lazy("Sign out an idle tablet after, min"),
            "withdraw_minutes": gettext_lazy("Own tap may be withdrawn for, min"),
            "head_undersize_mm": gettext_lazy("Shell smaller than nominal by, mm"),
            "trim_each_end_mm": gettext_lazy("Trimmed off each end, mm"),
            "rough_length_allowance_mm": gettext_lazy("Rough cut longer by, mm"),
            "rough_width_allowance_mm": gettext_lazy("Rough cut wider by, mm"),
            "room_temperature_c": gettext_lazy("Room temperature, °C"),
            "room_humidity_pct": gettext_lazy("Room humidity, % RH"),
            "plate_moisture_pct": gettext_lazy("Moisture of the plates, %"),
        }
        help_texts = {
            "trim_each_end_mm": gettext_lazy("A pressed shell is made higher by twice this."),
            "room_temperature_c": gettext_lazy("Glue and coats are computed for it unless a step is given another."),
        }
