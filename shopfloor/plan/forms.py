"""What a plan is asked for, which part of it is drawn, and what might happen."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from quality.models import Person
from quality.rights import Right, has_right
from routing.models import KitOrder, OrderState, Station
from routing.plan_problem import OPEN_ORDERS
from routing.promise import Change
from shopfloor.day_range import DayField

SECONDS, MOST_SECONDS = 20, 300
MOST_DAYS = 20
OPEN = [OrderState.DRAFT, *OPEN_ORDERS]


class MakeForm(forms.Form):
    seconds = forms.FloatField(
        label=_("Seconds to look for a better plan"),
        min_value=0,
        max_value=MOST_SECONDS,
        help_text=format_lazy(_("0 to {most}. With 0 the plan by rule stays as it is."), most=MOST_SECONDS),
        widget=forms.NumberInput(attrs={"step": "1", "inputmode": "numeric"}),
    )


class PictureForm(forms.Form):
    BY = (("station", _("station")), ("person", _("person")), ("kit", _("kit")))
    by = forms.ChoiceField(choices=BY, label=_("A row for each"))
    first = DayField(label=_("From"))
    days = forms.IntegerField(
        label=_("Days"),
        min_value=1,
        max_value=MOST_DAYS,
        help_text=format_lazy(_("1 to {most}; two or three read best."), most=MOST_DAYS),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )


class WhatIfForm(forms.Form):
    """A worker away, a station down, an order that comes first; one of them or all."""

    person = forms.ModelChoiceField(Person.objects.none(), label=_("Away"), required=False, empty_label=_("nobody"))
    away_first = DayField(label=_("First day away"), required=False)
    away_last = DayField(label=_("Last day away"), required=False)
    station = forms.ModelChoiceField(
        Station.objects.none(), label=_("Down"), required=False, to_field_name="code", empty_label=_("no station")
    )
    down_first = DayField(label=_("Down from the morning of"), required=False)
    down_last = DayField(label=_("Down to the evening of"), required=False)
    rush = forms.ModelChoiceField(
        KitOrder.objects.none(),
        label=_("Comes first"),
        required=False,
        to_field_name="number",
        empty_label=_("no order"),
        help_text=_("A draft counts as if it were released now."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        able = [person.pk for person in Person.objects.filter(is_active=True) if has_right(person, Right.SIGN_STEPS)]
        for name, rows in (
            ("person", Person.objects.filter(pk__in=able)),
            ("station", Station.objects.filter(is_active=True)),
            ("rush", KitOrder.objects.filter(state__in=OPEN)),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = rows
            field.error_messages["invalid_choice"] = gettext("It is not among the choices any more; choose again.")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self._days(given, "person", "away_first", "away_last")
        self._days(given, "station", "down_first", "down_last")
        if not self.errors and not (given.get("person") or given.get("station") or given.get("rush")):
            raise forms.ValidationError(gettext("Choose who is away, what is down, or which order comes first."))
        return given

    def _days(self, given: dict[str, Any], what: str, first: str, last: str) -> None:
        """Both days default to today; one day alone is the other one, too."""
        if not given.get(what) or first in self.errors or last in self.errors:
            return
        begin = given.get(first) or given.get(last) or timezone.localdate()
        end = given.get(last) or begin
        if end < begin:
            self.add_error(last, gettext("The last day lies before the first; change one of the two."))
        elif (end - begin).days > 366:
            self.add_error(last, gettext("More than a year is too long to plan with; choose an earlier day."))
        given[first], given[last] = begin, end

    def change(self) -> Change:
        given = self.cleaned_data
        zone = timezone.get_current_timezone()
        return Change(
            away=((given["person"].pk, given["away_first"], given["away_last"]),) if given["person"] else (),
            down=(
                (
                    given["station"].code,
                    datetime.combine(given["down_first"], time(), zone),
                    datetime.combine(given["down_last"] + timedelta(days=1), time(), zone),
                ),
            )
            if given["station"]
            else (),
            rush=(given["rush"].number,) if given["rush"] else (),
        )
