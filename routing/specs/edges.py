"""Bearing edges: where the apex comes, what the cutter takes, and what an error of the spindle does.

All angles are measured from the head plane: 0° lies in the plane of the head, 90° runs down the wall. x is counted
from the outside face of the wood towards the inside, z from the apex down into the wall; both in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import EdgeInputs, EdgeShape

ROUND_POINTS = 12
LEAST_APEX_FOR_SEATING_MM = 0.5  # an apex further out seats heads badly (common practice, no source)


@dataclass(frozen=True, slots=True)
class EdgeResult:
    """One bearing edge, ready for the spindle and the drawing."""

    name: str
    shape: EdgeShape
    apex_offset_mm: float  # from the outside face
    apex_diameter_mm: float  # the head swings on this circle
    inner_angle_deg: float
    outer_angle_deg: float | None  # None where the outside is round or left square
    round_over_radius_mm: float | None
    inner_drop_mm: float  # from the apex down to where the cut leaves the inside face
    outer_drop_mm: float  # the same outside
    land_mm: float  # flat left by the cutter, to be trued away
    spindle_height_mm: float  # of the inner cutter above the table, leaving the land
    apex_shift_per_tenth_mm: float  # how far 0.1 mm of spindle height moves the inner edge of the land
    low_by_tenth_land_mm: float  # land when the spindle stands 0.1 mm too low
    high_by_tenth_land_mm: float  # land when it stands 0.1 mm too high; 0 when it cuts over
    high_by_tenth_height_loss_mm: float  # height that both ends lose then
    profile: tuple[tuple[float, float], ...]  # x, z from the outside face over the apex to the inside face
    advice: str
    warnings: tuple[SpecWarning, ...]


def edge_geometry(*, wall_mm: float, outside_diameter_mm: float, edge: EdgeInputs, field: str = "edge") -> EdgeResult:
    """Geometry of one bearing edge on a wall of 2 to 25 mm.

    Drops: inside h = (T − a)·tan θ, outside h = a·tan φ, or the radius for a round-over (plane geometry). The apex
    diameter is D − 2a. Raises SpecError (codes ``out_of_range``, ``apex_outside_wall``, ``no_outer_angle``,
    ``no_radius``, ``round_too_large``) for an edge that can't be cut.
    """
    require_between(wall_mm, 2.0, 25.0, field="plates", unit="mm")
    require_between(outside_diameter_mm, 90.0, 1020.0, field="nominal_diameter_in", unit="mm")
    require_between(edge.inner_angle_deg, 10.0, 80.0, field=f"{field}.inner_angle_deg", unit="°")
    require_between(edge.land_mm, 0.0, 3.0, field=f"{field}.land_mm", unit="mm")
    if edge.shape is EdgeShape.FULL_ROUND:
        return _full_round(wall_mm, outside_diameter_mm, edge)
    offset = edge.apex_offset_mm
    if not 0.0 <= offset < wall_mm - edge.land_mm / 2:
        raise SpecError(
            "apex_outside_wall",
            f"{field}.apex_offset_mm",
            f"The apex would lie {offset:g} mm from the outside, but the wall is {wall_mm:g} mm; move it into the wall.",
        )
    outer_angle, radius = _outside(edge, field)
    if radius is not None and radius > wall_mm:
        raise SpecError(
            "round_too_large",
            f"{field}.round_over_radius_mm",
            f"A round-over of {radius:g} mm does not fit a wall of {wall_mm:g} mm; choose a smaller one.",
        )
    inner = math.tan(math.radians(edge.inner_angle_deg))
    inner_drop = (wall_mm - offset) * inner
    outer_drop = radius if radius is not None else offset * math.tan(math.radians(outer_angle)) if outer_angle else 0.0
    # The cutter leaves the land: it reaches from the inside face to the inner side of the land only.
    spindle = (wall_mm - offset - edge.land_mm / 2) * inner
    shift = 0.1 / inner
    low, high, loss = edge.land_mm + shift, edge.land_mm - shift, 0.0
    if high < 0:
        loss = height_lost(-high, edge.inner_angle_deg, outer_angle)
        high = 0.0
    return EdgeResult(
        name=edge.name,
        shape=edge.shape,
        apex_offset_mm=offset,
        apex_diameter_mm=outside_diameter_mm - 2 * offset,
        inner_angle_deg=edge.inner_angle_deg,
        outer_angle_deg=outer_angle,
        round_over_radius_mm=radius,
        inner_drop_mm=inner_drop,
        outer_drop_mm=outer_drop,
        land_mm=edge.land_mm,
        spindle_height_mm=spindle,
        apex_shift_per_tenth_mm=shift,
        low_by_tenth_land_mm=low,
        high_by_tenth_land_mm=high,
        high_by_tenth_height_loss_mm=loss,
        profile=_profile(wall_mm, offset, inner_drop, outer_angle, radius, outer_drop),
        advice=(
            f"Cut inside until {edge.land_mm:g} mm of flat is left, then true it on the plate. A spindle 0.1 mm low leaves "
            f"a flat of {low:.2f} mm and a softer edge; 0.1 mm high "
            + (f"cuts over and takes {loss:.2f} mm of height." if loss else f"leaves {high:.2f} mm, a sharper edge.")
        ),
        warnings=_warnings(edge, offset, inner_drop, field),
    )


def apex_shift(spindle_error_mm: float, inner_angle_deg: float) -> float:
    """How far (mm) an error of the spindle height moves the cut along the wall's thickness: δ·cot θ (plane geometry)."""
    require_between(inner_angle_deg, 1.0, 89.0, field="inner_angle_deg", unit="°")
    return spindle_error_mm / math.tan(math.radians(inner_angle_deg))


