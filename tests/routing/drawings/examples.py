"""Drawings of whole drums for the tests, made from their specs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

from routing.drawing_words import day_names, row_in_words
from routing.drawings.cutting_sheet import cutting_sheet_svg
from routing.drawings.edge_profile import EdgeDrawing, edge_profile_svg
from routing.drawings.gantt import GanttBar, GanttRow, gantt
from routing.drawings.hole_map import MapHole, MapPiece, hole_map_svg
from routing.drawings.nest_section import NestDrum, nest_section_svg
from routing.drawings.plate_stack import StackPlate, plate_stack_svg
from routing.drawings.ring import KitDrum, RingSegment, kit_svg, ring_svg
from routing.drawings.template_pages import TemplateHole, template_tiles
from routing.specs.cutting_plan import Offcut, PlacedBlank, SheetLayout, StockSheet
from routing.specs.edges import EdgeResult
from routing.specs.inputs import DrumInputs, FittingInputs, Role
from routing.specs.seam_lines import Run, seam_lines, seam_runs
from routing.specs.sheet import SpecSheet, compute_sheet
from tests.routing.specs import example_drums

plan_over_time = partial(gantt, tell=row_in_words, days=day_names)

VENT = FittingInputs("vent", "vent", None, 1, ((0.0, 0.0, 12.7),), 20.0, 20.0)
SNARE: DrumInputs = replace(
    example_drums.SNARE,
    hardware=replace(
        example_drums.hardware(10),
        fittings=(
            VENT,
            FittingInputs("strainer", "strainer", None, 1, ((0.0, -20.0, 5.0), (0.0, 20.0, 5.0)), 40.0, 75.0),
            FittingInputs("butt plate", "butt", None, 1, ((0.0, -15.0, 5.0), (0.0, 15.0, 5.0)), 35.0, 50.0),
            FittingInputs("badge", "badge", None, 1, ((-14.0, 0.0, 2.0), (14.0, 0.0, 2.0)), 45.0, 30.0),
        ),
    ),
)
FLOOR_TOM = replace(
    example_drums.TOM,
    role=Role.FLOOR_TOM,
    nominal_diameter_in=16.0,
    nominal_depth_in=16.0,
    hardware=replace(
        example_drums.hardware(8),
        fittings=(
            VENT,
            FittingInputs("leg bracket", "leg", None, 3, ((0.0, -20.0, 6.5), (0.0, 20.0, 6.5)), 40.0, 70.0, 0.7),
        ),
    ),
)
FOUR = ((-30.0, -30.0, 6.5), (30.0, -30.0, 6.5), (-30.0, 30.0, 6.5), (30.0, 30.0, 6.5))
BASS = replace(
    example_drums.BASS,
    hardware=replace(
        example_drums.hardware(10),
        fittings=(
            VENT,
            FittingInputs("spur", "spur", None, 2, FOUR, 80.0, 80.0, height_mm=-90.0),
            FittingInputs("mount plate", "mount", None, 1, (*FOUR, (0.0, 0.0, 32.0)), 90.0, 90.0, 0.6),
        ),
    ),
)
DRUMS = {"snare": SNARE, "tom": example_drums.TOM, "floor tom": FLOOR_TOM, "bass": BASS}


def sheet_of(drum: str) -> SpecSheet:
    return compute_sheet(DRUMS[drum])


def stack_plates(sheet: SpecSheet) -> list[StackPlate]:
    return [
        StackPlate(p.name, p.thickness_mm, p.veneers, p.grain, p.seam_angles_deg, p.blank_length_mm)
        for p in sheet.layup.plates
    ]


def edge_drawing(edge: EdgeResult, wall_mm: float, **more: Any) -> EdgeDrawing:
    return EdgeDrawing(
        edge.name,
        wall_mm,
        edge.apex_offset_mm,
        edge.inner_angle_deg,
        edge.outer_angle_deg,
        edge.round_over_radius_mm,
        edge.inner_drop_mm,
        edge.outer_drop_mm,
        edge.profile,
        edge.land_mm,
        **more,
    )


def seam_arcs(sheet: SpecSheet) -> list[float]:
    per_degree = sheet.drilling.circumference_mm / 360
    return [angle * per_degree for plate in sheet.layup.plates for angle in plate.seam_angles_deg]


def runs(sheet: SpecSheet) -> list[Run]:
    drilling = sheet.drilling
    return seam_runs(seam_lines(sheet.layup), drilling.circumference_mm, drilling.height_mm)


def hole_map(sheet: SpecSheet) -> str:
    drilling = sheet.drilling
    return hole_map_svg(
        circumference_mm=drilling.circumference_mm,
        height_mm=drilling.height_mm,
        holes=[MapHole(h.number, h.arc_mm, h.height_mm, h.diameter_mm) for h in drilling.holes],
        pieces=[
            MapPiece(p.name, p.kind, p.arc_mm, p.height_mm, p.footprint_round_mm, p.footprint_axial_mm)
            for p in drilling.pieces
        ],
        seam_arcs_mm=seam_arcs(sheet),
        seam_runs=runs(sheet),
    )


def template_holes(sheet: SpecSheet) -> list[TemplateHole]:
    return [TemplateHole(h.number, h.arc_mm, h.height_mm, h.diameter_mm, h.feature) for h in sheet.drilling.holes]


NEST = (
    NestDrum("22×18 bass", 555.6, 541.2, 457.2, 35.0, 6.0),
    NestDrum("16×16 floor tom", 403.2, 392.4, 406.4, 28.0, 6.0),
    NestDrum("12×8 tom", 301.6, 290.8, 203.2, 24.0, 6.0),
)
STOCK = StockSheet("birch plate", 2500.0, 1250.0)
LAYOUT = SheetLayout(
    3,
    (
        PlacedBlank("K-1 plate 1", 0.0, 0.0, 1800.0, 490.0),
        PlacedBlank("K-2 plate 1", 0.0, 493.2, 300.0, 700.0),
        PlacedBlank("K-2 hoop", 303.2, 493.2, 40.0, 60.0),
    ),
    (Offcut(1803.2, 0.0, 696.8, 490.0),),
    48.0,
)
HOUR = timedelta(hours=1)
MORNING = datetime(2026, 11, 30, 7, tzinfo=UTC)
NIGHT = MORNING + 9 * HOUR


def every_drawing(name: str) -> dict[str, str]:
    """Each kind of drawing, with ``name`` wherever a person gives one."""
    snare = sheet_of("snare")
    plates = [replace(plate, name=name) for plate in stack_plates(snare)]
    edge = replace(edge_drawing(snare.edges.batter, snare.layup.wall_mm), name=name)
    tiles = template_tiles(
        circumference_mm=snare.drilling.circumference_mm,
        height_mm=snare.drilling.height_mm,
        holes=[replace(hole, feature=name) for hole in template_holes(snare)],
        seam_arcs_mm=seam_arcs(snare),
        name=name,
    )
    segments = [RingSegment("done", name), RingSegment("ready", name), RingSegment("on_hold", name)]
    return {
        "ring": ring_svg(segments),
        "kit": kit_svg([KitDrum(22, segments, name, name), KitDrum(12, segments, name)]),
        "plate stack": plate_stack_svg(plates),
        "edge": edge_profile_svg(edge),
        "hole map": hole_map_svg(
            circumference_mm=1000,
            height_mm=200,
            holes=[MapHole(1, 500, 100, 5)],
            pieces=[MapPiece(name, "vent", 500, 100, 20, 20)],
            seam_arcs_mm=[0],
        ),
        "cutting sheet": cutting_sheet_svg(
            StockSheet(name, 2500, 1250), replace(LAYOUT, blanks=(replace(LAYOUT.blanks[0], label=name),))
        ),
        "gantt": plan_over_time(
            [
                GanttRow(
                    name, [GanttBar(MORNING, MORNING + 3 * HOUR, name), GanttBar(MORNING + HOUR, NIGHT, "", "dwell")]
                ),
                GanttRow("edge", [GanttBar(MORNING + HOUR, MORNING + 2 * HOUR, "late", late=True)]),
            ],
            begins=MORNING,
            ends=MORNING + 30 * HOUR,
            closed=[(NIGHT, NIGHT + 15 * HOUR)],
            now=MORNING + 2 * HOUR,
            title=f"Plan for {name}",
        ),
        "nest": nest_section_svg([replace(drum, name=name) for drum in NEST], carton_side_mm=706, carton_height_mm=537),
        **{f"template {number}": tile for number, tile in enumerate(tiles, start=1)},
    }
