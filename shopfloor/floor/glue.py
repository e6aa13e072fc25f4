"""Mixing glue at the press: what to weigh for the shells of a load, and the batch with its clock."""

from __future__ import annotations

import re
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.db.models import F, Q
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.errors import QualityError
from quality.glue_batches import MINUTES_PER_SHELL, Suggestion, mix_glue_batch, suggest_batch, use_up
from quality.materials import LOT_OF, MaterialWanted, glue_of, usable_batches
from quality.models import GlueBatch, GlueBatchPart, LotKind
from routing.climate import newest_reading
from routing.errors import RoutingError
from routing.languages import numeral
from routing.models import Glue, Operation, OperationState, ShellSpec, Shop, Station, StationKind
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from shopfloor.floor.materials import CODE, FIELD, MaterialField, choices_of, material_answers, minutes_left
from shopfloor.floor.numbers import number_of
from shopfloor.floor.tablet import Tablet, at_station, worker_needed
from shopfloor.refusals import status_of

_THOUSAND = re.compile(r"\d{1,3}[.,]\d{3}")
REFUSALS = (RoutingError, QualityError, SpecError)


@dataclass(frozen=True, slots=True)
class BatchInUse:
    pk: int
    code: str
    glue: str
    use_until: datetime
    left: str


@dataclass(frozen=True, slots=True)
class LoadShell:
    spec: ShellSpec
    glue: str
    to_mix_g: float
    chosen: bool


@dataclass(frozen=True, slots=True)
class PartToWeigh:
    position: int
    name: str
    suggested: str
    typed: str


def batches_in_use(station: Station, now: datetime) -> tuple[BatchInUse, ...]:
    """The glue that may still be spread, for the queue of a press station; nothing elsewhere."""
    if station.kind != StationKind.PRESS:
        return ()
    return tuple(
        BatchInUse(batch.pk, batch.code, batch.glue.name, batch.use_until, minutes_left(batch.use_until, now))
        for batch in usable_batches(now)
    )


def version_of(batches: Sequence[BatchInUse]) -> str:
    """Changes when a batch is mixed, used up or too old."""
    return "".join(f"-g{batch.pk}" for batch in batches)


