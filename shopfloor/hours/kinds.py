"""The kinds of rows on the page of hours: a table, so that the same views add, change and remove all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import urlencode

from django.forms import Form
from django.http import Http404, QueryDict
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _

from routing.hours_actions import Capacity
from routing.models import Absence, Closure, DryingRoom, Mould, Outage, Shift
from shopfloor.hours.forms import (
    AbsenceForm,
    CapacityForm,
    ClosureForm,
    DryingRoomForm,
    MouldForm,
    OutageForm,
    ShiftForm,
    WeekForm,
)


@dataclass(frozen=True, slots=True)
class Kind:
    slug: str
    model: type[Capacity]
    change_form: type[CapacityForm]
    add_form: type[Form] | type[CapacityForm]

    def the_row(self, pk: int) -> Capacity:
        return cast(Capacity, get_object_or_404(self.model, pk=pk))

    def to_add(self, data: QueryDict | None = None, initial: dict[str, Any] | None = None) -> Any:
        return self.add_form(data, prefix=self.slug, initial=initial)

    def to_change(self, row: Capacity, data: QueryDict | None = None, initial: dict[str, Any] | None = None) -> Any:
        return self.change_form(data, prefix=self.slug, instance=row, initial=initial)

    def as_new(self, data: QueryDict) -> QueryDict:
        """What was typed to change a row, as the form that adds one takes it."""
        typed = data.copy()
        if self.model is Shift:
            typed.setlist(f"{self.slug}-weekdays", data.getlist(f"{self.slug}-weekday"))
        return typed

    def again(self, row: Capacity) -> str:
        """The address of the page with the form filled in as this row was."""
        form = self.change_form(instance=row)
        said = {
            name: form[name].field.widget.format_value(form[name].value()) for name in form.fields if name != "seen"
        }
        if isinstance(row, Shift):
            said["weekdays"] = said.pop("weekday")
        said = {name: value for name, value in said.items() if value}
        return f"{reverse('hours:page')}?{urlencode({'add': self.slug} | said, doseq=True)}#{self.slug}"


KINDS: dict[str, Kind] = {
    kind.slug: kind
    for kind in (
        Kind("shifts", Shift, ShiftForm, WeekForm),
        Kind("closures", Closure, ClosureForm, ClosureForm),
        Kind("absences", Absence, AbsenceForm, AbsenceForm),
        Kind("outages", Outage, OutageForm, OutageForm),
        Kind("moulds", Mould, MouldForm, MouldForm),
        Kind("rooms", DryingRoom, DryingRoomForm, DryingRoomForm),
    )
}


def the_kind(slug: str) -> Kind:
    if slug not in KINDS:
        raise Http404(_("There is nothing called {name} among the hours and places.").format(name=slug))
    return KINDS[slug]


def typed_before(query: QueryDict) -> dict[str, Any]:
    """Values for a form from an address; several of one name are a list."""
    return {name: values if len(values) > 1 else values[0] for name, values in query.lists() if name != "add"}
