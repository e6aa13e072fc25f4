"""What a drum weighs, and whether a scale can tell that a part is missing."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.coats import CoatsResult
from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import PartInputs, PlateInputs
from routing.specs.layup import LayUpResult
from routing.specs.moisture import density
from routing.specs.sentences import gettext_noop
from routing.specs.wrap import WrapResult

_FINDS_ONE = gettext_noop("Weighing finds one missing {part}.")
_FINDS_NONE = gettext_noop(
    "Weighing can't find one missing {part} ({mass} g): the bag varies by ±{spread} g. Count it, or bag the "
    "light parts by themselves."
)
_ALL_HOLES = gettext_noop("The holes take away more wood than the plate has.")
_ALL_EDGES = gettext_noop("The bearing edges take away more than half of the shell.")
_EMPTY_BAG = gettext_noop("The bag “{bag}” has no parts; remove it or fill it.")
_BAG = gettext_noop("Bag “{bag}”: {advice}")

SHELL_SPREAD_PCT = 8.0  # from memory: shells of one model differ by 5 to 8 %
WINDOW_SIGMAS = 3.0
SCALE_DIVISION_G = 0.1  # from memory: a bench scale for bags; weigh to this, with the empty bag tared
DRY_FILM_G_PER_CM3 = 1.2  # from memory: dried lacquer and hardened oil, 1.0 to 1.3
WRAP_G_PER_CM3 = 1.35  # from memory: cellulose and vinyl sheet, 1.3 to 1.4
CARTON_G_PER_M2 = 800.0  # from memory: double-wall board, 700 to 900
PACKING_G_PER_DRUM = 250.0  # from memory: foam, bags and the care sheet; weigh one of yours
FLAPS = 1.3  # of a carton's walls and floor: flaps that overlap, and the glued seam (common practice, no source)


@dataclass(frozen=True, slots=True)
class BagMass:
    """One hardware bag and the window its weight must lie in."""

    bag: str
    pieces: int
    nominal_g: float
    spread_g: float  # half-width of the window
    low_g: float
    high_g: float
    lightest_part: str
    lightest_g: float
    finds_one_missing: bool  # a bag short of its lightest part can't lie in the window
    advice: str


@dataclass(frozen=True, slots=True)
class MassResult:
    shell_g: float
    shell_low_g: float
    shell_high_g: float
    glue_solids_g: float
    removed_by_holes_g: float
    removed_by_edges_g: float
    finish_g: float  # dried coats, or the wrap with its adhesive
    bags: tuple[BagMass, ...]
    loose_g: float
    hardware_g: float
    drum_g: float  # finished drum with what is fitted, without spares
    spares_g: float
    warnings: tuple[SpecWarning, ...]


def plate_mass(
    plate: PlateInputs,
    *,
    mid_plane_length_mm: float,
    height_mm: float,
    moisture_pct: float,
    holes_area_mm2: float = 0.0,
) -> float:
    """Mass in g of one plate in the finished shell: (length × height − holes) × thickness × density at its moisture."""
    area = mid_plane_length_mm * height_mm - holes_area_mm2
    if area < 0:
        raise SpecError("holes_too_large", "hardware.fittings", _ALL_HOLES)
    volume_m3 = area * plate.working_thickness_mm / 1e9
    return density(plate.species.specific_gravity, moisture_pct) * volume_m3 * 1000


def edge_volume(profile: Sequence[tuple[float, float]], outside_diameter_mm: float) -> float:
    """What a bearing edge takes off one end of a shell, mm³.

    ``profile`` gives x from the outside face and z below the apex plane, outside first; each mm of x is a ring of
    π·(D − 2x). Exact for straight lines between the points (Simpson's rule on a quadratic).
    """
    volume = 0.0
    for (x0, z0), (x1, z1) in itertools.pairwise(profile):
        middle = (z0 + z1) / 2 * math.pi * (outside_diameter_mm - (x0 + x1))
        ends = z0 * math.pi * (outside_diameter_mm - 2 * x0) + z1 * math.pi * (outside_diameter_mm - 2 * x1)
        volume += (x1 - x0) / 6 * (ends + 4 * middle)
    return volume


def shell_mass(
    *,
    plates: Sequence[PlateInputs],
    layup: LayUpResult,
    depth_mm: float,
    moisture_pct: float,
    hole_diameters_mm: Sequence[float] = (),
    glue_area_m2: float = 0.0,
    spread_g_per_m2: float = 0.0,
    glue_solids_pct: float = 100.0,
    edge_profiles: Sequence[Sequence[tuple[float, float]]] = (),
) -> tuple[float, float, float, float]:
    """Mass of the shell in g, of the glue solids in it, and of the wood that holes and bearing edges took away.

    Wood at its moisture content and the glue's solids over the finished height; a hole counts as a cylinder through the
    wall, an edge at the mean density of the wall. The snare beds are not subtracted (some tenths of a gram).
    """
    require_between(depth_mm, 1.0, 1500.0, field="nominal_depth_in", unit="mm")
    for diameter in hole_diameters_mm:
        require_between(diameter, 0.5, 100.0, field="hardware.fittings", unit="mm")
    holes = math.fsum(math.pi / 4 * d * d for d in hole_diameters_mm)
    wood = removed = 0.0
    for plate, placed in zip(plates, layup.plates, strict=True):
        whole = plate_mass(
            plate, mid_plane_length_mm=placed.mid_plane_length_mm, height_mm=depth_mm, moisture_pct=moisture_pct
        )
        drilled = plate_mass(
            plate,
            mid_plane_length_mm=placed.mid_plane_length_mm,
            height_mm=depth_mm,
            moisture_pct=moisture_pct,
            holes_area_mm2=holes,
        )
        wood += drilled
        removed += whole - drilled
    whole_mm3 = math.fsum(
        placed.mid_plane_length_mm * depth_mm * plate.working_thickness_mm
        for plate, placed in zip(plates, layup.plates, strict=True)
    )
    edges_mm3 = math.fsum(edge_volume(profile, layup.outside_diameter_mm) for profile in edge_profiles)
    if edges_mm3 >= whole_mm3 / 2:
        raise SpecError("edges_too_deep", "batter_edge", _ALL_EDGES)
    edges = edges_mm3 / whole_mm3 * (wood + removed)
    glue = glue_area_m2 * spread_g_per_m2 * glue_solids_pct / 100
    return wood - edges + glue, glue, removed, edges


def bag_mass(bag: str, parts: Sequence[PartInputs], scale_division_g: float = SCALE_DIVISION_G) -> BagMass:
    """The weighing window of one bag, g, and whether weighing finds one missing part.

    Each piece's mass has a tolerance of ± ``mass_tolerance_pct``, taken as three standard deviations, and pieces vary
    independently; n equal pieces spread by √n. Weigh ten pieces of each new lot for ``unit_mass_g``: a lot that is
    heavier as a whole shifts the bag. One missing part of mass m moves the bag by m; the window
    nominal ± s finds it for certain only when m − s > s, that is s < m/2 (common practice). The window is widened by one
    division of the scale, which is how far its reading may be off. The empty bag is tared; spares are not in it.
    """
    require_between(scale_division_g, 0.001, 100.0, field="scale_division_g", unit="g")
    inside = [part for part in parts if part.quantity > 0]
    if not inside:
        raise SpecError("empty_bag", "hardware.parts", _EMPTY_BAG.format(bag=bag))
    for part in inside:
        require_between(part.unit_mass_g, 0.01, 100_000.0, field="hardware.parts", unit="g")
        require_between(part.mass_tolerance_pct, 0.0, 50.0, field="hardware.parts", unit="%")
    nominal = math.fsum(part.quantity * part.unit_mass_g for part in inside)
    sigma = math.sqrt(
        math.fsum(
            part.quantity * (part.unit_mass_g * part.mass_tolerance_pct / 100 / WINDOW_SIGMAS) ** 2 for part in inside
        )
    )
    spread = WINDOW_SIGMAS * sigma + scale_division_g
    lightest = min(inside, key=lambda part: (part.unit_mass_g, part.name))
    finds = spread < lightest.unit_mass_g / 2
    if finds:
        advice = _FINDS_ONE.format(part=lightest.name)
    else:
        advice = _FINDS_NONE.format(part=lightest.name, mass=f"{lightest.unit_mass_g:g}", spread=f"{spread:.1f}")
    return BagMass(
        bag=bag,
        pieces=sum(part.quantity for part in inside),
        nominal_g=nominal,
        spread_g=spread,
        low_g=nominal - spread,
        high_g=nominal + spread,
        lightest_part=lightest.name,
        lightest_g=lightest.unit_mass_g,
        finds_one_missing=finds,
        advice=advice,
    )


def mass(
    *,
    plates: Sequence[PlateInputs],
    layup: LayUpResult,
    depth_mm: float,
    moisture_pct: float,
    parts: Sequence[PartInputs],
    hole_diameters_mm: Sequence[float] = (),
    glue_area_m2: float = 0.0,
    spread_g_per_m2: float = 0.0,
    glue_solids_pct: float = 100.0,
    finish_g: float = 0.0,
    edge_profiles: Sequence[Sequence[tuple[float, float]]] = (),
) -> MassResult:
    """Shell, bags, hardware and finished drum in g. ``finish_g`` is the dry finish or wrap that stays on the shell."""
    require_between(finish_g, 0.0, 20_000.0, field="finish", unit="g")
    shell, glue, removed, edges = shell_mass(
        plates=plates,
        layup=layup,
        depth_mm=depth_mm,
        moisture_pct=moisture_pct,
        hole_diameters_mm=hole_diameters_mm,
        glue_area_m2=glue_area_m2,
        spread_g_per_m2=spread_g_per_m2,
        glue_solids_pct=glue_solids_pct,
        edge_profiles=edge_profiles,
    )
    names = dict.fromkeys(part.bag for part in parts if part.bag and part.quantity > 0)
    bags = tuple(bag_mass(name, [part for part in parts if part.bag == name]) for name in names)
    loose = math.fsum(part.quantity * part.unit_mass_g for part in parts if not part.bag)
    spares = math.fsum(part.spare * part.unit_mass_g for part in parts)
    hardware = math.fsum(bag.nominal_g for bag in bags) + loose
    return MassResult(
        shell_g=shell,
        shell_low_g=shell * (1 - SHELL_SPREAD_PCT / 100),
        shell_high_g=shell * (1 + SHELL_SPREAD_PCT / 100),
        glue_solids_g=glue,
        removed_by_holes_g=removed,
        removed_by_edges_g=edges,
        finish_g=finish_g,
        bags=bags,
        loose_g=loose,
        hardware_g=hardware,
        drum_g=shell + finish_g + hardware,
        spares_g=spares,
        warnings=tuple(
            SpecWarning("bag_not_weighable", "hardware.parts", _BAG.format(bag=bag.bag, advice=bag.advice))
            for bag in bags
            if not bag.finds_one_missing
        ),
    )


def finish_mass(film: CoatsResult, covering: WrapResult | None, *, wrap_thickness_mm: float = 0.0) -> float:
    """Dry mass in g of what is on the shell: m² × µm of each dried coat is cm³; a wrap is sheet and dried adhesive.

    Densities are from memory, so a tenth of it is uncertain: some tens of grams.
    """
    require_between(wrap_thickness_mm, 0.0, 3.0, field="finish.wrap.thickness_mm", unit="mm")
    coats = math.fsum(coat.area_m2 * coat.dry_film_um for coat in film.coats) * DRY_FILM_G_PER_CM3
    if covering is None:
        return coats
    return coats + covering.area_m2 * wrap_thickness_mm * 1000 * WRAP_G_PER_CM3 + covering.adhesive_dry_g


def carton_mass(side_mm: float, height_mm: float) -> float:
    """Mass in g of an empty square carton of double-wall board: its four walls, floor and lid, with flaps.

    Inside 100 to 2000 mm a side. Weigh one carton of yours: boards differ by a third.
    """
    require_between(side_mm, 100.0, 2000.0, field="carton_side_mm", unit="mm")
    require_between(height_mm, 50.0, 2000.0, field="carton_height_mm", unit="mm")
    return (4 * side_mm * height_mm + 2 * side_mm * side_mm) / 1e6 * FLAPS * CARTON_G_PER_M2


def carton_gross(drums_g: Sequence[float], *, spares_g: float, carton_g: float, packing_g: float) -> float:
    """Gross mass of one carton in g: the drums in it, their spares, the carton and the packing material."""
    for value in (*drums_g, spares_g, carton_g, packing_g):
        require_between(value, 0.0, 200_000.0, field="carton", unit="g")
    return math.fsum(drums_g) + spares_g + carton_g + packing_g
