"""The drawings that help at a station, for the tablet and the traveler alike, drawn from the frozen spec."""

from __future__ import annotations

from django.utils.translation import gettext as _

from routing.drawing_words import in_words
from routing.drawings.edge_profile import EdgeDrawing, edge_profile_svg
from routing.drawings.hole_map import MapHole, MapPiece, hole_map_svg
from routing.drawings.plate_stack import StackPlate, plate_stack_svg
from routing.models.route import StationKind
from routing.specs.seam_lines import SeamLine, seam_runs
from routing.station_numbers import Results


def station_drawing(kind: str, results: Results) -> str:
    """The drawing that helps at a kind of station, as SVG in the language that is spoken; empty where none does."""
    return in_words(_drawing(kind, results))


def _drawing(kind: str, results: Results) -> str:
    if kind in (StationKind.CUT, StationKind.PRESS):
        return _plate_stack(results)
    if kind == StationKind.EDGE:
        return _edge(results, "batter") + _edge(results, "resonant")
    if kind == StationKind.DRILL:
        return _hole_map(results)
    return ""


def station_drawings(results: Results) -> list[tuple[str, str]]:
    """Every drawing of a drum with its caption, for the spec bench, in the language that is spoken."""
    other_edge = _("Snare-side edge") if results["snare_bed"] else _("Resonant edge")
    holes = _("Holes, outside unrolled; figures below are arcs in mm from the outer seam")
    return [
        (_("Lay-up, outside to inside"), in_words(_plate_stack(results))),
        (_("Batter edge"), in_words(_edge(results, "batter"))),
        (other_edge, in_words(_edge(results, "resonant"))),
        (holes, in_words(_hole_map(results))),
    ]


def _plate_stack(results: Results) -> str:
    return plate_stack_svg(
        [
            StackPlate(
                plate["name"],
                plate["thickness_mm"],
                plate["veneers"],
                plate["grain"],
                tuple(plate["seam_angles_deg"]),
                plate["blank_length_mm"],
            )
            for plate in results["layup"]["plates"]
        ]
    )


def _edge(results: Results, side: str) -> str:
    edge = results["edges"][side]
    return edge_profile_svg(
        EdgeDrawing(
            name=edge["name"],
            wall_mm=results["shell"]["wall_mm"],
            apex_offset_mm=edge["apex_offset_mm"],
            inner_angle_deg=edge["inner_angle_deg"],
            outer_angle_deg=edge["outer_angle_deg"],
            round_over_radius_mm=edge["round_over_radius_mm"],
            inner_drop_mm=edge["inner_drop_mm"],
            outer_drop_mm=edge["outer_drop_mm"],
            profile=[(x, z) for x, z in edge["profile"]],
            land_mm=edge["land_mm"],
            bed_depth_mm=results["snare_bed"]["depth_mm"] if results["snare_bed"] and side == "resonant" else 0.0,
        )
    )


def _hole_map(results: Results) -> str:
    drilling = results["drilling"]
    per_degree = drilling["circumference_mm"] / 360
    return hole_map_svg(
        circumference_mm=drilling["circumference_mm"],
        height_mm=drilling["height_mm"],
        holes=[MapHole(h["number"], h["arc_mm"], h["height_mm"], h["diameter_mm"]) for h in drilling["holes"]],
        pieces=[
            MapPiece(
                p["name"], p["kind"], p["arc_mm"], p["height_mm"], p["footprint_round_mm"], p["footprint_axial_mm"]
            )
            for p in drilling["pieces"]
        ],
        seam_arcs_mm=[angle * per_degree for plate in results["layup"]["plates"] for angle in plate["seam_angles_deg"]],
        seam_runs=seam_runs(
            [
                SeamLine(plate["position"], angle, plate["scarf_length_mm"], plate["slant_deg"])
                for plate in results["layup"]["plates"]
                for angle in plate["seam_angles_deg"]
            ],
            drilling["circumference_mm"],
            drilling["height_mm"],
        ),
    )
