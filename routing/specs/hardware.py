"""The parts of a drum and of a kit: what goes into which bag, threads and their holes, and whether the rods hold."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import HardwareInputs, LugKind, PartInputs
from routing.specs.units import mm_from_inches

# ISO 273:1979, clearance holes for metric bolts: fine, medium, coarse, mm.
CLEARANCE_HOLES_MM = {
    "M2.5": (2.7, 2.9, 3.1),
    "M3": (3.2, 3.4, 3.6),
    "M3.5": (3.7, 3.9, 4.2),
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0),
}
FITS = ("fine", "medium", "coarse")
# ISO 261, coarse pitches in mm.
COARSE_PITCH_MM = {"M2.5": 0.45, "M3": 0.5, "M3.5": 0.6, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25, "M10": 1.5}
LEAST_ENGAGEMENT_DIAMETERS = 1.5  # thread in thread at playing tension (from memory)
LEAST_TURNS = 4.0

_METRIC = re.compile(r"^M(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?$", re.IGNORECASE)
_INCH = re.compile(r"^(?:#|No\.?\s*)?(\d+(?:/\d+)?)\s*-\s*(\d+)(?:\s+UN[A-Z]*)?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """Basic sizes of a 60° thread, in mm."""

    name: str
    major_mm: float
    pitch_mm: float

    @property
    def pitch_diameter_mm(self) -> float:
        """d − 0.649519·P (ISO 724 and ASME B1.1: the same basic profile)."""
        return self.major_mm - 3 * math.sqrt(3) / 8 * self.pitch_mm


@dataclass(frozen=True, slots=True)
class PickLine:
    bag: str
    name: str
    quantity: int
    spare: int


@dataclass(frozen=True, slots=True)
class BagCount:
    bag: str  # empty for loose parts
    kinds: int
    pieces: int  # without spares
    spares: int


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
    bags: tuple[BagCount, ...]
    lugs: int  # castings
    lug_screws: int
    rods: int
    rod: RodResult | None
    warnings: tuple[SpecWarning, ...]


@dataclass(frozen=True, slots=True)
class KitLine:
    bag: str
    name: str
    quantity: int
    spare: int
    by_drum: tuple[int, ...]  # in the order of the drums


@dataclass(frozen=True, slots=True)
class KitParts:
    """The parts of a whole kit, equal parts of equal bags added up over its drums."""

    drums: tuple[str, ...]
    lines: tuple[KitLine, ...]
    pieces: int
    spares: int
    warnings: tuple[SpecWarning, ...]


def thread(name: str) -> Thread:
    """Basic sizes of a thread by its name: ``M4``, ``M5 × 0.8``, ``12-24 UNC``, ``8-32``, ``1/4-20``.

    A metric name without a pitch has the coarse one of ISO 261 (M2.5 to M10). Numbered inch sizes 0 to 14 have a major
    diameter of 0.060 in + 0.013 in a number (ASME B1.1), fractions up to 1 in their own. Pitch of inch threads:
    25.4 mm / threads an inch. SpecError ``unknown_thread`` for anything else.
    """
    cleaned = " ".join(name.split())
    metric = _METRIC.match(cleaned)
    if metric:
        size = f"M{float(metric[1]):g}"
        pitch = float(metric[2]) if metric[2] else COARSE_PITCH_MM.get(size, 0.0)
        if 0 < pitch < float(metric[1]) / 2:
            return Thread(cleaned, float(metric[1]), pitch)
    inch = _INCH.match(cleaned)
    if inch and int(inch[2]) in range(4, 81):
        major: float | None = None
        if "/" in inch[1]:
            top, bottom = (int(part) for part in inch[1].split("/"))
            major = float(Fraction(top, bottom)) if 0 < top <= bottom else None
        elif int(inch[1]) <= 14:
            major = 0.060 + 0.013 * int(inch[1])
        if major is not None:
            return Thread(cleaned, mm_from_inches(major), mm_from_inches(1 / int(inch[2])))
    raise SpecError(
        "unknown_thread",
        "thread",
        f"“{name}” is no thread known here; write for example M5, M5 × 0.8, 12-24 UNC or 1/4-20.",
    )


def clearance_hole(screw: str, fit: str = "medium") -> float:
    """Clearance hole in mm of a metric screw by ISO 273: M2.5 to M10; fine, medium or coarse fit."""
    if screw not in CLEARANCE_HOLES_MM:
        raise SpecError(
            "unknown_thread",
            "thread",
            f"No clearance hole is listed for {screw}; use {', '.join(CLEARANCE_HOLES_MM)}.",
        )
    if fit not in FITS:
        raise SpecError("unknown_fit", "fit", "Choose a fine, medium or coarse fit.")
    return CLEARANCE_HOLES_MM[screw][FITS.index(fit)]


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


def lug_mouth(hardware: HardwareInputs, depth_mm: float | None) -> float:
    """From the edge plane to the first thread of the lug, mm.

    That of a double-ended lug follows from the drum: it stands at mid-depth with a mouth at either end, so the mouth is
    half of what the drum is deeper than the lug is long. Without a depth, and for single-ended lugs, the recipe's own.
    """
    if hardware.rod is None:
        return 0.0
    if depth_mm is None or hardware.lugs.kind is not LugKind.DOUBLE_ENDED:
        return hardware.rod.lug_mouth_from_edge_mm
    return (depth_mm - hardware.lugs.footprint_axial_mm) / 2


def hardware(
    hardware: HardwareInputs, *, depth_mm: float | None = None, diameter_in: float | None = None
) -> HardwareResult:
    """Counts, pick list and rods of one drum; two rods for each lug position. Warnings where the list disagrees.

    ``depth_mm`` and ``diameter_in`` are those of the drum, for rods of double-ended lugs and for hoops and heads.
    SpecError when a part's count is negative or a rod's size is impossible.
    """
    lugs = hardware.lugs
    for number, part in enumerate(hardware.parts):
        require_between(part.quantity, 0, 1000, field=f"hardware.parts.{number}.quantity")
        require_between(part.spare, 0, 1000, field=f"hardware.parts.{number}.spare")
    castings = lugs.per_head * (1 if lugs.kind is LugKind.DOUBLE_ENDED else 2)
    screws = castings * (2 if lugs.hole_spacing_mm > 0 else 1)
    rods = 2 * lugs.per_head
    lines = pick_list(hardware.parts)
    warnings = [*_count_warnings(hardware, castings, screws, rods), *_hole_warnings(hardware)]
    if diameter_in is not None and hardware.for_diameter_in not in (None, diameter_in):
        warnings.append(
            SpecWarning(
                "hoops_of_other_size",
                "hardware.for_diameter_in",
                f"The hoops, heads and wires of “{hardware.name}” are for {hardware.for_diameter_in:g} in; this drum has "
                f"{diameter_in:g} in. Choose another set of hardware.",
            )
        )
    rod = _rod(hardware, lug_mouth(hardware, depth_mm), warnings)
    return HardwareResult(
        pieces=sum(part.quantity for part in hardware.parts),
        spares=sum(part.spare for part in hardware.parts),
        pick_list=lines,
        bags=tuple(
            BagCount(
                bag,
                sum(line.bag == bag for line in lines),
                sum(line.quantity for line in lines if line.bag == bag),
                sum(line.spare for line in lines if line.bag == bag),
            )
            for bag in dict.fromkeys(line.bag for line in lines)
        ),
        lugs=castings,
        lug_screws=screws,
        rods=rods,
        rod=rod,
        warnings=tuple(warnings),
    )


def kit_parts(drums: Sequence[tuple[str, HardwareInputs]]) -> KitParts:
    """The parts of a kit of named drums. Warns when its rods have different threads: they would be mixed up."""
    lists = [pick_list(hardware.parts) for _, hardware in drums]
    keys = dict.fromkeys((line.bag, line.name) for lines in lists for line in lines)
    ordered = [key for key in keys if key[0]] + [key for key in keys if not key[0]]
    lines = []
    for bag, name in ordered:
        found = [next((line for line in lines_ if (line.bag, line.name) == (bag, name)), None) for lines_ in lists]
        counts = tuple(0 if line is None else line.quantity for line in found)
        lines.append(KitLine(bag, name, sum(counts), sum(line.spare for line in found if line), counts))
    threads: dict[str, list[str]] = {}
    for drum, hardware in drums:
        if hardware.rod is not None:
            threads.setdefault(hardware.rod.thread, []).append(drum)
    warnings: tuple[SpecWarning, ...] = ()
    if len(threads) > 1:
        warnings = (
            SpecWarning(
                "mixed_threads",
                "hardware.rod.thread",
                "The rods of this kit have different threads: "
                + "; ".join(f"{name} on {', '.join(on)}" for name, on in threads.items())
                + ". Rods get mixed up and lugs are stripped; use one thread.",
            ),
        )
    return KitParts(
        drums=tuple(name for name, _ in drums),
        lines=tuple(lines),
        pieces=sum(line.quantity for line in lines),
        spares=sum(line.spare for line in lines),
        warnings=warnings,
    )


def _kind(name: str) -> str:
    """What a part is: its name before a comma, in small letters, with a blank before each word."""
    return " " + " ".join(name.lower().split(",")[0].split())


def _endings(words: str) -> tuple[str, str]:
    """How the kind of a part ends that is the thing itself and not something for it, one or several."""
    return f" {words}", f" {words}s"


def _count_warnings(hardware: HardwareInputs, castings: int, screws: int, rods: int) -> list[SpecWarning]:
    """Where the parts list has another count than the lugs need. Kinds of part that are not listed are not asked for."""
    per_head = hardware.lugs.per_head
    found = []
    kinds = [(_kind(part.name), part) for part in hardware.parts]
    for ends, each_line, expected, word in (
        (("rod",), False, rods, "tension rods"),
        (("lug",), False, castings, "lugs"),
        (("lug screw",), False, screws, "lug screws"),
        (("lug screw washer", "lug washer"), False, screws, "lug screw washers"),
        (("rod washer",), True, rods, "rod washers"),
        (("claw",), False, rods, "claws"),
        (("hoop",), False, 2, "hoops"),
        (("head",), False, 2, "heads"),
    ):
        endings = tuple(ending for words in ends for ending in _endings(words))
        listed = [part for kind, part in kinds if kind.endswith(endings)]
        # Washers of two materials lie under every rod, so each line counts for itself.
        counts = [(part.name, part.quantity) for part in listed] if each_line else []
        if listed and not each_line:
            counts = [(word, sum(part.quantity for part in listed))]
        for name, count in counts:
            if count != expected:
                found.append(
                    SpecWarning(
                        "parts_count",
                        "hardware.parts",
                        f"The parts list has {count} {name}; {per_head} lugs a head need {expected}.",
                    )
                )
    return found


def _hole_warnings(hardware: HardwareInputs) -> list[SpecWarning]:
    """Whether each screw goes through its hole (ISO 273), and whether the hole still hides under the washer."""
    lugs = hardware.lugs
    found = _hole_warning(lugs.name, lugs.screw, lugs.hole_diameter_mm, "hardware.lugs.hole_diameter_mm")
    for number, fitting in enumerate(hardware.fittings):
        for diameter in sorted({hole[2] for hole in fitting.holes}):
            if _is_for_something_else(diameter, fitting.screw):
                continue
            found += _hole_warning(fitting.name, fitting.screw, diameter, f"hardware.fittings.{number}.holes")
    return found


def _is_for_something_else(diameter_mm: float, screw: str) -> bool:
    """A hole more than twice as wide as the screw is for a tube or a shaft."""
    try:
        return bool(screw) and diameter_mm > 2 * thread(screw).major_mm
    except SpecError:
        return False


def _hole_warning(what: str, screw: str, diameter_mm: float, field: str) -> list[SpecWarning]:
    if not screw:
        return []
    try:
        major = thread(screw).major_mm
    except SpecError:
        return []  # a name of the shop's own: nothing to compare with
    metric = f"M{major:g}"
    least = clearance_hole(metric, "fine") if metric in CLEARANCE_HOLES_MM else major + 0.3
    if diameter_mm < least - 1e-9:
        text = f"{what}: a hole of {diameter_mm:g} mm is tight for a {screw} screw; drill at least {least:.1f} mm."
        return [SpecWarning("hole_tight", field, text)]
    if diameter_mm > 1.6 * major:
        text = f"{what}: a hole of {diameter_mm:g} mm is wide for a {screw} screw; the washer may pull in."
        return [SpecWarning("hole_wide", field, text)]
    return []


def _rod(hardware: HardwareInputs, mouth_mm: float, warnings: list[SpecWarning]) -> RodResult | None:
    rod = hardware.rod
    if rod is None:
        return None
    require_between(rod.pitch_mm, 0.3, 3.0, field="hardware.rod.pitch_mm", unit="mm")
    require_between(rod.diameter_mm, 2.0, 12.0, field="hardware.rod.diameter_mm", unit="mm")
    require_between(rod.length_mm, 5.0, 400.0, field="hardware.rod.length_mm", unit="mm")
    require_between(rod.thread_depth_mm, 0.0, 200.0, field="hardware.rod.thread_depth_mm", unit="mm")
    require_between(
        rod.stack_above_shell_edge_mm, -50.0, 200.0, field="hardware.rod.stack_above_shell_edge_mm", unit="mm"
    )
    require_between(rod.lug_mouth_from_edge_mm, -50.0, 300.0, field="hardware.rod.lug_mouth_from_edge_mm", unit="mm")
    warnings.extend(_thread_warnings(rod.thread, rod.pitch_mm, rod.diameter_mm))
    reach = rod.stack_above_shell_edge_mm + mouth_mm
    engagement = max(0.0, min(rod.length_mm - reach, rod.thread_depth_mm))
    least = max(LEAST_ENGAGEMENT_DIAMETERS * rod.diameter_mm, LEAST_TURNS * rod.pitch_mm)
    bottoms = rod.length_mm - reach > rod.thread_depth_mm + 1e-9
    if least > rod.thread_depth_mm + 1e-9:
        warnings.append(
            SpecWarning(
                "nut_short",
                "hardware.rod.thread_depth_mm",
                f"The lug nut has {rod.thread_depth_mm:g} mm of thread; a rod of {rod.diameter_mm:g} mm wants {least:.1f} mm.",
            )
        )
    elif engagement < least - 1e-9:
        warnings.append(
            SpecWarning(
                "rod_short",
                "hardware.rod.length_mm",
                f"The rod of {rod.length_mm:g} mm has only {engagement:.1f} mm in the nut; take at least "
                f"{math.ceil(reach + least - 1e-9)} mm.",
            )
        )
    if bottoms:
        warnings.append(
            SpecWarning(
                "rod_long",
                "hardware.rod.length_mm",
                f"The rod of {rod.length_mm:g} mm bottoms in the nut; take at most "
                f"{math.floor(reach + rod.thread_depth_mm + 1e-9)} mm.",
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
        fits=engagement >= least - 1e-9 and not bottoms,
    )


def _thread_warnings(name: str, pitch_mm: float, diameter_mm: float) -> list[SpecWarning]:
    """Whether the sizes that were entered are those of the thread that was named."""
    try:
        named = thread(name)
    except SpecError:
        return []
    found = []
    if abs(named.pitch_mm - pitch_mm) > 0.01:
        found.append(
            SpecWarning(
                "thread_differs",
                "hardware.rod.pitch_mm",
                f"{name} has a pitch of {named.pitch_mm:.3f} mm, not {pitch_mm:g} mm.",
            )
        )
    if abs(named.major_mm - diameter_mm) > 0.15:
        found.append(
            SpecWarning(
                "thread_differs",
                "hardware.rod.diameter_mm",
                f"{name} has a diameter of {named.major_mm:.2f} mm, not {diameter_mm:g} mm.",
            )
        )
    return found
