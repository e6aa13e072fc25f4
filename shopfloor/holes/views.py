"""Every hole of a released shell: the table, the map, and files for a drawing program and a rotary drill."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from quality.actions import current_spec
from quality.rights import Right
from routing.models import Shell, ShellSpec, StationKind
from routing.specs.drilling import DrillingResult
from routing.specs.hole_files import drilling_program, hole_map_dxf
from routing.specs.jsonable import from_json
from routing.station_numbers import station_drawing
from shopfloor.access import needs, the_shell

SEES_SHELLS = needs(Right.SEE_TRACE)


@require_safe
@SEES_SHELLS
def holes(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    spec = current_spec(shell)
    context = {
        "shell": shell,
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
    seams = [angle for plate in spec.results["layup"]["plates"] for angle in plate["seam_angles_deg"]]
    text = hole_map_dxf(_drilling(spec), title=_title(shell, spec), seam_angles_deg=seams)
    return _file(text, "image/vnd.dxf", f"holes-{shell.serial}-r{spec.revision}.dxf")


@require_safe
@SEES_SHELLS
def program(request: HttpRequest, serial: str) -> HttpResponse:
    shell = the_shell(serial)
    spec = current_spec(shell)
    text = drilling_program(_drilling(spec), title=_title(shell, spec), wall_mm=spec.results["shell"]["wall_mm"])
    return _file(text, "text/plain", f"drill-{shell.serial}-r{spec.revision}.ngc")


def _drilling(spec: ShellSpec) -> DrillingResult:
    return from_json(DrillingResult, spec.results["drilling"])


def _title(shell: Shell, spec: ShellSpec) -> str:
    return f"{shell.serial} {shell.model}, spec revision {spec.revision}"


def _file(text: str, content_type: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type=f"{content_type}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
