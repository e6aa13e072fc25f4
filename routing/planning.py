"""From a route template and a spec to the steps of one shell."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from routing.errors import NotReleasable
from routing.models import DwellKind, RouteStep, RouteTemplate, Station, StationKind, StepRepeat
from routing.specs.inputs import CoatStage, DrumInputs
from routing.specs.sheet import SpecSheet

_SEAL_STAGES = {CoatStage.INSIDE_SEAL, CoatStage.SEAL}


@dataclass(frozen=True, slots=True)
class PlannedStep:
    station: Station
    title: str
    coat_index: int | None
    dwell_kind: str
    dwell_minutes: int
    work_min: float | None = None  # None: what the station says


def current_template(role: str, finish_kind: str) -> RouteTemplate:
    """The route in force for a role and kind of finish. Raises NotReleasable when there is none."""
    template = (
        RouteTemplate.objects.filter(role=role, finish_kind=finish_kind, is_current=True)
        .prefetch_related("steps__station")
        .first()
    )
    if template is None or not template.steps.all():
        missing = _(
            "There is no route for a {role} with a {kind} finish; make one in the recipe book under Routes."
        ).format(role=_(role.replace("_", " ")), kind=_(finish_kind))
        raise NotReleasable("no_route", missing)
    return template


def plan_steps(template: RouteTemplate, inputs: DrumInputs, sheet: SpecSheet) -> list[PlannedStep]:
    """The steps in route order: coat steps once for each coat, dwells from the template or else from the spec."""
    steps: list[PlannedStep] = []
    for step in template.steps.all():
        if step.repeat == StepRepeat.ONCE:
            steps.append(_once(step, inputs))
        else:
            steps.extend(_for_each_coat(step, inputs, sheet))
    return steps


def _once(step: RouteStep, inputs: DrumInputs) -> PlannedStep:
    dwell_h = step.dwell_h
    if dwell_h is None:
        if step.station.kind == StationKind.PRESS:
            dwell_h = inputs.press.rest_h
        elif step.station.kind == StationKind.WRAP and inputs.finish.wrap is not None:
            dwell_h = inputs.finish.wrap.press_rest_h
        else:
            dwell_h = 0.0
    return PlannedStep(
        step.station, step.station.name, None, _kind(step.dwell_kind, dwell_h), _minutes(dwell_h), step.work_min
    )


def _for_each_coat(step: RouteStep, inputs: DrumInputs, sheet: SpecSheet) -> list[PlannedStep]:
    coats = inputs.finish.coats
    sealing = step.repeat == StepRepeat.SEAL_COATS
    indexes = [index for index, coat in enumerate(coats) if (coat.stage in _SEAL_STAGES) == sealing]
    planned = []
    for number, index in enumerate(indexes, start=1):
        dwell_h = step.dwell_h
        if dwell_h is None:
            dwell_h = sheet.coats.coats[index].dwell_h
            if index == len(coats) - 1:
                # Nothing may be drilled or screwed on before the whole film has cured.
                dwell_h = max(dwell_h, inputs.finish.cure_to_drill_h)
        title = f"{step.station.name} {number} of {len(indexes)}: {coats[index].name}"
        planned.append(
            PlannedStep(
                step.station,
                title[:80],
                index,
                _kind(step.dwell_kind or DwellKind.DRY, dwell_h),
                _minutes(dwell_h),
                step.work_min,
            )
        )
    return planned


def _minutes(hours: float) -> int:
    return round(hours * 60)


def _kind(kind: str, dwell_h: float) -> str:
    if dwell_h <= 0:
        return DwellKind.NONE
    return kind or DwellKind.REST