def height_lost(over_cut_mm: float, inner_angle_deg: float, outer_angle_deg: float | None) -> float:
    """Height (mm) an end loses when the two cuts overlap by ``over_cut_mm`` ≥ 0: w / (cot θ + cot φ).

    Without an outer cut the apex falls straight down the inner slope: w·tan θ. Plane geometry.
    """
    require_between(over_cut_mm, 0.0, 25.0, field="over_cut_mm", unit="mm")
    require_between(inner_angle_deg, 1.0, 89.0, field="inner_angle_deg", unit="°")
    cotangents = 1 / math.tan(math.radians(inner_angle_deg))
    if outer_angle_deg is not None:
        require_between(outer_angle_deg, 1.0, 89.0, field="outer_angle_deg", unit="°")
        cotangents += 1 / math.tan(math.radians(outer_angle_deg))
    return over_cut_mm / cotangents


def _outside(edge: EdgeInputs, field: str) -> tuple[float | None, float | None]:
    """Angle or radius of the outside cut, whichever the shape has."""
    if edge.shape is EdgeShape.ROUND_OVER_45:
        if edge.round_over_radius_mm is None:
            raise SpecError("no_radius", f"{field}.round_over_radius_mm", "A round-over edge needs its outside radius.")
        require_between(edge.round_over_radius_mm, 0.5, 25.0, field=f"{field}.round_over_radius_mm", unit="mm")
        return None, edge.round_over_radius_mm
    if edge.outer_angle_deg is not None:
        require_between(edge.outer_angle_deg, 10.0, 80.0, field=f"{field}.outer_angle_deg", unit="°")
        return edge.outer_angle_deg, None
    if edge.shape is EdgeShape.DOUBLE_45:
        raise SpecError(
            "no_outer_angle", f"{field}.outer_angle_deg", "A double 45 edge needs the angle of its outside cut."
        )
    return None, None


def _profile(
    wall: float, offset: float, inner_drop: float, outer_angle: float | None, radius: float | None, outer_drop: float
) -> tuple[tuple[float, float], ...]:
    points: list[tuple[float, float]] = []
    if radius is not None:
        # A quarter round from the outside face up to the apex height, then level to the apex.
        for step in range(ROUND_POINTS + 1):
            angle = math.pi / 2 * step / ROUND_POINTS
            points.append((radius * (1 - math.cos(angle)), radius * (1 - math.sin(angle))))
        points = [point for point in points if point[0] <= offset + 1e-9] or points[:1]
        if points[-1][0] < offset:
            points.append((offset, 0.0))
        else:
            points[-1] = (offset, 0.0)
    elif outer_angle is not None and offset > 0:
        points = [(0.0, outer_drop), (offset, 0.0)]
    else:
        points = [(0.0, 0.0)] + ([(offset, 0.0)] if offset > 0 else [])
    points.append((wall, inner_drop))
    return tuple(points)


def _full_round(wall: float, diameter: float, edge: EdgeInputs) -> EdgeResult:
    """Half a round over the whole wall: radius T/2, apex in the middle; the head lies on wood, not on a line."""
    radius = wall / 2
    profile = tuple(
        (
            radius * (1 - math.cos(math.pi * step / (2 * ROUND_POINTS))),
            radius * (1 - math.sin(math.pi * step / (2 * ROUND_POINTS))),
        )
        for step in range(2 * ROUND_POINTS + 1)
    )
    return EdgeResult(
        name=edge.name,
        shape=edge.shape,
        apex_offset_mm=radius,
        apex_diameter_mm=diameter - wall,
        inner_angle_deg=edge.inner_angle_deg,
        outer_angle_deg=None,
        round_over_radius_mm=radius,
        inner_drop_mm=radius,
        outer_drop_mm=radius,
        land_mm=0.0,
        spindle_height_mm=radius,
        apex_shift_per_tenth_mm=0.0,
        low_by_tenth_land_mm=0.2,
        high_by_tenth_land_mm=0.0,
        high_by_tenth_height_loss_mm=0.1,
        profile=profile,
        advice=(
            f"Round-over cutter of {radius:.2f} mm from both faces until the cuts meet. A spindle 0.1 mm low leaves a flat "
            "in the middle; 0.1 mm high leaves a step at both faces and takes 0.1 mm of height."
        ),
        warnings=(),
    )


def _warnings(edge: EdgeInputs, offset: float, inner_drop: float, field: str) -> tuple[SpecWarning, ...]:
    found = []
    if edge.shape is EdgeShape.SINGLE_45 or offset < LEAST_APEX_FOR_SEATING_MM:
        found.append(
            SpecWarning(
                "sharp_outer_corner",
                f"{field}.apex_offset_mm",
                f"The apex stands {offset:g} mm from the outside: bright, but fragile, and a head may seat off centre.",
            )
        )
    if inner_drop > 12:
        found.append(
            SpecWarning(
                "deep_cut",
                f"{field}.inner_angle_deg",
                f"The inner cut is {inner_drop:.1f} mm deep; take it in several passes.",
            )
        )
    return tuple(found)
