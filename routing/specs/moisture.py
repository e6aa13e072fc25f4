"""Water in wood: what the room gives it, what it does to sizes, and what the glue adds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import Grain, PlateInputs, RoomInputs
from routing.specs.sentences import gettext_noop

_TOO_WET = gettext_noop(
    "Too wet to glue: {now} % is above {limit} %. Let the plates dry; steam would blister the shell."
)
_TOO_DRY = gettext_noop(
    "Too dry to glue: {now} % is below {limit} %. Let the plates take up moisture; dry wood starves the joint."
)
_FIT = gettext_noop("Fit to glue: {now} % moisture.")
_BAD_WEIGHTS = gettext_noop("The dry weight must be above 0 and the water not below it.")
_OFF_TARGET = gettext_noop("The plates have {now} % moisture; {low} to {high} % is best.")
_ROOM_OFF_PLATE = gettext_noop(
    "The room brings wood to {room} %, the plates have {now} %: they will move until they settle."
)
_UNCERTAIN = gettext_noop("The room brings wood to {room} %; the figures for its movement hold from 6 to 14 %.")

STOP_BELOW_PCT, STOP_ABOVE_PCT = 5.0, 10.0  # common practice: do not glue outside
TARGET_PCT = (6.0, 9.0)  # published veneer practice for plates at lay-up
COEFFICIENT_RANGE_PCT = (6.0, 14.0)  # where the dimensional-change coefficients of the Wood Handbook hold
# Plywood moves little in its own plane because the crossed veneers hold each other; along the grain solid wood moves
# about 0.1 to 0.2 % over the 30 % from green to dry (Wood Handbook, longitudinal shrinkage).
LONGITUDINAL_PER_PCT = 0.00005


@dataclass(frozen=True, slots=True)
class PlateMoisture:
    position: int
    name: str
    density_kg_per_m3: float  # at the plate's moisture content
    room_move_mm: float  # change of the plate's height when it settles from its moisture to that of the room
    glue_lines: int
    water_from_glue_g_per_m2: float
    rise_pct: float  # rise of its moisture content by that water


@dataclass(frozen=True, slots=True)
class MoistureResult:
    room_emc_pct: float
    plate_moisture_pct: float
    fit_to_glue: bool
    verdict: str
    room_humidity_for_plate_pct: float  # the humidity at which plates of this moisture stay as they are
    shell_height_move_mm: float  # of the pressed height, weighted by the plates, free to move: an upper bound
    plates: tuple[PlateMoisture, ...]
    warnings: tuple[SpecWarning, ...]


def equilibrium_moisture(temperature_c: float, humidity_pct: float) -> float:
    """Equilibrium moisture content of wood in %, from °C and % relative humidity.

    Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190), eq. (4-5) with the coefficients for °C. Valid −1.1 to
    132 °C and 0 to 100 % here (the Handbook's table covers 5 to 95 %); a tenth of a per cent is not meaningful.
    SpecError outside.
    """
    t = require_between(temperature_c, -1.2, 132.0, field="room.temperature_c", unit="°C")
    h = require_between(humidity_pct, 0.0, 100.0, field="room.humidity_pct", unit="%") / 100
    w = 349 + 1.29 * t + 0.0135 * t * t
    k = 0.805 + 0.000736 * t - 0.00000273 * t * t
    k1 = 6.27 - 0.00938 * t - 0.000303 * t * t
    k2 = 1.91 + 0.0407 * t - 0.000293 * t * t
    kh = k * h
    bound = k1 * kh + 2 * k1 * k2 * kh * kh
    return 1800 / w * (kh / (1 - kh) + bound / (1 + k1 * kh + k1 * k2 * kh * kh))


def humidity_for_moisture(temperature_c: float, moisture_pct: float) -> float:
    """The relative humidity in % at which wood keeps ``moisture_pct``: the inverse of :func:`equilibrium_moisture`.

    Found by bisection to better than 1e-9 %. SpecError when no humidity from 0 to 100 % gives that moisture.
    """
    top = equilibrium_moisture(temperature_c, 100.0)
    require_between(moisture_pct, 0.0, top, field="room.plate_moisture_pct", unit="%")
    low, high = 0.0, 100.0
    for _ in range(48):
        middle = (low + high) / 2
        if equilibrium_moisture(temperature_c, middle) < moisture_pct:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def moisture_content(water_g: float, dry_g: float) -> float:
    """Moisture content in % on the ovendry basis: water / dry wood (Wood Handbook eq. 4-2). Both in the same unit."""
    if not (math.isfinite(water_g) and math.isfinite(dry_g)) or dry_g <= 0 or water_g < 0:
        raise SpecError("bad_weights", "dry_g", _BAD_WEIGHTS)
    return water_g / dry_g * 100


def dimensional_change(size_mm: float, coefficient_per_pct: float, from_pct: float, to_pct: float) -> float:
    """Change of a size in mm: ΔD = D·C·(M_F − M_I) (Wood Handbook eq. 13-2), C per 1 % moisture content.

    The coefficients hold from 6 to 14 %; 0 to 30 % is accepted, and :func:`moisture` warns beyond 6 to 14.
    """
    require_between(size_mm, 0.0, 10_000.0, field="size_mm", unit="mm")
    require_between(coefficient_per_pct, 0.0, 0.02, field="coefficient_per_pct")
    for name, value in (("from_pct", from_pct), ("to_pct", to_pct)):
        require_between(value, 0.0, 30.0, field=name, unit="%")
    return size_mm * coefficient_per_pct * (to_pct - from_pct)


def change_coefficient(shrinkage_pct: float) -> float:
    """Dimensional-change coefficient per 1 % moisture from the shrinkage green to ovendry (1 to 20 %).

    C = 1 / (30·100/S − 30 + 10): fibre saturation at 30 %, based on the size at 10 %. It reproduces the Wood Handbook's
    table 13-5 from its table 4-3.
    """
    require_between(shrinkage_pct, 0.5, 20.0, field="shrinkage_pct", unit="%")
    return 1 / (3000 / shrinkage_pct - 30 + 10)


def density(specific_gravity: float, moisture_pct: float) -> float:
    """Density in kg/m³ at ``moisture_pct``: 1000·G·(1 + M/100) (Wood Handbook ch. 4).

    ``specific_gravity`` is ovendry mass over volume at that same moisture (0.1 to 1.3). Used with the G at 12 % the
    error over 6 to 14 % is below 2 %, that of the volume. Never use it with a G on ovendry volume.
    """
    require_between(specific_gravity, 0.1, 1.3, field="specific_gravity")
    require_between(moisture_pct, 0.0, 30.0, field="room.plate_moisture_pct", unit="%")
    return 1000 * specific_gravity * (1 + moisture_pct / 100)


def dry_mass_per_area(plate: PlateInputs) -> float:
    """Ovendry mass of a plate in g/m² at its working thickness, from G at 12 %."""
    return 1000 * plate.species.specific_gravity * plate.working_thickness_mm


def water_in_glue(spread_g_per_m2: float, solids_pct: float) -> float:
    """Water in g/m² that a spread of glue brings in: what is not solids."""
    require_between(spread_g_per_m2, 0.0, 1000.0, field="glue.spread_g_per_m2", unit="g/m²")
    require_between(solids_pct, 1.0, 100.0, field="glue.solids_pct", unit="%")
    return spread_g_per_m2 * (1 - solids_pct / 100)


def moisture(
    *,
    plates: Sequence[PlateInputs],
    room: RoomInputs,
    pressed_height_mm: float,
    spread_g_per_m2: float,
    glue_solids_pct: float,
) -> MoistureResult:
    """Whether the plates may be glued, how much they move, and how much wetter the glue makes them.

    Each glue line gives half its water to the plate on either side. Movement is that of solid wood across the face
    grain (tangential, the larger) or along it; crossed veneers hold it back, so it is an upper bound.
    """
    emc = equilibrium_moisture(room.temperature_c, room.humidity_pct)
    now = require_between(room.plate_moisture_pct, 0.0, 25.0, field="room.plate_moisture_pct", unit="%")
    water = water_in_glue(spread_g_per_m2, glue_solids_pct)
    rows = []
    for index, plate in enumerate(plates):
        lines = (index > 0) + (index < len(plates) - 1)
        rows.append(
            PlateMoisture(
                position=index + 1,
                name=plate.name,
                density_kg_per_m3=density(plate.species.specific_gravity, now),
                room_move_mm=dimensional_change(pressed_height_mm, _height_coefficient(plate), now, min(emc, 30.0)),
                glue_lines=lines,
                water_from_glue_g_per_m2=lines * water / 2,
                rise_pct=moisture_content(lines * water / 2, dry_mass_per_area(plate)),
            )
        )
    wall = sum(plate.working_thickness_mm for plate in plates)
    fit, verdict, warnings = _verdict(now, emc)
    return MoistureResult(
        room_emc_pct=emc,
        plate_moisture_pct=now,
        fit_to_glue=fit,
        verdict=verdict,
        room_humidity_for_plate_pct=humidity_for_moisture(room.temperature_c, min(now, 20.0)),
        shell_height_move_mm=sum(
            row.room_move_mm * plate.working_thickness_mm for row, plate in zip(rows, plates, strict=True)
        )
        / wall,
        plates=tuple(rows),
        warnings=warnings,
    )


def _height_coefficient(plate: PlateInputs) -> float:
    """Change of a plate's height (along the shell's axis) per 1 % moisture: the mean over its veneers.

    The veneers whose grain runs along the axis hardly move; the others move tangentially, as rotary and flat-sliced
    veneers do in their width.
    """
    faces = (plate.veneers + 1) // 2
    axial = faces if plate.face_grain is Grain.AXIAL else plate.veneers - faces
    crossing = plate.veneers - axial
    return (axial * LONGITUDINAL_PER_PCT + crossing * plate.species.change_tangential_per_pct) / plate.veneers


def _verdict(now: float, emc: float) -> tuple[bool, str, tuple[SpecWarning, ...]]:
    field = "room.plate_moisture_pct"
    low, high = TARGET_PCT
    if now > STOP_ABOVE_PCT:
        text = _TOO_WET.format(now=f"{now:.1f}", limit=f"{STOP_ABOVE_PCT:g}")
        return False, text, (SpecWarning("too_wet", field, text),)
    if now < STOP_BELOW_PCT:
        text = _TOO_DRY.format(now=f"{now:.1f}", limit=f"{STOP_BELOW_PCT:g}")
        return False, text, (SpecWarning("too_dry", field, text),)
    warnings = []
    if not low <= now <= high:
        warnings.append(
            SpecWarning(
                "moisture_off_target", field, _OFF_TARGET.format(now=f"{now:.1f}", low=f"{low:g}", high=f"{high:g}")
            )
        )
    if abs(emc - now) > 2.0:
        warnings.append(
            SpecWarning(
                "room_off_plate",
                "room.humidity_pct",
                _ROOM_OFF_PLATE.format(room=f"{emc:.1f}", now=f"{now:.1f}"),
            )
        )
    if not COEFFICIENT_RANGE_PCT[0] <= emc <= COEFFICIENT_RANGE_PCT[1]:
        warnings.append(
            SpecWarning(
                "movement_uncertain",
                "room.humidity_pct",
                _UNCERTAIN.format(room=f"{emc:.1f}"),
            )
        )
    return True, _FIT.format(now=f"{now:.1f}"), tuple(warnings)
