"""One drum's whole spec: every section computed from the same inputs."""

from __future__ import annotations

from dataclasses import dataclass

from routing.specs.coats import CoatsResult, coats
from routing.specs.cutting import CuttingResult, cut_sizes, pressed_height
from routing.specs.drilling import DrillingResult, drilling
from routing.specs.edges import EdgeResult, edge_geometry
from routing.specs.errors import SpecWarning
from routing.specs.gluing import GluingResult, gluing
from routing.specs.hardware import HardwareResult, hardware
from routing.specs.inputs import DrumInputs, FinishKind, Role
from routing.specs.layup import LayUpResult, lay_up
from routing.specs.mass import MassResult, finish_mass, mass
from routing.specs.moisture import MoistureResult, moisture
from routing.specs.packing import DrumEnvelope, PackedDrum, envelope
from routing.specs.pressing import PressingResult, pressing
from routing.specs.seam_lines import seam_lines
from routing.specs.shell import ShellGeometry, outside_diameter, shell_geometry
from routing.specs.snare_bed import SnareBedResult, snare_bed
from routing.specs.tuning import TuningResult, tuning
from routing.specs.wrap import WrapResult
from routing.specs.wrap import wrap as cover

# Raised by one whenever a formula gives another number than before; frozen with every result.
FORMULA_VERSION = "2"


@dataclass(frozen=True, slots=True)
class EdgesResult:
    batter: EdgeResult
    resonant: EdgeResult


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
    edges: EdgesResult
    snare_bed: SnareBedResult | None
    coats: CoatsResult
    wrap: WrapResult | None
    drilling: DrillingResult
    hardware: HardwareResult
    mass: MassResult
    tuning: TuningResult | None
    packing: DrumEnvelope
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
    edges = EdgesResult(
        batter=edge_geometry(
            wall_mm=layup.wall_mm, outside_diameter_mm=wood_mm, edge=inputs.batter_edge, field="batter_edge"
        ),
        resonant=edge_geometry(
            wall_mm=layup.wall_mm, outside_diameter_mm=wood_mm, edge=inputs.resonant_edge, field="resonant_edge"
        ),
    )
    film = coats(
        finish=inputs.finish,
        outside_area_m2=shell.outside_area_m2,
        inside_area_m2=shell.inside_area_m2,
        room=inputs.room,
    )
    covering = (
        None
        if wrap is None
        else cover(
            wrap=wrap,
            wood_diameter_mm=wood_mm,
            depth_mm=depth_mm,
            nominal_diameter_mm=inputs.nominal_diameter_in * 25.4,
        )
    )
    drills = drilling(
        role=inputs.role,
        hardware=inputs.hardware,
        outside_diameter_mm=shell.diameter_over_finish_mm,
        depth_mm=depth_mm,
        seams=seam_lines(layup),
        wrap_pieces=0 if covering is None else covering.pieces,
    )
    parts = hardware(inputs.hardware, depth_mm=depth_mm, diameter_in=inputs.nominal_diameter_in)
    weight = mass(
        plates=inputs.plates,
        layup=layup,
        depth_mm=depth_mm,
        moisture_pct=inputs.room.plate_moisture_pct,
        parts=inputs.hardware.parts,
        hole_diameters_mm=tuple(hole.diameter_mm for hole in drills.holes),
        glue_area_m2=glue.area_m2 * depth_mm / height_mm,
        spread_g_per_m2=inputs.glue.spread_g_per_m2,
        glue_solids_pct=inputs.glue.solids_pct,
        edge_profiles=(edges.batter.profile, edges.resonant.profile),
        finish_g=finish_mass(film, covering, wrap_thickness_mm=wrap_mm),
    )
    bed = _snare_bed(inputs, edges.resonant, drills)
    pitch = (
        None
        if inputs.tuning is None
        else tuning(
            targets=inputs.tuning,
            batter_diameter_mm=edges.batter.apex_diameter_mm,
            resonant_diameter_mm=edges.resonant.apex_diameter_mm,
        )
    )
    sections = (
        shell,
        layup,
        cutting,
        water,
        glue,
        press,
        edges.batter,
        edges.resonant,
        bed,
        film,
        covering,
        drills,
        parts,
        weight,
        pitch,
    )
    return SpecSheet(
        formula_version=FORMULA_VERSION,
        shell=shell,
        layup=layup,
        cutting=cutting,
        moisture=water,
        gluing=glue,
        pressing=press,
        edges=edges,
        snare_bed=bed,
        coats=film,
        wrap=covering,
        drilling=drills,
        hardware=parts,
        mass=weight,
        tuning=pitch,
        packing=envelope(as_packed(inputs, shell)),
        warnings=tuple(warning for section in sections if section is not None for warning in section.warnings),
    )


def _snare_bed(inputs: DrumInputs, edge: EdgeResult, drills: DrillingResult) -> SnareBedResult | None:
    """Beds stand under the strainer and the butt plate; without either in the hardware, a quarter turn from the datum."""
    if inputs.snare_bed is None or inputs.role is not Role.SNARE:
        return None
    strainer = next((piece.angle_deg for piece in drills.pieces if piece.kind == "strainer"), drills.turn_deg + 180)
    return snare_bed(bed=inputs.snare_bed, apex_diameter_mm=edge.apex_diameter_mm, strainer_deg=strainer)


def as_packed(inputs: DrumInputs, shell: ShellGeometry, *, name: str = "") -> PackedDrum:
    """A drum as it goes into a carton: with its hardware, mounts included."""
    return PackedDrum(
        name=name or inputs.role.value,
        outside_diameter_mm=shell.diameter_over_finish_mm,
        inside_diameter_mm=shell.inside_diameter_mm,
        depth_mm=shell.depth_mm,
        outside_projection_mm=max(inputs.hardware.lugs.projection_mm, inputs.hardware.mount_projection_mm),
        inside_projection_mm=inputs.hardware.inside_projection_mm,
    )
