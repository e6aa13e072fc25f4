"""Which drums are asked for: exactly one of lot, glue batch, person, tablet and station, on some days or always."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from quality.models import GlueBatch, MaterialLot, Person
from quality.models.materials import lot_code
from quality.recall import Days, FoundShell, by_glue_batch, by_lot, by_person, by_station, by_tablet
from routing.languages import day
from routing.models import Station
from shopfloor.day_range import DayField

# What is asked for → what stands behind “3 drums:” over the list.
WAYS = {
    "lot": gettext_noop("lot of material {which}"),
    "glue_batch": gettext_noop("glue batch {which}"),
    "person": gettext_noop("person {which}"),
    "tablet": gettext_noop("tablet {which}"),
    "station": gettext_noop("station {which}"),
}


def _listed(codes: str) -> forms.TextInput:
    """A field for a code, with the newest codes to pick from."""
    return forms.TextInput(attrs={"list": codes, "autocomplete": "off", "spellcheck": "false"})


class RecallForm(forms.Form):
    lot = forms.CharField(label=gettext_lazy("Lot of material"), required=False, max_length=60, widget=_listed("lots"))
    glue_batch = forms.CharField(
        label=gettext_lazy("Glue batch"), required=False, max_length=60, widget=_listed("batches")
    )
    person = forms.ModelChoiceField(
        Person.objects.order_by("name"),
        label=gettext_lazy("Person"),
        required=False,
        empty_label=gettext_lazy("nobody"),
    )
    tablet = forms.CharField(label=gettext_lazy("Tablet"), required=False, max_length=60, widget=_listed("tablets"))
    station = forms.ModelChoiceField(
        Station.objects.order_by("position"),
        label=gettext_lazy("Station"),
        required=False,
        empty_label=gettext_lazy("none"),
    )
    first = DayField(
        label=gettext_lazy("From"),
        required=False,
        help_text=gettext_lazy("A station needs a day; for the others, empty is always."),
    )
    last = DayField(
        label=gettext_lazy("To"),
        required=False,
        help_text=gettext_lazy("Empty: the same day for a station, else until now."),
    )

    def clean_lot(self) -> MaterialLot | None:
        code = self.cleaned_data["lot"].strip()
        found = MaterialLot.objects.filter(lot_code(code)).first() if code else None
        if code and found is None:
            raise forms.ValidationError(_("No lot has the code “{code}”; look at the label again.").format(code=code))
        return found

    def clean_glue_batch(self) -> GlueBatch | None:
        code = self.cleaned_data["glue_batch"].strip()
        found = GlueBatch.objects.filter(code=code.upper()).first() if code else None
        if code and found is None:
            said = _("No glue batch has the code “{code}”; look at the label again.")
            raise forms.ValidationError(said.format(code=code))
        return found

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if self.errors:
            return said
        chosen = [way for way in WAYS if said.get(way)]
        if len(chosen) != 1:
            raise forms.ValidationError(
                _("Choose one of lot, glue batch, person, tablet and station; leave the others.")
            )
        first, last = said.get("first"), said.get("last")
        if chosen == ["station"]:
            first = first or last
            last = last or first
            if first is None:
                self.add_error("first", _("Which day? A station has signed too many drums to show them all."))
        if first and last and last < first:
            self.add_error("last", _("The last day lies before the first; change one of the two."))
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
        what = _(WAYS[said["way"]]).format(which=said[said["way"]])
        if days.first and days.first == days.last:
            return _("{what}, on {day}").format(what=what, day=day(days.first))
        since = _("from {day}").format(day=day(days.first)) if days.first else ""
        until = _("to {day}").format(day=day(days.last)) if days.last else ""
        return ", ".join(filter(None, [what, since, until]))
