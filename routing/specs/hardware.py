"""The parts of a drum and of a kit: what goes into which bag, and whether the counts and the holes fit the lugs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import HardwareInputs, LugKind, PartInputs
from routing.specs.rods import RodResult, lug_mouth, rod_in_lug
from routing.specs.sentences import gettext_noop
from routing.specs.threads import CLEARANCE_HOLES_MM, clearance_hole, thread

_HOLE_TIGHT = gettext_noop(
    "{fitting}: a hole of {diameter} mm is tight for a {screw} screw; drill at least {least} mm."
)
_HOLE_WIDE = gettext_noop("{fitting}: a hole of {diameter} mm is wide for a {screw} screw; the washer may pull in.")
_OTHER_SIZE = gettext_noop(
    "The hoops, heads and wires of “{hardware}” are for {wanted} in; this drum has {diameter} in. Choose "
    "another set of hardware."
)
_MIXED_THREADS = gettext_noop(
    "The rods of this kit have different threads: {threads}. Rods get mixed up and lugs are stripped; use one thread."
)
_PARTS_COUNT = gettext_noop("The parts list has {count} {parts}; {lugs} lugs a head need {expected}.")


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
                _OTHER_SIZE.format(
                    hardware=hardware.name, wanted=f"{hardware.for_diameter_in:g}", diameter=f"{diameter_in:g}"
                ),
            )
        )
    rod = rod_in_lug(hardware, lug_mouth(hardware, depth_mm), warnings)
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
                _MIXED_THREADS.format(threads="; ".join(f"{name} on {', '.join(on)}" for name, on in threads.items())),
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
                        _PARTS_COUNT.format(count=count, parts=name, lugs=per_head, expected=expected),
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
        text = _HOLE_TIGHT.format(fitting=what, diameter=f"{diameter_mm:g}", screw=screw, least=f"{least:.1f}")
        return [SpecWarning("hole_tight", field, text)]
    if diameter_mm > 1.6 * major:
        text = _HOLE_WIDE.format(fitting=what, diameter=f"{diameter_mm:g}", screw=screw)
        return [SpecWarning("hole_wide", field, text)]
    return []