@require_safe
@at_station
@worker_needed
def glue(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    return _page(request, tablet, request.GET)


@require_POST
@at_station
@worker_needed
def mix(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    _press_only(tablet.station)
    try:
        glued = _glue_named(request.POST)
        batch = mix_glue_batch(
            glue=glued,
            masses_g={
                part.position: _grams(request.POST.get(f"mass-{part.position}", ""), part.name)
                for part in glued.mix.all()
            },
            lots={
                int(key.removeprefix("part-")): code
                for key, code in material_answers(request.POST).items()
                if key.removeprefix("part-").isdecimal()
            },
            temperature_c=number_of(request.POST.get("temperature_c", ""), _("temperature")),
            person=tablet.person,
            station=tablet.station,
            stamp=tablet.stamp(request),
        )
    except REFUSALS as refused:
        return _page(
            request,
            tablet,
            request.POST,
            error=spoken(refused.message),
            status=status_of(refused),
        )
    until = timezone.localtime(batch.use_until).strftime("%H:%M")
    said = _("{code} is mixed. Write its code on the pot: to be used until {time}.")
    messages.success(request, said.format(code=batch.code, time=until))
    return redirect("floor:queue", tablet.station.code)


@require_POST
@at_station
@worker_needed
def used_up(request: HttpRequest, tablet: Tablet, pk: int) -> HttpResponse:
    _press_only(tablet.station)
    batch = get_object_or_404(GlueBatch, pk=pk)
    try:
        use_up(batch=batch, person=tablet.person, station=tablet.station, stamp=tablet.stamp(request))
    except REFUSALS as refused:
        return _page(request, tablet, request.GET, error=spoken(refused.message), status=422)
    messages.success(request, _("{code} is marked used up.").format(code=batch.code))
    return redirect("floor:queue", tablet.station.code)


def _page(
    request: HttpRequest, tablet: Tablet, asked: QueryDict, *, error: str = "", status: int = 200
) -> HttpResponse:
    """The load, and once shells are chosen what to weigh. ``asked`` is what was chosen and typed so far."""
    _press_only(tablet.station)
    load, glues = _load(tablet, asked.getlist("shell"))
    chosen = [shell for shell in load if shell.chosen]
    temperature = asked.get("temperature_c", "").strip() or numeral(_room_c(tablet))
    minutes = asked.get("minutes", "").strip() or numeral(MINUTES_PER_SHELL)
    suggestion: Suggestion | None = None
    if chosen:
        try:
            suggestion = suggest_batch(
                specs=[shell.spec for shell in chosen],
                glue=glues[chosen[0].glue],
                temperature_c=number_of(temperature, _("temperature")),
                minutes_per_shell=number_of(minutes, _("number of minutes")),
            )
        except SpecError as refused:
            error, status = error or spoken(refused.message), max(status, 422)
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "load": load,
        "several_glues": len(glues) > 1,
        "temperature": temperature,
        "minutes": minutes,
        "suggestion": suggestion,
        "parts": _parts(suggestion, asked) if suggestion else (),
        "materials": _lot_fields(suggestion.glue, asked, tablet.now) if suggestion else (),
        "batches": batches_in_use(tablet.station, tablet.now),
        "tap_key": secrets.token_urlsafe(16),
        "error": error,
        "now": tablet.now,
    }
    response = render(request, "floor/glue.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response


def _load(tablet: Tablet, chosen: Sequence[str]) -> tuple[list[LoadShell], dict[str, Glue]]:
    """The shells that can be glued now, in the order of the queue, and their glues by the name in their specs."""
    waiting = (
        Operation.objects.current()
        .filter(Q(not_before__isnull=True) | Q(not_before__lte=tablet.now), station=tablet.station)
        .exclude(state=OperationState.ON_HOLD)
        .select_related("shell__model__lay_up__glue")
        .order_by("shell__order__due", "ready_at", "shell__serial")
    )
    specs = {
        spec.shell_id: spec
        for spec in ShellSpec.objects.filter(
            shell__in=[operation.shell_id for operation in waiting], revision=F("shell__spec_revision")
        ).select_related("shell__order", "shell__model__line", "shell__finish")
    }
    load, glues = [], {}
    for operation in waiting:
        spec = specs[operation.shell_id]
        name = spec.inputs["glue"]["name"]
        if name not in glues:
            glues[name] = glue_of(operation, spec.inputs)
        load.append(LoadShell(spec, name, spec.results["gluing"]["to_mix_g"], spec.shell.serial in chosen))
    return load, glues


def _parts(suggestion: Suggestion, asked: QueryDict) -> list[PartToWeigh]:
    rows = []
    for part, weigh in zip(suggestion.glue.mix.all(), suggestion.mix, strict=True):
        grams = numeral(weigh.mass_g, ".0f" if weigh.mass_g >= 100 else ".1f")
        rows.append(PartToWeigh(part.position, part.name, grams, asked.get(f"mass-{part.position}", grams)))
    return rows


def _lot_fields(glue: Glue, asked: QueryDict, now: datetime) -> list[MaterialField]:
    """A lot for each part, where the shop keeps lots of glue; that of the last batch is chosen already."""
    last = {
        part.position: part.lot.code
        for part in GlueBatchPart.objects.filter(batch=GlueBatch.objects.filter(glue=glue).first()).select_related(
            "lot"
        )
        if part.lot is not None
    }
    fields = []
    for part in glue.mix.all():
        key = f"part-{part.position}"
        wanted = MaterialWanted(key, LotKind.GLUE, LOT_OF, part.name, named=part.name)
        choices = choices_of(wanted, now)
        if choices:
            chosen = asked.get(f"{FIELD}{key}", last.get(part.position, ""))
            fields.append(
                MaterialField(key, wanted.asked_for, False, choices, chosen, asked.get(f"{FIELD}{key}{CODE}", ""))
            )
    return fields


def _room_c(tablet: Tablet) -> float:
    """The temperature at the press as it was read in this shift, else the shop's usual one."""
    reading = newest_reading(tablet.station, tablet.now)
    return reading.temperature_c if reading else Shop.current().room_temperature_c


def _glue_named(form: QueryDict) -> Glue:
    words = form.get("glue", "")
    found = Glue.objects.filter(pk=int(words)).first() if words.isdecimal() and len(words) < 10 else None
    if found is None:
        raise SpecError("no_shells", "shells", _("Choose the shells first; the masses follow from them."))
    return found


def _grams(words: str, what: str) -> float:
    """A mass. With three figures after the sign it may be a thousand of somebody else's."""
    if _THOUSAND.fullmatch(words.strip()):
        raise SpecError(
            "two_ways",
            what,
            _("“{typed}” can be read in two ways. Write grams without a sign for thousands, for example 1250.").format(
                typed=words.strip()
            ),
        )
    return number_of(words, what)


def _press_only(station: Station) -> None:
    if station.kind != StationKind.PRESS:
        raise Http404(_("Glue is mixed at the press, not at {station}.").format(station=station.name))
