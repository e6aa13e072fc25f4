"""Forms for hours, closed days, absences, outages, moulds and drying rooms."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from quality.models import Person
from routing.hours_actions import Capacity, add_shifts, save_capacity, twin_of
from routing.languages import day as said_day
from routing.models import Absence, Closure, DryingRoom, Mould, Outage, Shift, Station, Weekday
from shopfloor.worded_forms import WordedForm, worded

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

YEARS = range(2000, 2101)
LONGEST_DAYS = 366
TIMES = ["%H:%M", "%H:%M:%S", "%H.%M", "%H"]


class ShopTimeField(forms.DateTimeField):
    """A moment by the shop's clock. An hour that comes twice when the clocks go back is taken so that more is covered:
    the first for a beginning, the second for an end. One that is left out when they go forward is refused.
    """

    def __init__(self, *, is_end: bool = False, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        super().__init__(widget=widget, **kwargs)
        self.is_end = is_end

    def to_python(self, value: Any) -> datetime | None:
        with timezone.override(UTC):  # only to read the digits; the zone comes below
            read = super().to_python(value)
        if read is None:
            return None
        _sensible_year(read)
        zone = timezone.get_current_timezone()
        wall = read.replace(tzinfo=None)
        moment = wall.replace(tzinfo=zone, fold=int(self.is_end))
        if moment.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != wall:
            said = gettext("{time} is left out on {day}: the clocks go forward. Choose another time.")
            raise ValidationError(said.format(time=f"{wall:%H:%M}", day=said_day(wall)))
        return moment


class DayField(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs)

    def to_python(self, value: Any) -> date | None:
        day = super().to_python(value)
        if day is not None:
            _sensible_year(day)
        return day


def _sensible_year(day: date) -> None:
    if day.year not in YEARS:
        raise ValidationError(gettext("Look at the year: {year} is not meant.").format(year=day.year))


def _time_field(label: _StrOrPromise) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, widget=widget, input_formats=TIMES)


class CapacityForm(WordedForm[Any]):
    """A row to add or to change. What is there already in every detail is no error: the same tap may come twice."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.twin: Capacity | None = None
        if self.instance.pk is None:
            del self.fields["seen"]
        if "station" in self.fields:
            self.fields["station"].queryset = _in_use(self.instance.station_id)  # type: ignore[attr-defined]

    def validate_unique(self) -> None:
        if self.instance.pk is None and not self.errors:
            self.twin = twin_of(self.instance, self.cleaned_data.get("stations"))
        if self.twin is None:
            super().validate_unique()

    def validate_constraints(self) -> None:
        if self.twin is None:
            super().validate_constraints()

    def keep(self) -> list[Any]:
        """Write the row by its action. Raises what the action raises."""
        row = save_capacity(
            row=self.instance, seen=self.cleaned_data.get("seen", ""), stations=self.cleaned_data.get("stations")
        )
        return [row]


class ShiftForm(CapacityForm):
    starts = _time_field(_("from"))
    ends = _time_field(_("until"))

    class Meta:
        model = Shift
        fields = ("weekday", "starts", "ends")
        labels = {"weekday": _("day")}


class _DaysForm(CapacityForm):
    """A span of days. Without a last day it is one day."""

    first = DayField(label=_("first day"))
    last = DayField(label=_("last day"), required=False, help_text=_("Empty: only the first."))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("first"), cleaned.get("last")
        if first is not None and last is None and "last" not in self.errors:
            cleaned["last"] = first
        elif first is not None and last is not None and (last - first).days >= LONGEST_DAYS:
            self.add_error("last", gettext("That is longer than a year; look at the dates."))
        return cleaned


class ClosureForm(_DaysForm):
    class Meta:
        model = Closure
        fields = ("first", "last", "reason")
        labels = {"reason": _("Reason")}


class AbsenceForm(_DaysForm):
    class Meta:
        model = Absence
        fields = ("person", "first", "last", "reason")
        labels = {"person": _("Person"), "reason": _("Reason")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        here = Person.objects.filter(is_active=True)
        if self.instance.person_id:
            here |= Person.objects.filter(pk=self.instance.person_id)
        self.fields["person"].queryset = here.order_by("name")  # type: ignore[attr-defined]


class OutageForm(CapacityForm):
    starts_at = ShopTimeField(label=_("from"))
    ends_at = ShopTimeField(label=_("until"), is_end=True)

    class Meta:
        model = Outage
        fields = ("station", "starts_at", "ends_at", "reason")
        labels = {"station": _("Station"), "reason": _("Reason")}


class MouldForm(CapacityForm):
    class Meta:
        model = Mould
        fields = ("diameter_in", "count")
        labels = {"diameter_in": _("Diameter, in"), "count": _("how many")}
        error_messages = {
            "diameter_in": {"unique": _("Moulds of this diameter are in the list already; change their number there.")}
        }


class DryingRoomForm(CapacityForm):
    stations = forms.ModelMultipleChoiceField(
        Station.objects.none(),
        label=_("Stations"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("After a step at one of these, shells wait here."),
        error_messages={"required": _("Tick at least one station; shells come from there.")},
    )

    class Meta:
        model = DryingRoom
        fields = ("name", "places")
        labels = {"name": _("Name"), "places": _("Places")}
        error_messages = {"name": {"unique": _("A room of this name is in the list already; change it there.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            in_use = Station.objects.filter(is_active=True)
        else:
            ticked = list(self.instance.stations.values_list("pk", flat=True))
            in_use = Station.objects.filter(is_active=True) | Station.objects.filter(pk__in=ticked)
            self.initial.setdefault("stations", ticked)
        self.fields["stations"].queryset = in_use  # type: ignore[attr-defined]


def _in_use(station_id: int | None) -> Any:
    found = Station.objects.filter(is_active=True)
    return found | Station.objects.filter(pk=station_id) if station_id else found


class WeekForm(forms.Form):
    """The same hours on several days of the week."""

    weekdays = forms.TypedMultipleChoiceField(
        label=_("days"),
        choices=worded(Weekday),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one day.")},
    )
    starts = _time_field(_("from"))
    ends = _time_field(_("until"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        starts, ends = cleaned.get("starts"), cleaned.get("ends")
        if starts is not None and ends is not None and ends <= starts:
            said = gettext("A shift ends after it begins, on the same day. Work through the night is two shifts.")
            self.add_error("ends", said)
        return cleaned

    def keep(self) -> list[Any]:
        return list(add_shifts(**self.cleaned_data))
