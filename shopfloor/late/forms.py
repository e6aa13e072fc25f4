"""Who signed on paper and when, and the codes of what was used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from quality.late_entry import OLDEST
from quality.materials import MaterialWanted, materials_wanted
from quality.models import GlueBatch, MaterialLot, Person, Qualification
from quality.rights import Right, has_right
from routing.languages import moment
from routing.models import Operation, ShellSpec, Station

MATERIAL = "material-"
_AS_TYPED = "%Y-%m-%dT%H:%M"  # how a browser writes a date with a time
_MOST_CODES = 60


class PaperForm(forms.Form):
    signed_by = forms.ChoiceField(
        label=_("Who signed on paper"),
        help_text=_("You too, if it was you: the record then says that you entered your own signature."),
        error_messages={
            "required": _("Choose whose name stands on the paper."),
            "invalid_choice": _("Choose somebody from the list."),
        },
    )
    on_paper_at = forms.DateTimeField(
        label=_("Date and time on paper"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=_AS_TYPED),
        error_messages={
            "required": _("Enter the date and the time that stand on the paper."),
            "invalid": _("Enter a date and a time, like 2026-11-24 10:05."),
        },
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=500)

    def __init__(self, *args: Any, station: Station | None, earliest: datetime | None, now: datetime, **kw: Any):
        super().__init__(*args, **kw)
        self.fields["signed_by"] = forms.ChoiceField(
            choices=_people(station),
            label=self.fields["signed_by"].label,
            help_text=self.fields["signed_by"].help_text,
            error_messages=self.fields["signed_by"].error_messages,
        )
        limits = {"max": timezone.localtime(now).strftime(_AS_TYPED)}
        if earliest is not None:
            limits["min"] = timezone.localtime(earliest).strftime(_AS_TYPED)
        self.fields["on_paper_at"].widget.attrs.update(limits)

    @property
    def signer(self) -> Person:
        return Person.objects.get(pk=self.cleaned_data["signed_by"])


def _people(station: Station | None) -> list[Any]:
    """Everybody who signs steps: those with a qualification for the station first, even if it ended since."""
    here = set(Qualification.objects.filter(station=station).values_list("person_id", flat=True))
    signers = [each for each in Person.objects.filter(is_active=True) if has_right(each, Right.SIGN_STEPS)]
    first = [(str(each.pk), each.name) for each in signers if each.pk in here]
    others = [(str(each.pk), each.name) for each in signers if each.pk not in here]
    groups: list[Any] = [("", gettext("choose"))]
    if first and station is not None:
        groups.append((gettext("Qualified for {station}").format(station=station.name), first))
    if others:
        groups.append((gettext("Others"), others))
    return groups


@dataclass(frozen=True, slots=True)
class CodeField:
    """One material of a step: its codes are typed from paper, the known ones are offered."""

    name: str
    label: str
    codes: tuple[tuple[str, str], ...]  # the code, and what it is
    typed: str


def code_fields(
    operation: Operation, spec: ShellSpec, now: datetime, typed: Mapping[str, str] | None
) -> tuple[CodeField, ...]:
    """What a step records, where the shop keeps such codes. Lots that were emptied or held since are offered too."""
    fields = []
    for wanted in materials_wanted(operation, spec.results, spec.inputs, at=now):
        name = f"{MATERIAL}{wanted.key}"
        entered = (typed or {}).get(name, "")
        codes = _codes(wanted, now)
        if codes or entered:
            fields.append(CodeField(name, wanted.label, codes, entered))
    return tuple(fields)


def _codes(wanted: MaterialWanted, now: datetime) -> tuple[tuple[str, str], ...]:
    if wanted.is_batch:
        batches = GlueBatch.objects.filter(glue=wanted.glue, mixed_at__gte=now - OLDEST - timedelta(days=1))
        mixed = gettext("mixed {time}")
        return tuple((batch.code, mixed.format(time=moment(batch.mixed_at))) for batch in batches[:_MOST_CODES])
    lots = MaterialLot.objects.filter(kind=wanted.kind).order_by("-received_on", "code")
    fitting = sorted(lots[:_MOST_CODES], key=lambda lot: lot.name.casefold() != wanted.name.casefold())
    return tuple((lot.code, lot.name) for lot in fitting)
