"""Every hole of a released shell: the table, the map, and files for a drawing program and a rotary drill."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from quality.rights import Right
from routing.drawing_words import in_words
from routing.drawings.template_pages import Paper, TemplateHole, plan_tiles, template_tiles
from routing.frozen import current_spec
from routing.kits import drum_name
from routing.models import Shell, ShellSpec, Shop, StationKind
from routing.specs.drilling import DrillingResult
from routing.specs.hole_files import drilling_program, hole_map_dxf
from routing.specs.jsonable import from_json
from routing.specs.layup import LayUpResult
from routing.specs.seam_lines import SeamLine, seam_lines, seam_runs
from routing.station_drawings import station_drawing
from shopfloor.access import needs, the_shell
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.rings import ring_of

SEES_SHELLS = needs(Right.SEE_TRACE)


@require_safe
@SEES_SHELLS
def holes(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    spec = current_spec(shell)
    context = {
        "shell": shell,
        "ring": ring_of(shell, timezone.now()),
        "spec": spec,
        "drilling": spec.results["drilling"],
        "map": station_drawing(StationKind.DRILL, spec.results),
        "warnings": spec.results["drilling"]["warnings"],
    }
    return render(request, "holes/holes.html", context)


@require_safe
@SEES_SHELLS
def dxf(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    spec = current_spec(shell)
    text = hole_map_dxf(_drilling(spec), title=_title(shell, spec), seams=_seams(spec))
    return _file(text, "image/vnd.dxf", f"holes-{shell.serial}-r{spec.revision}.dxf")


@require_safe
@SEES_SHELLS
def program(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    spec = current_spec(shell)
    text = drilling_program(_drilling(spec), title=_title(shell, spec), wall_mm=_through(spec))
    return _file(text, "text/plain", f"drill-{shell.serial}-r{spec.revision}.ngc")


@require_safe
@SEES_SHELLS
def template(request: HttpRequest, serial: str) -> HttpResponse:
    """A paper template at true scale that wraps round the shell, on as many sheets as it takes."""
    shell = the_shell(serial)
    spec = current_spec(shell)
    paper: Paper = "Letter" if request.GET.get("paper", Shop.current().paper_size).lower() == "letter" else "A4"
    drilling = spec.results["drilling"]
    per_degree = drilling["circumference_mm"] / 360
    sheets = template_tiles(
        circumference_mm=drilling["circumference_mm"],
        height_mm=drilling["height_mm"],
        holes=[
            TemplateHole(h["number"], h["arc_mm"], h["height_mm"], h["diameter_mm"], h["feature"])
            for h in drilling["holes"]
        ],
        seam_arcs_mm=[
            angle * per_degree for plate in spec.results["layup"]["plates"] for angle in plate["seam_angles_deg"]
        ],
        seam_runs=seam_runs(_seams(spec), drilling["circumference_mm"], drilling["height_mm"]),
        name=_("{drum}, spec revision {revision}").format(
            drum=f"{shell.serial} {drum_name(shell.model)}", revision=spec.revision
        ),
        paper=paper,
    )
    try:
        tiling = plan_tiles(drilling["circumference_mm"], drilling["height_mm"], paper)
        pdf = pdf_from_template(
            "holes/template.html",
            {"sheets": [in_words(sheet) for sheet in sheets], "tiling": tiling},
            css="template.css",
        )
    except PaperError as error:
        return render(request, "holes/refused.html", {"sentence": str(error), "shell": shell}, status=422)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="template-{shell.serial}-r{spec.revision}.pdf"'
    return response


def _drilling(spec: ShellSpec) -> DrillingResult:
    return from_json(DrillingResult, spec.results["drilling"])


def _through(spec: ShellSpec) -> float:
    """What a drill goes through: the wall, and the wrap on it."""
    shell = spec.results["shell"]
    return float(shell["wall_mm"] + (shell["diameter_over_finish_mm"] - shell["outside_diameter_mm"]) / 2)


def _seams(spec: ShellSpec) -> tuple[SeamLine, ...]:
    return seam_lines(from_json(LayUpResult, spec.results["layup"]))


def _title(shell: Shell, spec: ShellSpec) -> str:
    """As files for a drawing program and a drill have it, in English."""
    return f"{shell.serial} {shell.model}, spec revision {spec.revision}"


def _file(text: str, content_type: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type=f"{content_type}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
