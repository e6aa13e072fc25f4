"""The spec bench: set up any drum without an order, see every number at once, compare two, save one as a drum model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.rights import Right, has_right
from routing.drawings.nest_section import NestDrum, nest_section_svg
from routing.freezing import drum_inputs
from routing.kits import drum_name
from routing.models import DrumModel, Finish, Shop
from routing.recipe_check import RECIPE_ROWS
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import to_json
from routing.specs.sheet import SpecSheet, compute_sheet
from routing.station_drawings import station_drawings
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.bench.forms import BenchForm, SaveForm, proposed_code
from shopfloor.bench.sections import Line, Section, Table, sections_of


@dataclass(frozen=True, slots=True)
class Setup:
    """A drum as set up on the bench: its form, and its sheet when one can be computed."""

    form: BenchForm
    query: str
    sheet: SpecSheet | None
    sections: list[Section]

    @property
    def drawings(self) -> list[tuple[str, str]]:
        if self.sheet is None:
            return []
        shell, packing = self.sheet.shell, self.sheet.packing
        hardware = self.form.instance.hardware
        packed = NestDrum(
            str(self.form.instance.size),
            shell.diameter_over_finish_mm,
            shell.inside_diameter_mm,
            shell.depth_mm,
            max(hardware.lug_projection_mm, hardware.mount_projection_mm),
            hardware.inside_projection_mm,
        )
        carton = nest_section_svg(
            [packed], carton_side_mm=packing.carton_side_mm, carton_height_mm=packing.carton_height_mm
        )
        return [*station_drawings(to_json(self.sheet)), (_("In a carton of its own"), carton)]

    @property
    def drum(self) -> str:
        return f"{drum_name(self.form.instance)}, {self.form.cleaned_data['finish']}" if self.sheet else ""


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
    kept = _("{model} is in the recipe book with the code {code}.")
    messages.success(request, kept.format(model=drum_name(model), code=model.code))
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
    for name in (*BenchForm.Meta.fields, *TRIAL):
        if data.get(name):
            kept[name] = str(data[name])
    if not form.is_valid():
        return Setup(form, kept.urlencode(), None, [])
    prefetch_related_objects([form.instance], *RECIPE_ROWS)
    try:
        inputs = drum_inputs(form.instance, form.cleaned_data["finish"], Shop.current())
        sheet = compute_sheet(_on_trial(inputs, form))
    except SpecError as error:
        form.add_error(_field_of(error.field, form), spoken(error.message))
        return Setup(form, kept.urlencode(), None, [])
    for warning in sheet.warnings:
        field = _field_of(warning.field, form)
        if field is not None:
            _stand_beside(form, field, spoken(warning.message))
    return Setup(form, kept.urlencode(), sheet, sections_of(sheet))


TRIAL = ("temperature_c", "humidity_pct", "plate_moisture_pct", "measured_mm")


def _on_trial(inputs: DrumInputs, form: BenchForm) -> DrumInputs:
    """The inputs in the room and with the plates that somebody wants to try. Raises SpecError for too many plates."""
    room = {name: form.cleaned_data[name] for name in TRIAL[:3] if form.cleaned_data[name] is not None}
    measured = form.cleaned_data["measured_mm"]
    if len(measured) > len(inputs.plates):
        refused = _("This lay-up has {plates} plates; give at most so many.").format(plates=len(inputs.plates))
        raise SpecError("too_many_plates", "measured_mm", refused)
    found = (*measured, *[None] * (len(inputs.plates) - len(measured)))
    plates = tuple(
        replace(plate, measured_thickness_mm=thickness) for plate, thickness in zip(inputs.plates, found, strict=True)
    )
    return replace(inputs, room=replace(inputs.room, **room), plates=plates)


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
    first, last = cause.split(".")[0], cause.split(".")[-1]
    if last == "measured_thickness_mm":
        return "measured_mm"
    if first == "room" and last in form.fields:
        return last
    if first in form.fields:
        return first
    return _CAUSES.get(first)


def _stand_beside(form: BenchForm, field: str, message: str) -> None:
    """Put a warning under the field that causes it, after its help."""
    beside = form.fields[field]
    warnings = getattr(beside, "warnings", ())
    beside.warnings = (*warnings, message)  # type: ignore[attr-defined]


def _side_by_side(here: Setup, other: Setup) -> list[dict[str, Any]]:
    """Every section of both setups: their lines with what differs, and their tables beside each other."""
    both: dict[str, tuple[Section | None, Section | None]] = {section.key: (section, None) for section in here.sections}
    for section in other.sections:
        mine = both.get(section.key, (None, None))[0]
        both[section.key] = (mine, section)
    return [_pair(mine, yours) for mine, yours in both.values()]


def _pair(mine: Section | None, yours: Section | None) -> dict[str, Any]:
    lines: dict[str, list[Line | None]] = {}
    for place, section in enumerate((mine, yours)):
        for line in section.lines if section else ():
            lines.setdefault(line.key, [None, None])[place] = line
    tables: dict[str, list[Table | None]] = {}
    for place, section in enumerate((mine, yours)):
        for table in section.tables if section else ():
            tables.setdefault(table.title, [None, None])[place] = table
    known = mine or yours
    return {
        "title": known.title if known else "",
        "lines": [
            {"label": (a or b).label, "here": a, "other": b, "differs": a is None or b is None or a.value != b.value}  # type: ignore[union-attr]
            for a, b in lines.values()
        ],
        "tables": [{"title": title, "pair": pair, "differs": pair[0] != pair[1]} for title, pair in tables.items()],
    }
