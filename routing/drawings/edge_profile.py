"""A bearing edge to scale: the wall cut through, its apex, angles from the head plane, drops and land."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from routing.drawings.common import HEAVY, THIN, dimension, drawing, line, path, text

WIDTH, HEIGHT = 150.0, 130.0
LEFT, TOP = 34.0, 34.0
BELOW_MM = 3.0  # wall drawn below the deeper cut


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


def edge_profile_svg(edge: EdgeDrawing) -> str:
    """The section of one edge; the head lies on top, the outside of the drum is on the left."""
    deepest = max(edge.inner_drop_mm, edge.outer_drop_mm)
    scale = min((WIDTH - LEFT - 34) / edge.wall_mm, (HEIGHT - TOP - 18) / (deepest + BELOW_MM))
    right = LEFT + edge.wall_mm * scale
    bottom = TOP + (deepest + BELOW_MM) * scale

    def at(x: float, z: float) -> tuple[float, float]:
        return LEFT + x * scale, TOP + z * scale

    points = [at(x, z) for x, z in edge.profile]
    outline = (
        f"M{LEFT:.2f} {bottom:.2f}" + "".join(f"L{x:.2f} {y:.2f}" for x, y in points) + f"L{right:.2f} {bottom:.2f}"
    )
    apex_x, apex_y = at(edge.apex_offset_mm, 0)
    parts = [
        path(outline, weight=HEAVY),
        # the wall goes on: a thin wavy break
        path(
            f"M{LEFT:.2f} {bottom:.2f}q{(right - LEFT) / 4:.2f} 4 {(right - LEFT) / 2:.2f} 0t{(right - LEFT) / 2:.2f} 0",
            weight=THIN,
        ),
        line(LEFT - 14, TOP, right + 26, TOP, weight=THIN, dash="5 2 1 2"),
        text(LEFT - 14, TOP - 2.5, "head", size=6),
        dimension(LEFT, TOP, apex_x, TOP, f"{edge.apex_offset_mm:.1f}", off=9, size=6.5)
        if edge.apex_offset_mm * scale > 6
        else text(apex_x + 2, apex_y - 8, f"apex {edge.apex_offset_mm:.1f}", size=6.5),
        dimension(LEFT, bottom, right, bottom, f"{edge.wall_mm:.1f}", off=-10, size=6.5),
        dimension(right, TOP, right, TOP + edge.inner_drop_mm * scale, f"{edge.inner_drop_mm:.1f}", off=9, size=6.5),
    ]
    if edge.outer_drop_mm * scale > 5:
        parts.append(
            dimension(LEFT, TOP + edge.outer_drop_mm * scale, LEFT, TOP, f"{edge.outer_drop_mm:.1f}", off=9, size=6.5)
        )
    middle_x, middle_y = at((edge.apex_offset_mm + edge.wall_mm) / 2, edge.inner_drop_mm / 2)
    if edge.round_over_radius_mm is None or edge.apex_offset_mm < edge.wall_mm / 2 - 0.01:
        parts.append(text(middle_x - 3, middle_y + 9, f"{edge.inner_angle_deg:g}°", size=7.5, anchor="end", bold=True))
    outside = f"R {edge.round_over_radius_mm:.1f}" if edge.round_over_radius_mm else ""
    if edge.outer_angle_deg is not None and edge.outer_drop_mm > 0:
        outside = f"{edge.outer_angle_deg:g}°"
    if outside:
        parts.append(text(LEFT - 4, TOP + 7 + edge.outer_drop_mm * scale + 4, outside, size=7, anchor="end", bold=True))
    parts.append(text(LEFT, 8, edge.name[:36], bold=True))
    parts.append(text(LEFT, bottom + 9 if bottom + 9 < HEIGHT - 12 else HEIGHT - 1, "outside", size=6))
    parts.append(text(right, bottom + 9 if bottom + 9 < HEIGHT - 12 else HEIGHT - 1, "inside", size=6, anchor="end"))
    title = f"Bearing edge {edge.name}, wall {edge.wall_mm:.1f} mm, apex {edge.apex_offset_mm:.1f} mm from the outside"
    return drawing(WIDTH, HEIGHT + 8, "".join(parts), title=title, name="edge-profile")
