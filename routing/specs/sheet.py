"""One drum's whole spec: every section computed from the same inputs."""

from __future__ import annotations

from dataclasses import dataclass

from routing.specs.cutting import CuttingResult, cut_sizes, pressed_height
from routing.specs.errors import SpecWarning
from routing.specs.gluing import GluingResult, gluing
from routing.specs.inputs import DrumInputs, FinishKind
from routing.specs.layup import LayUpResult, lay_up
from routing.specs.mass import MassResult, hole_diameters, mass
from routing.specs.moisture import MoistureResult, moisture
from routing.specs.pressing import PressingResult, pressing
from routing.specs.shell import ShellGeometry, outside_diameter, shell_geometry

# Raised by one whenever a formula gives another number than before; frozen with every result.
FORMULA_VERSION = "1"


@dataclass(frozen=True, slots=True)
class SpecSheet:
    """Everything the stations need to know about one drum. A section that does not apply is None."""

    formula_version: str
    shell: ShellGeometry
    layup: LayUpResult
    cutting: CuttingResult
    moisture: MoistureResult
    gluing: GluingResult
    pressing: PressingResult
    mass: MassResult
    coats: None
    warnings: tuple[SpecWarning, ...]


def compute_sheet(inputs: DrumInputs) -> SpecSheet:
    """The spec of one drum. Pure: the same inputs give the same sheet. SpecError when no drum can be made from them."""
    wrap = inputs.finish.wrap if inputs.finish.kind is FinishKind.WRAP else None
    wrap_mm = 0.0 if wrap is None else wrap.thickness_mm
    wood_mm = outside_diameter(
        inputs.nominal_diameter_in, head_undersize_mm=inputs.head_undersize_mm, wrap_thickness_mm=wrap_mm
    )
    depth_mm = inputs.nominal_depth_in * 25.4
    height_mm = pressed_height(depth_mm, inputs.trim_each_end_mm)
    layup = lay_up(wood_mm, inputs.plates, inputs.seam, height_mm=height_mm)
    shell = shell_geometry(
        role=inputs.role,
        nominal_diameter_in=inputs.nominal_diameter_in,
        nominal_depth_in=inputs.nominal_depth_in,
        wall_mm=layup.wall_mm,
        head_undersize_mm=inputs.head_undersize_mm,
        wrap_thickness_mm=wrap_mm,
    )
    cutting = cut_sizes(
        layup=layup,
        plates=inputs.plates,
        depth_mm=depth_mm,
        trim_each_end_mm=inputs.trim_each_end_mm,
        rough_length_allowance_mm=inputs.rough_length_allowance_mm,
        rough_width_allowance_mm=inputs.rough_width_allowance_mm,
    )
    water = moisture(
        plates=inputs.plates,
        room=inputs.room,
        pressed_height_mm=height_mm,
        spread_g_per_m2=inputs.glue.spread_g_per_m2,
        glue_solids_pct=inputs.glue.solids_pct,
    )
    glue = gluing(layup=layup, height_mm=height_mm, glue=inputs.glue, temperature_c=inputs.room.temperature_c)
    press = pressing(layup=layup, height_mm=height_mm, press=inputs.press)
    weight = mass(
        plates=inputs.plates,
        layup=layup,
        depth_mm=depth_mm,
        moisture_pct=inputs.room.plate_moisture_pct,
        parts=inputs.hardware.parts,
        hole_diameters_mm=hole_diameters(inputs.hardware),
        glue_area_m2=glue.area_m2 * depth_mm / height_mm,
        spread_g_per_m2=inputs.glue.spread_g_per_m2,
        glue_solids_pct=inputs.glue.solids_pct,
    )
    sections = (shell, layup, cutting, water, glue, press, weight)
    return SpecSheet(
        formula_version=FORMULA_VERSION,
        shell=shell,
        layup=layup,
        cutting=cutting,
        moisture=water,
        gluing=glue,
        pressing=press,
        mass=weight,
        coats=None,
        warnings=tuple(warning for section in sections for warning in section.warnings),
    )
