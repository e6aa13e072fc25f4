"""The spec bench: set up any drum without an order, see every number at once, compare two, save one as a drum model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from quality.rights import Right, has_right
from routing.freezing import drum_inputs
from routing.models import DrumModel, Finish, Shop
from routing.recipe_check import RECIPE_ROWS
from routing.specs.errors import SpecError
from routing.specs.jsonable import to_json
from routing.specs.sheet import SpecSheet, compute_sheet
from routing.station_numbers import station_drawings
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.bench.forms import BenchForm, SaveForm, proposed_code
from shopfloor.bench.sections import Section, sections_of


@dataclass(frozen=True, slots=True)
class Setup:
    """A drum as set up on the bench: its form, and its sheet when one can be computed."""

    form: BenchForm
    query: str
    sheet: SpecSheet | None
    sections: list[Section]

    @property
    def drawings(self) -> list[tuple[str, str]]:
        return station_drawings(to_json(self.sheet)) if self.sheet else []

    @property
    def drum(self) -> str:
        return f"{self.form.instance}, {self.form.cleaned_data['finish']}" if self.sheet else ""


@require_safe
@needs(Right.SEE_RECIPES)
def bench(request: HttpRequest) -> HttpResponse:
    here = _set_up(_chosen(request))
    other = _set_up(QueryDict(request.GET.get("other", ""))) if request.GET.get("other") else None
    context = {
        "here": here,
        "other": other,
        "rows": _side_by_side(here, other) if other else [],
        "models": DrumModel.objects.filter(is_active=True).select_related("line"),
        "may_save": has_right(signed_in(request), Right.EDIT_RECIPES),
        "save_form": SaveForm(initial={"code": proposed_code(here.form.instance) if here.sheet else ""}),
    }
    template = "bench/bench.html#result" if request.headers.get("HX-Request") else "bench/bench.html"
    return render(request, template, context)


@require_POST
@needs(Right.EDIT_RECIPES)
def save(request: HttpRequest) -> HttpResponse:
    """Keep what is set up on the bench as a drum model."""
    here, save_form = _set_up(request.POST), SaveForm(request.POST)
    if here.sheet is None or not save_form.is_valid():
        return render(
            request,
            "bench/bench.html",
            {
                "here": here,
                "other": None,
                "rows": [],
                "models": DrumModel.objects.filter(is_active=True).select_related("line"),
                "may_save": True,
                "save_form": save_form,
            },
            status=422,
        )
    with writing():
        model = here.form.save(commit=False)
        model.code = save_form.cleaned_data["code"]
        model.save()
    messages.success(request, f"{model} is in the recipe book with the code {model.code}.")
    return redirect("catalog:recipe", kind="drums", pk=model.pk)


def _chosen(request: HttpRequest) -> QueryDict:
    """What is on the bench: the form as sent, else the drum model asked for, else the first in the book."""
    if "role" in request.GET:
        return request.GET
    models = DrumModel.objects.filter(is_active=True).select_related("line")
    model = models.filter(code=request.GET.get("model", "")).first() or models.first()
    data = QueryDict(mutable=True)
    if model is None:
        return data
    for name in BenchForm.Meta.fields:
        if name == "finish":
            finish = Finish.objects.filter(kind=model.line.finish_kind, is_active=True).order_by("name").first()
            value: Any = finish.pk if finish else None
        else:
            value = model.serializable_value(name)
        if value is not None:
            data[name] = str(value)
    return data


def _set_up(data: QueryDict) -> Setup:
    form = BenchForm(data)
    kept = QueryDict(mutable=True)
    for name in BenchForm.Meta.fields:
        if data.get(name):
            kept[name] = str(data[name])
    if not form.is_valid():
        return Setup(form, kept.urlencode(), None, [])
    prefetch_related_objects([form.instance], *RECIPE_ROWS)
    try:
        sheet = compute_sheet(drum_inputs(form.instance, form.cleaned_data["finish"], Shop.current()))
    except SpecError as error:
        form.add_error(_field_of(error.field, form), error.message)
        return Setup(form, kept.urlencode(), None, [])
    for warning in sheet.warnings:
        field = _field_of(warning.field, form)
        if field is not None:
            _stand_beside(form, field, warning.message)
    return Setup(form, kept.urlencode(), sheet, sections_of(sheet))


# Which field of the form has what a spec names as the cause.
_CAUSES = {
    "plates": "lay_up",
    "seam": "lay_up",
    "glue": "lay_up",
    "press": "lay_up",
    "finish": "finish",
    "hardware": "hardware",
    "snare_bed": "snare_bed_depth_mm",
    "tuning": "batter_pitch_hz",
    "batter_edge": "batter_edge",
    "resonant_edge": "resonant_edge",
}


def _field_of(cause: str, form: BenchForm) -> str | None:
    first = cause.split(".")[0]
    if first in form.fields:
        return first
    return _CAUSES.get(first)


def _stand_beside(form: BenchForm, field: str, message: str) -> None:
    """Put a warning under the field that causes it, after its help."""
    beside = form.fields[field]
    warnings = getattr(beside, "warnings", ())
    beside.warnings = (*warnings, message)  # type: ignore[attr-defined]


def _side_by_side(here: Setup, other: Setup) -> list[dict[str, Any]]:
    """The lines of both setups, and which of them differ."""
    there = {line.key: line for section in other.sections for line in section.lines}
    rows = []
    for section in here.sections:
        for line in section.lines:
            beside = there.get(line.key)
            rows.append(
                {
                    "section": section.title,
                    "line": line,
                    "other": beside,
                    "differs": beside is None or beside.value != line.value,
                }
            )
    return rows
