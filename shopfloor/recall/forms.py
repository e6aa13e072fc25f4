"""Which drums are asked for: exactly one of lot, glue batch, person, tablet and station, on some days or always."""

from __future__ import annotations

from typing import Any

from django import forms

from quality.models import GlueBatch, MaterialLot, Person
from quality.models.materials import lot_code
from quality.recall import Days, FoundShell, by_glue_batch, by_lot, by_person, by_station, by_tablet
from routing.models import Station
from shopfloor.day_range import DayField

WAYS = ("lot", "glue_batch", "person", "tablet", "station")


def _code(label: str, listed: str) -> forms.CharField:
    widget = forms.TextInput(attrs={"list": listed, "autocomplete": "off", "spellcheck": "false"})
    return forms.CharField(label=label, required=False, max_length=60, widget=widget)


class RecallForm(forms.Form):
    lot = _code("Lot of material", "lots")
    glue_batch = _code("Glue batch", "batches")
    person = forms.ModelChoiceField(Person.objects.order_by("name"), required=False, empty_label="nobody")
    tablet = _code("Tablet", "tablets")
    station = forms.ModelChoiceField(Station.objects.order_by("position"), required=False, empty_label="none")
    first = DayField(label="From", required=False, help_text="A station needs a day; for the others, empty is always.")
    last = DayField(label="To", required=False, help_text="Empty: the same day for a station, else until now.")

    def clean_lot(self) -> MaterialLot | None:
        code = self.cleaned_data["lot"].strip()
        found = MaterialLot.objects.filter(lot_code(code)).first() if code else None
        if code and found is None:
            raise forms.ValidationError(f"No lot has the code “{code}”; look at the label again.")
        return found

    def clean_glue_batch(self) -> GlueBatch | None:
        code = self.cleaned_data["glue_batch"].strip()
        found = GlueBatch.objects.filter(code=code.upper()).first() if code else None
        if code and found is None:
            raise forms.ValidationError(f"No glue batch has the code “{code}”; look at the label again.")
        return found

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        chosen = [way for way in WAYS if said.get(way)]
        if len(chosen) != 1:
            raise forms.ValidationError("Choose one of lot, glue batch, person, tablet and station; leave the others.")
        first, last = said.get("first"), said.get("last")
        if chosen == ["station"]:
            first = first or last
            last = last or first
            if first is None:
                self.add_error("first", "Which day? A station has signed too many drums to show them all.")
        if first and last and last < first:
            self.add_error("last", "The last day lies before the first; change one of the two.")
        return said | {"way": chosen[0], "days": Days(first, last)}

    def shells(self) -> list[FoundShell]:
        """The drums that a valid form asks for."""
        said = self.cleaned_data
        days: Days = said["days"]
        match said["way"]:
            case "lot":
                return by_lot(said["lot"], days)
            case "glue_batch":
                return by_glue_batch(said["glue_batch"], days)
            case "person":
                return by_person(said["person"], days)
            case "tablet":
                return by_tablet(said["tablet"], days)
            case _:
                return by_station(said["station"], days)

    @property
    def question(self) -> str:
        """What was asked, above the list: “lot P-1 Birch 3.0, from 2026-11-02 to 2026-11-03”."""
        said = self.cleaned_data
        days: Days = said["days"]
        words = f"{self.fields[said['way']].label or said['way']} {said[said['way']]}"
        if days.first and days.first == days.last:
            return f"{words}, on {days.first}"
        since = f", from {days.first}" if days.first else ""
        until = f", to {days.last}" if days.last else ""
        return f"{words}{since}{until}"
