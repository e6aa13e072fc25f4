"""Bearing edges: where the apex comes, what the cutter takes, and what an error of the spindle does.

All angles are measured from the head plane: 0° lies in the plane of the head, 90° runs down the wall. x is counted
from the outside face of the wood towards the inside, z from the apex down into the wall; both in mm. The drops and the
profile are those of the sharp edge that the cuts aim at; the cutter stops short of it and leaves a flat, the land.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import EdgeInputs, EdgeShape
from routing.specs.sentences import gettext_noop

_APEX_OUTSIDE = gettext_noop(
    "The apex would lie {offset} mm from the outside, its flat {land} mm wide, but the wall is {wall} mm; "
    "move the apex into the wall."
)
_NO_OUTER_ANGLE = gettext_noop("A double 45 edge needs the angle of its outside cut.")
_FULL_ROUND_ADVICE = gettext_noop(
    "Round over with {radius} mm from both faces. A spindle 0.1 mm low leaves a flat of {low} mm in the "
    "middle; 0.1 mm high takes 0.1 mm of height and leaves a step."
)
_OVER_CUT = gettext_noop(
    "Cut inside until {land} mm of flat is left, then true it on the plate. A spindle 0.1 mm low leaves a flat of "
    "{low} mm and a softer edge; 0.1 mm high cuts over and takes {loss} mm of height."
)
_SHARPER = gettext_noop(
    "Cut inside until {land} mm of flat is left, then true it on the plate. A spindle 0.1 mm low leaves a flat of "
    "{low} mm and a softer edge; 0.1 mm high leaves {high} mm, a sharper edge."
)
_ROUND_LEAVES_FLAT = gettext_noop(
    "A full round on a wall of {wall} mm needs a radius of {half} mm; {radius} mm leaves a flat of {land} mm."
)
_ROUND_LEAVES_CREST = gettext_noop(
    "A full round on a wall of {wall} mm needs a radius of {half} mm; {radius} mm leaves a crest instead of a round."
)
_FLAT_BY_RADIUS = gettext_noop("A flat of {land} mm stays under the head; the radius ends before the apex.")
_FLAT_BY_ANGLE = gettext_noop("A flat of {land} mm stays under the head; give an outer angle to bring it to an apex.")
_NO_RADIUS = gettext_noop("A round-over edge needs its outside radius.")
_ROUND_TOO_LARGE = gettext_noop("A round-over of {radius} mm does not fit a wall of {wall} mm; choose a smaller one.")
_SHARP_CORNER = gettext_noop(
    "The apex stands {offset} mm from the outside: bright, but fragile, and a head may seat off centre."
)
_DEEP_CUT = gettext_noop("The inner cut is {depth} mm deep; take it in several passes.")

ROUND_POINTS = 12
SPINDLE_ERROR_MM = 0.1  # the error whose effect is told to the worker
LEAST_APEX_FOR_SEATING_MM = 0.5  # an apex further out seats heads badly (common practice, no source)
DEEP_CUT_MM = 12.0
UNWANTED_FLAT_MM = 0.3  # more flat than the land that was asked for


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
    land_mm: float  # flat that the cuts leave, to be trued
    spindle_height_mm: float  # of the inner cutter above the table, leaving the land
    outer_spindle_height_mm: float  # of the outer cutter, 0 where nothing is cut outside
    apex_shift_per_tenth_mm: float  # how far 0.1 mm of spindle height moves the inner edge of the land
    low_by_tenth_land_mm: float  # land when the spindle stands 0.1 mm too low
    high_by_tenth_land_mm: float  # land when it stands 0.1 mm too high; 0 when it cuts over
    high_by_tenth_height_loss_mm: float  # height that this end loses then
    profile: tuple[tuple[float, float], ...]  # x, z from the outside face over the apex to the inside face
    advice: str
    warnings: tuple[SpecWarning, ...]


def edge_geometry(*, wall_mm: float, outside_diameter_mm: float, edge: EdgeInputs, field: str = "edge") -> EdgeResult:
    """Geometry of one bearing edge on a wall of 2 to 25 mm and an outside diameter of 90 to 1020 mm.

    Inside drop (T − a)·tan θ; outside drop a·tan φ, or √(r² − (r − a)²) for a round-over of radius r ≥ a (r when the
    apex stands further in, with a flat between); apex diameter D − 2a. The cutter height is the drop less what the land
    leaves standing. All plane geometry. Raises SpecError (codes ``out_of_range``, ``apex_outside_wall``,
    ``no_outer_angle``, ``no_radius``, ``round_too_large``) for an edge that can't be cut.
    """
    require_between(wall_mm, 2.0, 25.0, field="plates", unit="mm")
    require_between(outside_diameter_mm, 90.0, 1020.0, field="nominal_diameter_in", unit="mm")
    require_between(edge.inner_angle_deg, 10.0, 80.0, field=f"{field}.inner_angle_deg", unit="°")
    require_between(edge.land_mm, 0.0, 3.0, field=f"{field}.land_mm", unit="mm")
    if edge.shape is EdgeShape.FULL_ROUND:
        return _full_round(wall_mm, outside_diameter_mm, edge, field)
    offset = edge.apex_offset_mm
    angle, radius = _outside(edge, wall_mm, field)
    outer_end, inner_end = _flat(offset, edge.land_mm, angle, radius)
    if not 0.0 <= offset < wall_mm or not inner_end < wall_mm:
        raise SpecError(
            "apex_outside_wall",
            f"{field}.apex_offset_mm",
            _APEX_OUTSIDE.format(offset=f"{offset:g}", land=f"{edge.land_mm:g}", wall=f"{wall_mm:g}"),
        )
    slope = math.tan(math.radians(edge.inner_angle_deg))
    land, shift = inner_end - outer_end, apex_shift(SPINDLE_ERROR_MM, edge.inner_angle_deg)
    over_cut = max(0.0, shift - land)
    if radius is not None:
        loss = height_lost_to_round(over_cut, edge.inner_angle_deg, radius, outer_end)
    else:
        loss = height_lost(over_cut, edge.inner_angle_deg, angle if offset > 0 else None)
    return EdgeResult(
        name=edge.name,
        shape=edge.shape,
        apex_offset_mm=offset,
        apex_diameter_mm=outside_diameter_mm - 2 * offset,
        inner_angle_deg=edge.inner_angle_deg,
        outer_angle_deg=angle,
        round_over_radius_mm=radius,
        inner_drop_mm=(wall_mm - offset) * slope,
        outer_drop_mm=_outer_drop(offset, angle, radius),
        land_mm=land,
        spindle_height_mm=(wall_mm - inner_end) * slope,
        outer_spindle_height_mm=_outer_drop(outer_end, angle, radius),
        apex_shift_per_tenth_mm=shift,
        low_by_tenth_land_mm=land + shift,
        high_by_tenth_land_mm=max(0.0, land - shift),
        high_by_tenth_height_loss_mm=loss,
        profile=_profile(wall_mm, offset, (wall_mm - offset) * slope, angle, radius),
        advice=(
            _OVER_CUT.format(land=f"{land:.2g}", low=f"{land + shift:.2f}", loss=f"{loss:.2f}")
            if over_cut > 0
            else _SHARPER.format(land=f"{land:.2g}", low=f"{land + shift:.2f}", high=f"{land - shift:.2f}")
        ),
        warnings=_warnings(edge, land, (wall_mm - offset) * slope, field),
    )


def apex_shift(spindle_error_mm: float, inner_angle_deg: float) -> float:
    """How far (mm) an error of the spindle height moves the cut along the wall's thickness: δ·cot θ (plane geometry).

    −25 to 25 mm, 1 to 89°. A spindle that is too high (positive) moves the apex towards the outside.
    """
    require_between(spindle_error_mm, -25.0, 25.0, field="spindle_error_mm", unit="mm")
    require_between(inner_angle_deg, 1.0, 89.0, field="inner_angle_deg", unit="°")
    return spindle_error_mm / math.tan(math.radians(inner_angle_deg))


def height_lost(over_cut_mm: float, inner_angle_deg: float, outer_angle_deg: float | None) -> float:
    """Height (mm) an end loses when the two cuts overlap by ``over_cut_mm`` (0 to 25): w / (cot θ + cot φ).

    Without an outer cut the outside corner falls down the inner slope: w·tan θ. Angles 1 to 89°. Plane geometry.
    """
    require_between(over_cut_mm, 0.0, 25.0, field="over_cut_mm", unit="mm")
    require_between(inner_angle_deg, 1.0, 89.0, field="inner_angle_deg", unit="°")
    cotangents = 1 / math.tan(math.radians(inner_angle_deg))
    if outer_angle_deg is not None:
        require_between(outer_angle_deg, 1.0, 89.0, field="outer_angle_deg", unit="°")
        cotangents += 1 / math.tan(math.radians(outer_angle_deg))
    return over_cut_mm / cotangents


def height_lost_to_round(over_cut_mm: float, inner_angle_deg: float, radius_mm: float, apex_offset_mm: float) -> float:
    """Height (mm) lost when the inner cut passes the apex of a rounded outside by ``over_cut_mm`` (0 to 25).

    Where the inner slope meets the arc of ``radius_mm`` through the apex, ``apex_offset_mm`` (at most the radius) from
    the outside: the positive root of (1 + t²)u² + 2ktu + k² − r² = 0 with t = tan θ, u the distance from the arc's
    middle, k = √(r² − (r − a)²) − (r − a + w)·t. Plane geometry.
    """
    require_between(radius_mm, 0.5, 25.0, field="radius_mm", unit="mm")
    require_between(apex_offset_mm, 0.0, radius_mm, field="apex_offset_mm", unit="mm")
    require_between(over_cut_mm, 0.0, 25.0, field="over_cut_mm", unit="mm")
    require_between(inner_angle_deg, 1.0, 89.0, field="inner_angle_deg", unit="°")
    slope = math.tan(math.radians(inner_angle_deg))
    inward = radius_mm - apex_offset_mm
    drop = math.sqrt(max(0.0, radius_mm**2 - inward**2))
    at_face = (over_cut_mm - apex_offset_mm) * slope
    if at_face >= drop:  # the slope passes under the whole arc and leaves the outside face by itself
        return max(0.0, at_face)
    k = drop - (inward + over_cut_mm) * slope
    u = (-k * slope + math.sqrt(max(0.0, radius_mm**2 * (1 + slope**2) - k**2))) / (1 + slope**2)
    return max(0.0, (inward + over_cut_mm - u) * slope)


def _outside(edge: EdgeInputs, wall: float, field: str) -> tuple[float | None, float | None]:
    """Angle or radius of the outside cut, whichever the shape has; neither leaves the outside square."""
    if edge.shape is EdgeShape.ROUND_OVER_45:
        radius = edge.round_over_radius_mm
        if radius is None:
            raise SpecError("no_radius", f"{field}.round_over_radius_mm", _NO_RADIUS)
        require_between(radius, 0.5, 25.0, field=f"{field}.round_over_radius_mm", unit="mm")
        if radius > wall:
            raise SpecError(
                "round_too_large",
                f"{field}.round_over_radius_mm",
                _ROUND_TOO_LARGE.format(radius=f"{radius:g}", wall=f"{wall:g}"),
            )
        return None, radius
    if edge.outer_angle_deg is not None:
        require_between(edge.outer_angle_deg, 10.0, 80.0, field=f"{field}.outer_angle_deg", unit="°")
        return edge.outer_angle_deg, None
    if edge.shape is EdgeShape.DOUBLE_45:
        raise SpecError("no_outer_angle", f"{field}.outer_angle_deg", _NO_OUTER_ANGLE)
    return None, None


def _flat(offset: float, land: float, angle: float | None, radius: float | None) -> tuple[float, float]:
    """Where the flat that the cuts leave begins and ends, in mm from the outside.

    Two straight cuts leave it over the apex; a round-over is cut to its line first, and without an outer cut the flat
    reaches to the outside face.
    """
    if radius is not None:
        outer = min(offset, radius)
        return outer, max(offset, outer + land)
    if angle is not None and offset > 0:
        outer = max(0.0, offset - land / 2)
        return outer, max(offset + land / 2, outer + land)
    return 0.0, max(offset, land)


def _outer_drop(offset: float, angle: float | None, radius: float | None) -> float:
    """How far below the apex plane the outer cut leaves the outside face when it starts ``offset`` from it."""
    if radius is not None:
        return math.sqrt(max(0.0, radius**2 - max(0.0, radius - offset) ** 2))
    return offset * math.tan(math.radians(angle)) if angle is not None else 0.0


def _arc(radius: float, offset: float) -> list[tuple[float, float]]:
    """The round-over from the outside face up to the apex plane, at most ``offset`` from the face."""
    reach = min(offset, radius)
    centre = _outer_drop(reach, None, radius)
    last = math.acos(min(1.0, max(-1.0, 1 - reach / radius)))
    steps = [last * step / ROUND_POINTS for step in range(ROUND_POINTS + 1)]
    return [(radius * (1 - math.cos(turn)), max(0.0, centre - radius * math.sin(turn))) for turn in steps]


def _profile(
    wall: float, offset: float, inner_drop: float, angle: float | None, radius: float | None
) -> tuple[tuple[float, float], ...]:
    if radius is not None and offset > 0:
        points = _arc(radius, offset)
        if points[-1][0] < offset - 1e-9:
            points.append((offset, 0.0))
        else:
            points[-1] = (offset, 0.0)
    elif angle is not None and offset > 0:
        points = [(0.0, _outer_drop(offset, angle, None)), (offset, 0.0)]
    else:
        points = [(0.0, 0.0)] + ([(offset, 0.0)] if offset > 0 else [])
    return (*points, (wall, inner_drop))


def _full_round(wall: float, diameter: float, edge: EdgeInputs, field: str) -> EdgeResult:
    """Rounded over from both faces; the head lies on wood, not on a line. The radius is half the wall unless given.

    A smaller cutter leaves a flat in the middle, T − 2r; a larger one a crest, and its drop is √(r² − (r − T/2)²). A
    spindle too low by δ leaves a flat of 2·√(2rδ − δ²) between the arcs; too high it takes δ of height.
    """
    half = wall / 2
    radius = half if edge.round_over_radius_mm is None else edge.round_over_radius_mm
    require_between(radius, 0.5, 25.0, field=f"{field}.round_over_radius_mm", unit="mm")
    drop = _outer_drop(half, None, radius)
    outer = _arc(radius, half)
    land = max(0.0, wall - 2 * radius)
    inner = [(wall - x, z) for x, z in reversed(outer)]
    error = SPINDLE_ERROR_MM
    low = wall - 2 * _reach_when_low(radius, drop, half, error)
    warnings: tuple[SpecWarning, ...] = ()
    if abs(wall - 2 * radius) > UNWANTED_FLAT_MM:
        given = {"wall": f"{wall:.1f}", "half": f"{half:.2f}", "radius": f"{radius:g}", "land": f"{land:.1f}"}
        flat_or_crest = _ROUND_LEAVES_FLAT if land else _ROUND_LEAVES_CREST
        warnings = (
            SpecWarning(
                "round_not_half_the_wall",
                f"{field}.round_over_radius_mm",
                flat_or_crest.format(**given),
            ),
        )
    return EdgeResult(
        name=edge.name,
        shape=edge.shape,
        apex_offset_mm=half,
        apex_diameter_mm=diameter - wall,
        inner_angle_deg=edge.inner_angle_deg,
        outer_angle_deg=None,
        round_over_radius_mm=radius,
        inner_drop_mm=drop,
        outer_drop_mm=drop,
        land_mm=land,
        spindle_height_mm=drop,
        outer_spindle_height_mm=drop,
        apex_shift_per_tenth_mm=0.0,
        low_by_tenth_land_mm=low,
        high_by_tenth_land_mm=land,
        high_by_tenth_height_loss_mm=error,
        profile=(*outer, *(inner if land else inner[1:])),
        advice=_FULL_ROUND_ADVICE.format(radius=f"{radius:.2f}", low=f"{low:.2f}"),
        warnings=warnings,
    )


def _reach_when_low(radius: float, drop: float, half: float, error: float) -> float:
    """How far from a face the arc leaves the end when the cutter stands ``error`` lower than the drop."""
    lower = max(0.0, drop - error)
    return min(half, radius - math.sqrt(max(0.0, radius**2 - lower**2)))


def _warnings(edge: EdgeInputs, land: float, inner_drop: float, field: str) -> tuple[SpecWarning, ...]:
    found = []
    if edge.apex_offset_mm < LEAST_APEX_FOR_SEATING_MM or edge.shape is EdgeShape.SINGLE_45:
        found.append(
            SpecWarning(
                "sharp_outer_corner",
                f"{field}.apex_offset_mm",
                _SHARP_CORNER.format(offset=f"{edge.apex_offset_mm:g}"),
            )
        )
    if land > edge.land_mm + UNWANTED_FLAT_MM:
        rounded = edge.shape is EdgeShape.ROUND_OVER_45
        found.append(
            SpecWarning(
                "flat_top",
                f"{field}.round_over_radius_mm" if rounded else f"{field}.outer_angle_deg",
                (_FLAT_BY_RADIUS if rounded else _FLAT_BY_ANGLE).format(land=f"{land:.1f}"),
            )
        )
    if inner_drop > DEEP_CUT_MM:
        found.append(
            SpecWarning(
                "deep_cut",
                f"{field}.inner_angle_deg",
                _DEEP_CUT.format(depth=f"{inner_drop:.1f}"),
            )
        )
    return tuple(found)
