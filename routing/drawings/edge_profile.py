"""A bearing edge to scale: the wall cut through, its apex, angles from the head plane, drops and land."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import CHAIN, DASH, HAIR, HEAVY, SMALL, TEXT, THIN, Drawing, circle, hatch, in_lines

WIDTH = 150.0
LEFT, RIGHT, TOP = 37.0, 113.0, 41.0  # the head plane; deeper where the name needs several lines
MOST_TALL = 78.0  # of the section
BELOW_MM = 3.0  # wall drawn below the deeper cut
NAME_ROOM, NAME_LINE = WIDTH - 6, 8.2


@dataclass(frozen=True, slots=True)
class EdgeDrawing:
    name: str
    wall_mm: float
    apex_offset_mm: float
    inner_angle_deg: float
    outer_angle_deg: float | None
    round_over_radius_mm: float | None
    inner_drop_mm: float
    outer_drop_mm: float
    profile: Sequence[tuple[float, float]]  # x from the outside face, z below the apex, mm
    land_mm: float = 0.0  # flat left by the cutter, to be trued away
    bed_depth_mm: float = 0.0  # snare bed: the edge lies so much deeper there


def edge_profile_svg(edge: EdgeDrawing) -> str:
    """The section of one edge; the head lies on top, the outside of the drum is on the left.

    Both directions have one scale. Raises ValueError for a wall without thickness or a profile of fewer than two points.
    """
    if not edge.wall_mm > 0 or len(edge.profile) < 2:
        raise ValueError("an edge needs a wall thickness and a profile")
    deepest = max(edge.inner_drop_mm, edge.outer_drop_mm, edge.bed_depth_mm)
    scale = min((RIGHT - LEFT) / edge.wall_mm, MOST_TALL / (deepest + BELOW_MM))
    # A wall that is drawn narrow because its cut is deep stands in the middle.
    left = (LEFT + RIGHT - edge.wall_mm * scale) / 2
    right = left + edge.wall_mm * scale
    name = in_lines(edge.name, NAME_ROOM, TEXT, bold=True)
    top = TOP + NAME_LINE * (len(name) - 1)
    bottom = top + (deepest + BELOW_MM) * scale

    def at(x: float, z: float) -> tuple[float, float]:
        return left + x * scale, top + z * scale

    points = [at(x, z) for x, z in edge.profile]
    drawing = Drawing()
    outline = [(left, bottom), *points, (right, bottom)]
    drawing.path(hatch(outline, apart=5.0), weight=HAIR)
    drawing.path("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in outline), weight=HEAVY)
    third = (right - left) / 3
    drawing.path(
        f"M{left - 4:.2f} {bottom:.2f}h{4 + third:.2f}l2.5 -3l3 6l2.5 -3H{right + 4:.2f}", weight=THIN
    )  # the wall goes on
    drawing.line(left - 22, top, right + 22, top, weight=THIN, dash=CHAIN)
    drawing.text(right + 22, top - 2.5, "head", size=SMALL, anchor="end")
    apex_x, _ = at(edge.apex_offset_mm, 0)
    _apex(drawing, edge, left, apex_x, top)
    drawing.dimension(left, bottom, right, bottom, f"wall {edge.wall_mm:.1f}", off=-14)
    _drops(drawing, edge, left, right, top, scale)
    _inner_angle(drawing, edge, apex_x, top, scale)
    _outside(drawing, edge, left, apex_x, top, scale)
    if edge.bed_depth_mm > 0:
        low = top + edge.bed_depth_mm * scale
        drawing.line(left - 6, low, right + 6, low, weight=THIN, dash=DASH)
    for line, words in enumerate(name):
        drawing.text(3, 9 + NAME_LINE * line, words, bold=True)
    drawing.text(left - 3, bottom - 2.5, "outside", size=SMALL, anchor="end")
    drawing.text(right + 3, bottom - 2.5, "inside", size=SMALL)
    below = bottom + 25
    if edge.land_mm > 0 and not _is_round(edge):
        drawing.text(
            WIDTH / 2, below, f"cutter leaves {edge.land_mm:.2g} flat; true it away", size=SMALL, anchor="middle"
        )
        below += 8.5
    if edge.bed_depth_mm > 0:
        drawing.text(WIDTH / 2, below, f"dashed: snare bed, {edge.bed_depth_mm:.1f} deep", size=SMALL, anchor="middle")
        below += 8.5
    title = (
        f"Bearing edge {edge.name}, wall {edge.wall_mm:.1f} mm, apex {edge.apex_offset_mm:.1f} mm from the outside, "
        f"angles from the head plane"
    )
    return drawing.svg(WIDTH, below - 5, title=title, name="edge-profile")


def _apex(drawing: Drawing, edge: EdgeDrawing, left: float, apex_x: float, top: float) -> None:
    """How far the apex stands from the outside face, on a line above the head."""
    if edge.apex_offset_mm <= 0:
        drawing.leader([(apex_x, top - 0.6), (apex_x + 8, top - 15), (apex_x + 12, top - 15)], "apex at the outside")
        return
    drawing.dimension(left, top, apex_x, top, f"apex {edge.apex_offset_mm:.1f}", off=14)
    drawing.solid(circle(apex_x, top, 1.3))


def _drops(drawing: Drawing, edge: EdgeDrawing, left: float, right: float, top: float, scale: float) -> None:
    inner = top + edge.inner_drop_mm * scale
    if edge.inner_drop_mm > 0:
        drawing.dimension(right, inner, right, top, f"{edge.inner_drop_mm:.1f}", off=-15, level=True)
    outer = top + edge.outer_drop_mm * scale
    if edge.outer_drop_mm > 0 and edge.round_over_radius_mm is None:
        drawing.dimension(left, outer, left, top, f"{edge.outer_drop_mm:.1f}", off=12, level=True)


def _arc_of_angle(drawing: Drawing, x: float, top: float, angle: float, radius: float, side: int) -> None:
    """The arc between head plane and cut about the apex, arrowheads at both ends; ``side`` 1 inside, −1 outside."""
    a = math.radians(angle)
    end_x, end_y = x + side * radius * math.cos(a), top + radius * math.sin(a)
    drawing.path(
        f"M{x + side * radius:.2f} {top:.2f}A{radius:.2f} {radius:.2f} 0 0 {int(side > 0)} {end_x:.2f} {end_y:.2f}",
        weight=THIN,
    )
    heading = -90 - angle if side > 0 else -90 + angle
    drawing.arrow(end_x, end_y, heading, length=3.6)
    drawing.arrow(x + side * radius, top, 90, length=3.6)


def _inner_angle(drawing: Drawing, edge: EdgeDrawing, apex_x: float, top: float, scale: float) -> None:
    if _is_round(edge):
        return
    # The words stand where the gap between head and cut is high enough for them, the arc beyond.
    half = math.radians(edge.inner_angle_deg / 2)
    reach = 5.5 / math.sin(half) + 5
    slope = (edge.wall_mm - edge.apex_offset_mm) * scale / math.cos(math.radians(edge.inner_angle_deg))
    radius = min(reach + 11, slope * 0.9)
    _arc_of_angle(drawing, apex_x, top, edge.inner_angle_deg, radius, 1)
    words = f"{edge.inner_angle_deg:g}°"
    if radius >= reach + 7:
        x, y = apex_x + reach * math.cos(half), top + reach * math.sin(half)
        drawing.text(x, y + 2.2, words, anchor="middle", bold=True)
    else:
        drawing.text(apex_x + radius + 2.5, top + 9, words, bold=True)


def _is_round(edge: EdgeDrawing) -> bool:
    """Rounded over from both faces: such an edge has no angle and no land to true away."""
    radius = edge.round_over_radius_mm
    return radius is not None and edge.inner_drop_mm <= radius and abs(edge.apex_offset_mm * 2 - edge.wall_mm) < 0.01


def _outside(drawing: Drawing, edge: EdgeDrawing, left: float, apex_x: float, top: float, scale: float) -> None:
    if edge.round_over_radius_mm is not None:
        round_over = [point for point in edge.profile if point[0] <= edge.apex_offset_mm]
        x_mm, z_mm = round_over[len(round_over) // 2] if round_over else (0.0, 0.0)
        x, y = left + x_mm * scale, top + z_mm * scale
        drawing.leader([(x, y), (left - 7, y + 12), (left - 9, y + 12)], f"R {edge.round_over_radius_mm:.1f}")
    elif edge.outer_angle_deg is not None and edge.outer_drop_mm > 0:
        radius = edge.apex_offset_mm * scale * 0.75
        if radius > 9:
            _arc_of_angle(drawing, apex_x, top, edge.outer_angle_deg, radius, -1)
        middle = top + edge.outer_drop_mm * scale / 2
        x = left + edge.apex_offset_mm * scale / 2
        down = top + edge.outer_drop_mm * scale + 12
        drawing.leader([(x, middle), (left - 7, down), (left - 9, down)], f"{edge.outer_angle_deg:g}°")
