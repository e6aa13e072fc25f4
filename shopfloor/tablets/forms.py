"""What a tablet is called and which stations it shows."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from quality.models import Tablet
from quality.tablets import LONGEST_NAME, next_name
from routing.models import Station


class TabletForm(forms.Form):
    name = forms.CharField(
        label=_("Name"),
        max_length=LONGEST_NAME,
        help_text=_("As it is written on its back, for example “Spray room 1”."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    stations = forms.ModelMultipleChoiceField(
        Station.objects.none(),
        label=_("Stations"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("It shows only these. With one, it goes straight to its queue."),
        error_messages={"required": _("Tick at least one station; a tablet shows only those.")},
    )

    def __init__(self, data: Any = None, *, tablet: Tablet | None = None, all_stations: bool = False) -> None:
        in_use = Station.objects.filter(is_active=True)
        if tablet is not None:  # a station out of use stays ticked until somebody takes it away
            in_use = (in_use | Station.objects.filter(tablets=tablet)).distinct()
            initial: dict[str, Any] = {"name": tablet.name, "stations": list(tablet.stations.all())}
        else:
            initial = {"name": next_name(), "stations": list(in_use) if all_stations else []}
        super().__init__(data, initial=initial)
        self.fields["stations"].queryset = in_use  # type: ignore[attr-defined]
