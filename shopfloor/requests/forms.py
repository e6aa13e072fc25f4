"""What is asked on the phone, which parts are to be sent, and how a request ends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from quality.models import CustomerRequest, Defect, RequestKind, RequestState
from quality.request_facts import AsBuilt, AsBuiltPart
from quality.request_parts import MOST_OF_ONE_PART, Part
from quality.requests import as_seen
from routing.models import DrumModel, Station
from shopfloor.day_range import DayField
from shopfloor.worded_forms import DrumField, worded

OUTSIDE = "outside"
# Which field a refusal of an action is about; the others stand above the form.
FIELD_OF = {
    "kind": "kind",
    "no_address": "ship_to",
    "cause_missing": "cause",
    "station_missing": "caused_at",
}
_LINES = {"rows": 3}


class PartsForm(forms.Form):
    """Who asks, where it goes, and a box for each part of the drum's own list."""

    contact = forms.CharField(
        label=_("Who asks, and how to reach them"), max_length=120, required=False, widget=forms.TextInput
    )
    ship_to = forms.CharField(label=_("Ship to"), max_length=300, required=False, widget=forms.Textarea(attrs=_LINES))
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self, data: Mapping[str, Any] | None, *, built: AsBuilt, chosen: Mapping[Part, int] | None = None, **kwargs: Any
    ) -> None:
        initial = kwargs.pop("initial", {}) | {"revision": built.revision}
        super().__init__(data, initial=initial, **kwargs)
        self.built = built
        send_of = gettext("Send of {part}")
        for place, part in enumerate(built.parts):
            field = forms.IntegerField(
                label=part.name,
                min_value=0,
                max_value=MOST_OF_ONE_PART,
                required=False,
                initial=(chosen or {}).get((part.bag, part.name)),
                widget=forms.NumberInput(attrs={"aria-label": send_of.format(part=part.name), "inputmode": "numeric"}),
            )
            self.fields[f"part-{place}"] = field

    def clean_revision(self) -> int:
        """The boxes stand for the parts of one revision; of another they would mean other parts."""
        revision = int(self.cleaned_data["revision"])
        if revision != self.built.revision:
            said = gettext("The drum has spec revision {revision} now. Its parts stand below; choose again.")
            raise forms.ValidationError(said.format(revision=self.built.revision))
        return revision

    @property
    def rows(self) -> list[tuple[AsBuiltPart, forms.BoundField]]:
        return [(part, self[f"part-{place}"]) for place, part in enumerate(self.built.parts)]

    @property
    def head_fields(self) -> list[forms.BoundField]:
        return [field for field in self if not field.name.startswith("part-") and not field.is_hidden]

    @property
    def parts(self) -> dict[Part, int]:
        return {
            (part.bag, part.name): self.cleaned_data[f"part-{place}"]
            for place, part in enumerate(self.built.parts)
            if self.cleaned_data[f"part-{place}"]
        }


class ChangeForm(PartsForm):
    """``seen`` is the request as the page showed it, so that nobody's change is lost under another's."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    asked: CustomerRequest

    @classmethod
    def of(cls, asked: CustomerRequest, built: AsBuilt, data: Mapping[str, Any] | None = None) -> ChangeForm:
        chosen = {(line.bag_name, line.part_name): line.quantity for line in asked.lines.all()}
        usual = {"contact": asked.contact, "ship_to": asked.ship_to, "seen": as_seen(asked)}
        form = cls(data, built=built, chosen=chosen, initial=usual)
        form.asked = asked
        return form

    @property
    def typed(self) -> list[tuple[str, str]]:
        """What somebody typed that can't be saved any more, so that they need not remember it."""
        heads = [(str(field.label), str(field.value() or "")) for field in self.head_fields]
        parts = [(part.name, str(box.value())) for part, box in self.rows if box.value()]
        return [(label, value) for label, value in [*heads, *parts] if value.strip()]


class TakeForm(PartsForm):
    kind = forms.ChoiceField(label=_("What it is about"), choices=worded(RequestKind))
    said = forms.CharField(label=_("What the customer says"), max_length=500, widget=forms.Textarea(attrs=_LINES))
    field_order = ("kind", "said", "contact", "ship_to")


class CloseForm(forms.Form):
    answer = forms.CharField(
        label=_("What the customer is told"), max_length=500, required=False, widget=forms.Textarea(attrs=_LINES)
    )
    cause = forms.ModelChoiceField(
        Defect.objects.filter(is_active=True),
        label=_("Why it happened"),
        required=False,
        empty_label=_("not known yet"),
    )
    caused_at = forms.ChoiceField(label=_("Where it came from"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = [(station.code, station.name) for station in Station.objects.filter(is_active=True)]
        where = self.fields["caused_at"]
        assert isinstance(where, forms.ChoiceField)
        where.choices = [
            ("", _("not known yet")),
            *places,
            (OUTSIDE, _("outside the shop: carrier, supplier, use")),
        ]

    @property
    def said(self) -> dict[str, Any]:
        """What the action is told."""
        place = self.cleaned_data["caused_at"]
        return {
            "answer": self.cleaned_data["answer"],
            "cause": self.cleaned_data["cause"],
            "caused_at": Station.objects.get(code=place) if place and place != OUTSIDE else None,
            "from_outside": place == OUTSIDE,
        }


class ReopenForm(forms.Form):
    reason = forms.CharField(label=_("Why it is opened again"), max_length=200)
    came_back = forms.BooleanField(
        label=_("The parts came back and lie on the shelf again"),
        required=False,
        help_text=_("Without it they count as gone, and picking takes others."),
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, asked: CustomerRequest) -> None:
        super().__init__(data)
        if asked.state != RequestState.SENT:
            del self.fields["came_back"]  # what was only picked goes back by itself


class CompanionForm(forms.Form):
    model = DrumField(DrumModel.objects.none(), label=_("Drum"), empty_label=None)
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=50, initial=1)
    due = DayField(label=_("Due"))
    customer = forms.CharField(label=_("Customer"), max_length=120)
