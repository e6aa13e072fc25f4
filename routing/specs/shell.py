"""The size of the finished shell and how far it may be off."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import Role
from routing.specs.sentences import gettext_noop
from routing.specs.units import mm_from_inches

_HEAD_TIGHT = gettext_noop(
    "The shell is {under} mm under its nominal size: heads will be hard to fit or will not drop on at all; 3.2 mm is usual."
)
_HEAD_LOOSE = gettext_noop(
    "The shell is {under} mm under its nominal size: the head can sit off centre and the rods lean; 3.2 mm is usual."
)
_HEAD_FIT = gettext_noop(
    "The shell is {under} mm under its nominal size: the usual window is {low} to {high} mm; try a head before a batch is "
    "moulded."
)
_WALL_TOO_THIN = gettext_noop("The plates make a wall of {wall} mm; a shell needs at least 0.5 mm.")
_WALL_TOO_THICK = gettext_noop(
    "A wall of {wall} mm does not fit a shell of {diameter} mm; use fewer or thinner plates."
)

TIGHT_UNDERSIZE_MM = 1.6  # 1/16 in: modern heads no longer drop on (published review of heads for old shells)
USUAL_UNDERSIZE_MM = (2.4, 4.8)  # from memory; the usual 3.2 mm is 1/8 in (drum builders' pages)
LOOSE_UNDERSIZE_MM = 5.0  # from memory: the head can sit off centre


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What to aim for and what still passes. Two-sided tolerances are ±; the others are a largest allowed value."""

    target_mm: float
    accept_mm: float
    two_sided: bool

    def accepts(self, deviation_mm: float) -> bool:
        """Whether a deviation (two-sided) or a measured error (one-sided, never negative) still passes."""
        return abs(deviation_mm) <= self.accept_mm


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far one shell may be off. From memory, except roundness: published advice is to avoid 1/16 in and more."""

    roundness: Tolerance  # largest less smallest diameter, measured across the lug positions at both ends
    outside_diameter: Tolerance  # pi tape, over the wrap when there is one
    depth: Tolerance
    parallelism: Tolerance  # height at eight points
    squareness: Tolerance  # end to axis, across the diameter
    edge_flatness: Tolerance  # gap on a flat plate
    wall: Tolerance  # within one shell, at eight points


@dataclass(frozen=True, slots=True)
class ShellGeometry:
    role: Role
    nominal_diameter_in: float
    nominal_depth_in: float
    outside_diameter_mm: float  # of the wood, which is the bore of the mould
    diameter_over_finish_mm: float  # over the wrap when there is one; what the head must pass
    inside_diameter_mm: float
    wall_mm: float
    outside_circumference_mm: float
    inside_circumference_mm: float
    mm_per_degree: float  # on the outside of the wood
    depth_mm: float
    outside_area_m2: float
    inside_area_m2: float
    head_play_each_side_mm: float
    tolerances: Tolerances
    warnings: tuple[SpecWarning, ...]


def tolerances_for(role: Role) -> Tolerances:
    """The usual tolerances of a shell of this role (from memory).

    A snare hears its edges most and is held closest; a bass drum, large and with deep hoops, may be off a little more.
    Out of round no shell passes beyond 1.5 mm: published advice is to avoid 1/16 in.
    """
    snare, bass = role is Role.SNARE, role is Role.BASS
    height = Tolerance(0.3, 0.4 if snare else 0.8 if bass else 0.5, True)
    across = Tolerance(0.3, height.accept_mm, False)
    return Tolerances(
        roundness=Tolerance(1.2 if bass else 0.8, 1.2 if snare else 1.5, False),
        outside_diameter=Tolerance(0.4, 0.8, True),
        depth=height,
        parallelism=across,
        squareness=across,
        edge_flatness=Tolerance(0.05, 0.15 if bass else 0.10, False),
        wall=Tolerance(0.2, 0.3, True),
    )


def outside_diameter(
    nominal_diameter_in: float, *, head_undersize_mm: float = 3.2, wrap_thickness_mm: float = 0.0
) -> float:
    """Outside diameter of the wood in mm: nominal × 25.4 − undersize − 2 × wrap thickness.

    A shell for wrap is moulded smaller, so that the diameter over the wrap is what the head expects. Diameter 4 to
    40 in, undersize 0 to 10 mm, wrap 0 to 2 mm; SpecError outside. Common practice: undersize 1/8 in (3.2 mm).
    """
    require_between(nominal_diameter_in, 4, 40, field="nominal_diameter_in", unit="in")
    require_between(head_undersize_mm, 0, 10, field="head_undersize_mm", unit="mm")
    require_between(wrap_thickness_mm, 0, 2, field="finish.wrap.thickness_mm", unit="mm")
    return mm_from_inches(nominal_diameter_in) - head_undersize_mm - 2 * wrap_thickness_mm


def require_wall_fits(wall_mm: float, outside_diameter_mm: float) -> None:
    """Refuse a wall of more than a quarter of the diameter."""
    if wall_mm > outside_diameter_mm / 4:
        raise SpecError(
            "wall_too_thick",
            "plates",
            _WALL_TOO_THICK.format(wall=f"{wall_mm:g}", diameter=f"{outside_diameter_mm:.1f}"),
        )


def shell_geometry(
    *,
    role: Role,
    nominal_diameter_in: float,
    nominal_depth_in: float,
    wall_mm: float,
    head_undersize_mm: float = 3.2,
    wrap_thickness_mm: float = 0.0,
) -> ShellGeometry:
    """Every size of the finished shell in mm and m², with its tolerances.

    Areas are those of the bare cylinder at finished depth, edges not subtracted. Depth 1 to 40 in, wall 0.5 mm to a
    quarter of the diameter; SpecError outside.
    """
    od = outside_diameter(nominal_diameter_in, head_undersize_mm=head_undersize_mm, wrap_thickness_mm=wrap_thickness_mm)
    require_between(nominal_depth_in, 1, 40, field="nominal_depth_in", unit="in")
    if not math.isfinite(wall_mm) or wall_mm < 0.5:
        raise SpecError("wall_too_thin", "plates", _WALL_TOO_THIN.format(wall=f"{wall_mm:g}"))
    require_wall_fits(wall_mm, od)
    depth = mm_from_inches(nominal_depth_in)
    inside = od - 2 * wall_mm
    return ShellGeometry(
        role=role,
        nominal_diameter_in=nominal_diameter_in,
        nominal_depth_in=nominal_depth_in,
        outside_diameter_mm=od,
        diameter_over_finish_mm=od + 2 * wrap_thickness_mm,
        inside_diameter_mm=inside,
        wall_mm=wall_mm,
        outside_circumference_mm=math.pi * od,
        inside_circumference_mm=math.pi * inside,
        mm_per_degree=math.pi * od / 360,
        depth_mm=depth,
        outside_area_m2=math.pi * od * depth / 1e6,
        inside_area_m2=math.pi * inside * depth / 1e6,
        head_play_each_side_mm=head_undersize_mm / 2,
        tolerances=tolerances_for(role),
        warnings=_head_fit_warnings(head_undersize_mm),
    )


def _head_fit_warnings(undersize_mm: float) -> tuple[SpecWarning, ...]:
    (low, high), under = USUAL_UNDERSIZE_MM, f"{undersize_mm:g}"
    if undersize_mm <= TIGHT_UNDERSIZE_MM:
        code, text = "head_tight", _HEAD_TIGHT.format(under=under)
    elif undersize_mm > LOOSE_UNDERSIZE_MM:
        code, text = "head_loose", _HEAD_LOOSE.format(under=under)
    elif not low <= undersize_mm <= high:
        code, text = "head_fit", _HEAD_FIT.format(under=under, low=f"{low:g}", high=f"{high:g}")
    else:
        return ()
    return (SpecWarning(code, "head_undersize_mm", text),)
