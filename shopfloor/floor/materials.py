"""The materials of a step as its form asks for them: what fits, and what was used here last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.materials import MaterialWanted, fitting_lots, materials_wanted, usable_batches
from quality.models import MaterialLot, MaterialUse
from routing.models import Operation, ShellSpec, Station

FIELD, CODE = "material-", "-code"  # the choice, and the code that was scanned or typed instead of it
LOOKED_BACK = 60  # uses


@dataclass(frozen=True, slots=True)
class MaterialChoice:
    code: str
    words: str


@dataclass(frozen=True, slots=True)
class MaterialField:
    key: str
    label: str
    required: bool
    choices: tuple[MaterialChoice, ...]
    chosen: str  # a code among the choices, or nothing
    typed: str  # to be shown again after a refusal


def material_fields(
    steps: Sequence[tuple[Operation, ShellSpec]],
    *,
    device: str,
    now: datetime,
    typed: Mapping[str, str] | None = None,
) -> tuple[MaterialField, ...]:
    """What the form of a step, or of the same step of several shells, asks for.

    A kind of material of which the shop keeps no lots is not asked for at all.
    """
    wanted: dict[str, MaterialWanted] = {}
    for operation, spec in steps:
        for each in materials_wanted(operation, spec.results, spec.inputs, at=now):
            if each.key not in wanted or (each.required and not wanted[each.key].required):
                wanted[each.key] = each
    typed = typed or {}
    was_sent = any(name.startswith(FIELD) for name in typed)
    last = {} if was_sent or not wanted else _used_last(steps[0][0].station, device)
    fields = []
    for each in wanted.values():
        choices = choices_of(each, now)
        code = typed.get(f"{FIELD}{each.key}{CODE}", "")
        if not (choices or each.required or code or _keeps(each)):
            continue
        codes = [choice.code for choice in choices]
        if was_sent:
            chosen = typed.get(f"{FIELD}{each.key}", "")
        else:
            chosen = next((used for used in last.get(each.label, ()) if used in codes), "")
            if not chosen and each.required and len(codes) == 1:
                chosen = codes[0]
        fields.append(MaterialField(each.key, each.asked_for, each.required, choices, chosen, code))
    return tuple(fields)


def material_answers(form: QueryDict) -> dict[str, str]:
    """Key of a material → code: what was scanned or typed, else what was chosen."""
    answers: dict[str, str] = {}
    for name in form:
        if name.startswith(FIELD) and not name.endswith(CODE):
            answers.setdefault(name.removeprefix(FIELD), form.get(name, ""))
        elif name.startswith(FIELD) and form.get(name, "").strip():
            answers[name.removeprefix(FIELD).removesuffix(CODE)] = form.get(name, "")
    return answers


def minutes_left(until: datetime, now: datetime) -> str:
    """“34 min left”."""
    return _("{time} left").format(time=_long(until, now))


def _long(until: datetime, now: datetime) -> str:
    """A minute that has begun is not counted."""
    minutes = max(0, int((until - now).total_seconds() // 60))
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"


def choices_of(wanted: MaterialWanted, now: datetime) -> tuple[MaterialChoice, ...]:
    if wanted.is_batch:
        return tuple(
            MaterialChoice(batch.code, f"{batch.code}, {_long(batch.use_until, now)}")
            for batch in usable_batches(now).filter(glue=wanted.glue)
        )
    return tuple(MaterialChoice(lot.code, _words(lot, now)) for lot in fitting_lots(wanted, now))


def _words(lot: MaterialLot, now: datetime) -> str:
    last_day = " (" + _("last day") + ")" if lot.expires_on == timezone.localdate(now) else ""
    return f"{lot.code}, {lot.name}{last_day}"


def _keeps(wanted: MaterialWanted) -> bool:
    return not wanted.is_batch and MaterialLot.objects.filter(kind=wanted.kind).exists()


def _used_last(station: Station, device: str) -> dict[str, list[str]]:
    """For each material, by the words of its label, the codes used at this station: those of this tablet first."""
    uses = (
        MaterialUse.objects.filter(sign_off__operation__station=station)
        .select_related("sign_off__record")
        .order_by("-pk")[:LOOKED_BACK]
    )
    here = [use for use in uses if use.sign_off.record.device == device]
    others = [use for use in uses if use.sign_off.record.device != device]
    return _by_label([*here, *others])


def _by_label(uses: Sequence[MaterialUse]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for use in uses:
        for entry in use.sign_off.record.body.get("materials", []):
            found.setdefault(entry["for"], []).append(entry["code"])
    return found
