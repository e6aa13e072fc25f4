"""Which drums of a kit travel inside which, how few nests that takes, and the cartons round them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.sentences import gettext_noop

_FEWEST = gettext_noop("Fewer than {cartons} cartons can't be: of {drums} none goes into another.")
_NOTHING = gettext_noop("Nothing to pack.")
_ONE_CARTON = gettext_noop("One carton: every drum goes into the next.")
_TOO_MANY = gettext_noop("Pack at most {most} drums at once.")
_INSIDE_TOO_WIDE = gettext_noop(
    "The inside diameter of {drum} is {inside} mm; give one from 60 mm to 1 mm under the outside diameter of "
    "{outside} mm."
)
_UNPACK_OUTER = gettext_noop(
    "{drum} carries {drums}: take off one head and hoop of every outer drum, wrap the inner ones, and say so "
    "on the carton."
)
_NO_ORDER = gettext_noop("What fits into what contradicts itself; check the diameters of the drums.")

MOST_DRUMS = 200


@dataclass(frozen=True, slots=True)
class PackingRules:
    """In mm: pads between drums and round the nest (common practice, no source)."""

    pad_mm: float = 6.0  # foam between an inner drum and the one round it, each side
    depth_clearance_mm: float = 10.0  # how much shorter an inner drum must be
    carton_pad_mm: float = 40.0  # each side of the outermost drum


@dataclass(frozen=True, slots=True)
class PackedDrum:
    """A drum as it lies in the carton. Of an outer drum one head and hoop are off; the hardware stays on."""

    name: str
    outside_diameter_mm: float
    inside_diameter_mm: float
    depth_mm: float
    outside_projection_mm: float  # lugs and mounts beyond the shell
    inside_projection_mm: float  # screw heads into the shell
    hoop_overhang_mm: float = 20.0  # hoop beyond the bearing edge, each end (from memory); 0 when packed without


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
    carton_side_mm: float  # inside, square
    carton_height_mm: float


@dataclass(frozen=True, slots=True)
class PackingPlan:
    nests: tuple[Nest, ...]
    cartons: int
    none_fits_another: tuple[str, ...]  # so many drums must travel apart: proof that fewer nests can't be
    order_of_nesting: tuple[str, ...]  # innermost first, nest by nest
    labels: tuple[str, ...]  # "1 of 3" …
    proof: str
    warnings: tuple[SpecWarning, ...]


def envelope(drum: PackedDrum, rules: PackingRules | None = None) -> DrumEnvelope:
    """Diameter and length over hardware and hoops, and the inside of a square carton round it, in mm."""
    keep = rules or PackingRules()
    _require(drum)
    diameter = drum.outside_diameter_mm + 2 * drum.outside_projection_mm
    length = drum.depth_mm + 2 * drum.hoop_overhang_mm
    return DrumEnvelope(diameter, length, diameter + 2 * keep.carton_pad_mm, length + 2 * keep.carton_pad_mm)


def fits_inside(inner: PackedDrum, outer: PackedDrum, rules: PackingRules | None = None) -> bool:
    """Whether ``inner`` with its hardware and pads goes into ``outer``, past the screw heads in it.

    Round: outer inside diameter − 2·screw heads ≥ inner outside diameter + 2·hardware + 2·pad. Along: the inner drum
    with its hoops is shorter than the outer shell by the clearance.
    """
    keep = rules or PackingRules()
    _require(inner)
    _require(outer)
    over_hardware = inner.outside_diameter_mm + 2 * inner.outside_projection_mm + 2 * keep.pad_mm
    free = outer.inside_diameter_mm - 2 * outer.inside_projection_mm
    length = inner.depth_mm + 2 * inner.hoop_overhang_mm
    return over_hardware <= free + 1e-9 and length <= outer.depth_mm - keep.depth_clearance_mm + 1e-9


def fewest_chains(count: int, below: Callable[[int, int], bool]) -> list[list[int]]:
    """The fewest chains that cover 0 … count−1, where ``below(a, b)`` says that a comes under b in a strict order.

    By Dilworth's theorem their number equals the largest set of elements of which none is under another; it is found as
    count less a maximum matching of the order's pairs (augmenting paths). Each chain runs from its top down. ``below``
    must be transitive and without circles; a SpecError ``no_order`` tells when it is not. 0 to 200 elements.
    """
    under = _pairs(count, below)
    inside = _matching(under)
    tops = set(range(count)) - set(inside.values())
    chains = []
    for start in sorted(tops):
        chain = [start]
        while chain[-1] in inside:
            chain.append(inside[chain[-1]])
        chains.append(chain)
    return chains


def largest_antichain(count: int, below: Callable[[int, int], bool]) -> list[int]:
    """As many elements as there can be of which none is under another, for the same orders as ``fewest_chains``.

    From a smallest vertex cover of the matched pairs (Kőnig's theorem): the elements that need no cover on either side.
    Their number equals that of the fewest chains, which proves both.
    """
    under = _pairs(count, below)
    inside = _matching(under)
    round_of = {inner: outer for outer, inner in inside.items()}
    # Kőnig: from outers without an inner, along any pair inwards and along matched pairs back outwards.
    seen_outer = {outer for outer in range(count) if outer not in inside}
    seen_inner: set[int] = set()
    queue = sorted(seen_outer)
    while queue:
        outer = queue.pop()
        for inner in under[outer]:
            if inner not in seen_inner:
                seen_inner.add(inner)
                back = round_of.get(inner)
                if back is not None and back not in seen_outer:
                    seen_outer.add(back)
                    queue.append(back)
    return [element for element in range(count) if element in seen_outer and element not in seen_inner]


def plan_packing(drums: Sequence[PackedDrum], rules: PackingRules | None = None) -> PackingPlan:
    """The fewest nests for the drums of a kit, with a carton for each; proven fewest (Dilworth, Kőnig). 0 to 200 drums."""
    keep = rules or PackingRules()
    # Larger drums first, so that the plan is the same whatever the order of the list.
    ordered = sorted(
        drums,
        key=lambda d: (-d.outside_diameter_mm, -d.depth_mm, d.name, d.inside_diameter_mm, d.outside_projection_mm),
    )
    fits = [[fits_inside(inner, outer, keep) for outer in ordered] for inner in ordered]
    chains = fewest_chains(len(ordered), lambda a, b: fits[a][b])
    apart = largest_antichain(len(ordered), lambda a, b: fits[a][b])
    nests = []
    for chain in chains:
        outer = envelope(ordered[chain[0]], keep)
        nests.append(Nest(tuple(ordered[n].name for n in chain), outer.carton_side_mm, outer.carton_height_mm))
    names = tuple(ordered[n].name for n in apart)
    return PackingPlan(
        nests=tuple(nests),
        cartons=len(nests),
        none_fits_another=names,
        order_of_nesting=tuple(name for nest in nests for name in reversed(nest.drums)),
        labels=tuple(f"{number} of {len(nests)}" for number in range(1, len(nests) + 1)),
        proof=_proof(names),
        warnings=_warnings(nests),
    )


def _proof(apart: Sequence[str]) -> str:
    if not apart:
        return _NOTHING
    if len(apart) == 1:
        return _ONE_CARTON
    return _FEWEST.format(cartons=len(apart), drums=", ".join(apart))


def _warnings(nests: Sequence[Nest]) -> tuple[SpecWarning, ...]:
    return tuple(
        SpecWarning(
            "unpack_outer_drum",
            "",
            _UNPACK_OUTER.format(drum=nest.drums[0], drums=", ".join(nest.drums[1:])),
        )
        for nest in nests
        if len(nest.drums) > 1
    )


def _pairs(count: int, below: Callable[[int, int], bool]) -> list[list[int]]:
    """For each element the ones under it; refused when that is no strict order."""
    if not 0 <= count <= MOST_DRUMS:
        raise SpecError("too_many", "count", _TOO_MANY.format(most=MOST_DRUMS))
    under = [[a for a in range(count) if below(a, b)] for b in range(count)]
    sets = [set(those) for those in under]
    for top, those in enumerate(under):
        for middle in those:
            if middle == top or top in sets[middle] or not sets[middle] <= sets[top]:
                raise SpecError("no_order", "drums", _NO_ORDER)
    return under


def _matching(under: Sequence[Sequence[int]]) -> dict[int, int]:
    """A largest set of pairs (outer → inner) in which no element is twice outer or twice inner."""
    round_of: dict[int, int] = {}  # inner → the one directly round it

    def place(outer: int, seen: set[int]) -> bool:
        for inner in under[outer]:
            if inner in seen:
                continue
            seen.add(inner)
            if inner not in round_of or place(round_of[inner], seen):
                round_of[inner] = outer
                return True
        return False

    for outer in range(len(under)):
        place(outer, set())
    return {outer: inner for inner, outer in round_of.items()}


def _require(drum: PackedDrum) -> None:
    require_between(drum.outside_diameter_mm, 90.0, 1100.0, field="outside_diameter_mm", unit="mm")
    require_between(drum.depth_mm, 30.0, 900.0, field="depth_mm", unit="mm")
    require_between(drum.outside_projection_mm, 0.0, 200.0, field="outside_projection_mm", unit="mm")
    require_between(drum.inside_projection_mm, 0.0, 200.0, field="inside_projection_mm", unit="mm")
    require_between(drum.hoop_overhang_mm, 0.0, 100.0, field="hoop_overhang_mm", unit="mm")
    if not (
        math.isfinite(drum.inside_diameter_mm) and 60.0 <= drum.inside_diameter_mm <= drum.outside_diameter_mm - 1.0
    ):
        raise SpecError(
            "out_of_range",
            "inside_diameter_mm",
            _INSIDE_TOO_WIDE.format(
                drum=drum.name, inside=f"{drum.inside_diameter_mm:g}", outside=f"{drum.outside_diameter_mm:g}"
            ),
        )
