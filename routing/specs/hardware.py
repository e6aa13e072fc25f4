"""The parts of a drum: what goes into which bag, clearance holes, and whether the rods hold."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import HardwareInputs, LugKind, PartInputs

# ISO 273:1979, clearance holes for metric bolts: fine, medium, coarse, mm.
CLEARANCE_HOLES_MM = {
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
}
FITS = ("fine", "medium", "coarse")
LEAST_ENGAGEMENT_DIAMETERS = 1.5  # thread in thread at playing tension (from memory)
LEAST_TURNS = 4.0


@dataclass(frozen=True, slots=True)
class PickLine:
    bag: str
    name: str
    quantity: int
    spare: int


@dataclass(frozen=True, slots=True)
class RodResult:
    name: str
    length_mm: float
    engagement_mm: float  # thread in the lug nut when the hoop stands at the edge plane
    engagement_diameters: float
    turns: float
    shortest_mm: float  # rod that just engages enough
    longest_mm: float  # rod that just bottoms in the nut
    fits: bool


@dataclass(frozen=True, slots=True)
class HardwareResult:
    pieces: int  # without spares
    spares: int
    pick_list: tuple[PickLine, ...]  # by bag, then as listed
    lugs: int  # castings
    rods: int
    rod: RodResult | None
    warnings: tuple[SpecWarning, ...]


def clearance_hole(thread: str, fit: str = "medium") -> float:
    """Clearance hole in mm of a metric thread by ISO 273: M4, M5, M6, M8; fine, medium or coarse fit."""
    if thread not in CLEARANCE_HOLES_MM:
        raise SpecError(
            "unknown_thread",
            "thread",
            f"No clearance hole is listed for {thread}; use {', '.join(CLEARANCE_HOLES_MM)}.",
        )
    if fit not in FITS:
        raise SpecError("unknown_fit", "fit", "Choose a fine, medium or coarse fit.")
    return CLEARANCE_HOLES_MM[thread][FITS.index(fit)]


def pick_list(parts: Iterable[PartInputs]) -> tuple[PickLine, ...]:
    """Parts by bag in the order in which the bags first appear; loose parts last. Equal parts of one bag are added up."""
    bags: dict[str, dict[str, tuple[int, int]]] = {}
    for part in parts:
        in_bag = bags.setdefault(part.bag, {})
        quantity, spare = in_bag.get(part.name, (0, 0))
        in_bag[part.name] = (quantity + part.quantity, spare + part.spare)
    ordered = [bag for bag in bags if bag] + [bag for bag in bags if not bag]
    return tuple(
        PickLine(bag, name, quantity, spare) for bag in ordered for name, (quantity, spare) in bags[bag].items()
    )


def hardware(hardware: HardwareInputs) -> HardwareResult:
    """Counts, pick list and rods of one drum. Rods are two for each lug position; warnings where the list disagrees."""
    lugs = hardware.lugs
    castings = lugs.per_head * (1 if lugs.kind is LugKind.DOUBLE_ENDED else 2)
    rods = 2 * lugs.per_head
    warnings: list[SpecWarning] = []
    for words, expected, word in ((("rod",), rods, "tension rods"), (("lug",), castings, "lugs")):
        listed = [p for p in hardware.parts if _is(p.name, words)]
        count = sum(p.quantity for p in listed)
        if listed and count != expected:
            warnings.append(
                SpecWarning(
                    "parts_count",
                    "hardware.parts",
                    f"The parts list has {count} {word}; {lugs.per_head} lugs a head need {expected}.",
                )
            )
    rod = _rod(hardware, warnings)
    return HardwareResult(
        pieces=sum(part.quantity for part in hardware.parts),
        spares=sum(part.spare for part in hardware.parts),
        pick_list=pick_list(hardware.parts),
        lugs=castings,
        rods=rods,
        rod=rod,
        warnings=tuple(warnings),
    )


def _is(name: str, words: tuple[str, ...]) -> bool:
    """Whether a part is the thing itself and not a washer or screw for it: its last word is the word."""
    last = name.lower().replace(",", " ").split()[-1] if name.split() else ""
    return any(last in (word, word + "s") for word in words)


def _rod(hardware: HardwareInputs, warnings: list[SpecWarning]) -> RodResult | None:
    rod = hardware.rod
    if rod is None:
        return None
    require_between(rod.pitch_mm, 0.3, 3.0, field="hardware.rod.pitch_mm", unit="mm")
    require_between(rod.diameter_mm, 2.0, 12.0, field="hardware.rod.diameter_mm", unit="mm")
    reach = rod.stack_above_shell_edge_mm + rod.lug_mouth_from_edge_mm
    engagement = max(0.0, min(rod.length_mm - reach, rod.thread_depth_mm))
    least = max(LEAST_ENGAGEMENT_DIAMETERS * rod.diameter_mm, LEAST_TURNS * rod.pitch_mm)
    fits = engagement >= least - 1e-9 and rod.length_mm - reach <= rod.thread_depth_mm + 1e-9
    if engagement < least - 1e-9:
        warnings.append(
            SpecWarning(
                "rod_short",
                "hardware.rod.length_mm",
                f"The rod of {rod.length_mm:g} mm has only {engagement:.1f} mm in the nut; take at least "
                f"{math.ceil(reach + least)} mm.",
            )
        )
    elif not fits:
        warnings.append(
            SpecWarning(
                "rod_long",
                "hardware.rod.length_mm",
                f"The rod of {rod.length_mm:g} mm bottoms in the nut; take at most {math.floor(reach + rod.thread_depth_mm)} mm.",
            )
        )
    return RodResult(
        name=rod.name,
        length_mm=rod.length_mm,
        engagement_mm=engagement,
        engagement_diameters=engagement / rod.diameter_mm,
        turns=engagement / rod.pitch_mm,
        shortest_mm=reach + least,
        longest_mm=reach + rod.thread_depth_mm,
        fits=fits,
    )
