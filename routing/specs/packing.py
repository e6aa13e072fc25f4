"""Which drums of a kit travel inside which, how few nests that takes, and the cartons round them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, require_between


@dataclass(frozen=True, slots=True)
class PackingRules:
    """Per shop, in mm: pads between drums and round the nest (common practice, no source)."""

    pad_mm: float = 6.0  # foam between an inner drum and the one round it, each side
    depth_clearance_mm: float = 10.0  # how much shallower an inner drum must be
    carton_pad_mm: float = 40.0  # each side of the outermost drum


@dataclass(frozen=True, slots=True)
class PackedDrum:
    """A drum as it lies in the carton: heads and top hoop may be off, hardware is on."""

    name: str
    outside_diameter_mm: float
    inside_diameter_mm: float
    depth_mm: float
    outside_projection_mm: float  # lugs and mounts beyond the shell
    inside_projection_mm: float  # screw heads into the shell


@dataclass(frozen=True, slots=True)
class DrumEnvelope:
    """Room that one drum takes, for a carton of its own."""

    diameter_mm: float
    length_mm: float
    carton_side_mm: float
    carton_height_mm: float


@dataclass(frozen=True, slots=True)
class Nest:
    drums: tuple[str, ...]  # outermost first
    carton_side_mm: float
    carton_height_mm: float


@dataclass(frozen=True, slots=True)
class PackingPlan:
    nests: tuple[Nest, ...]
    largest_antichain: int  # so many drums of which none fits another: fewer nests can't be
    order_of_nesting: tuple[str, ...]


def envelope(drum: PackedDrum, rules: PackingRules | None = None) -> DrumEnvelope:
    """Diameter and length over the hardware, and the inside of a square carton round it, in mm."""
    keep = rules or PackingRules()
    _require(drum)
    diameter = drum.outside_diameter_mm + 2 * drum.outside_projection_mm
    return DrumEnvelope(
        diameter, drum.depth_mm, diameter + 2 * keep.carton_pad_mm, drum.depth_mm + 2 * keep.carton_pad_mm
    )


def fits_inside(inner: PackedDrum, outer: PackedDrum, rules: PackingRules | None = None) -> bool:
    """Whether ``inner`` with its hardware and pads goes into ``outer``, past the screw heads in it."""
    keep = rules or PackingRules()
    over_hardware = inner.outside_diameter_mm + 2 * inner.outside_projection_mm + 2 * keep.pad_mm
    free = outer.inside_diameter_mm - 2 * outer.inside_projection_mm
    return over_hardware <= free + 1e-9 and inner.depth_mm <= outer.depth_mm - keep.depth_clearance_mm + 1e-9


def fewest_chains(count: int, below: Callable[[int, int], bool]) -> list[list[int]]:
    """The fewest chains that cover 0 … count−1, where ``below(a, b)`` says that a comes under b in a strict order.

    By Dilworth's theorem their number equals the largest set of elements of which none is under another; it is found as
    count less a maximum matching of the order's pairs (augmenting paths). Each chain runs from its top down. ``below``
    must be transitive: of nested drums it is. 0 to 200 elements.
    """
    if not 0 <= count <= 200:
        raise SpecError("too_many", "count", "Pack at most 200 drums at once.")
    under: list[list[int]] = [[a for a in range(count) if a != b and below(a, b)] for b in range(count)]
    top_of: dict[int, int] = {}  # element → the one directly round it

    def place(outer: int, seen: set[int]) -> bool:
        for inner in under[outer]:
            if inner in seen:
                continue
            seen.add(inner)
            if inner not in top_of or place(top_of[inner], seen):
                top_of[inner] = outer
                return True
        return False

    for outer in range(count):
        place(outer, set())
    inside = {outer: inner for inner, outer in top_of.items()}
    chains = []
    for start in range(count):
        if start in top_of:
            continue
        chain = [start]
        while chain[-1] in inside:
            chain.append(inside[chain[-1]])
        chains.append(chain)
    return chains


def plan_packing(drums: Sequence[PackedDrum], rules: PackingRules | None = None) -> PackingPlan:
    """The fewest nests for the drums of a kit, with a carton for each; proven fewest (Dilworth)."""
    keep = rules or PackingRules()
    for drum in drums:
        _require(drum)
    # Larger drums first, so that the plan is the same whatever the order of the list.
    ordered = sorted(drums, key=lambda d: (-d.outside_diameter_mm, -d.depth_mm, d.name))
    chains = fewest_chains(len(ordered), lambda a, b: fits_inside(ordered[a], ordered[b], keep))
    nests = []
    for chain in chains:
        outer = envelope(ordered[chain[0]], keep)
        nests.append(Nest(tuple(ordered[n].name for n in chain), outer.carton_side_mm, outer.carton_height_mm))
    nesting = tuple(name for nest in nests for name in reversed(nest.drums))
    return PackingPlan(tuple(nests), len(nests), nesting)


def _require(drum: PackedDrum) -> None:
    require_between(drum.outside_diameter_mm, 90.0, 1100.0, field="outside_diameter_mm", unit="mm")
    require_between(drum.inside_diameter_mm, 60.0, drum.outside_diameter_mm, field="inside_diameter_mm", unit="mm")
    require_between(drum.depth_mm, 30.0, 900.0, field="depth_mm", unit="mm")
    for value, field in (
        (drum.outside_projection_mm, "outside_projection_mm"),
        (drum.inside_projection_mm, "inside_projection_mm"),
    ):
        if not (math.isfinite(value) and 0 <= value <= 200):
            raise SpecError("out_of_range", field, "A projection is 0 to 200 mm.")
