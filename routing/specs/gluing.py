"""How much glue to mix, from what, and how long there is to use it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import GlueInputs, MixPartInputs
from routing.specs.layup import LayUpResult
from routing.specs.sentences import gettext_noop

_TOO_COLD = gettext_noop("{now} °C is too cold for {glue}: do not glue below {least} °C.")
_NO_MIX = gettext_noop("The glue has no parts; enter at least one with its parts by weight.")
_BAD_LIMITS = gettext_noop("The highest room temperature must be above the lowest.")
_TOO_WARM = gettext_noop("{now} °C is too warm for {glue}: do not glue above {most} °C.")
_NO_SHELLS = gettext_noop("Choose at least one shell to mix glue for.")
_BAD_PART = gettext_noop("Give {part} more than 0 parts by weight.")
_NO_GLUE_LINE = gettext_noop("A single plate has no glue line; only its seam holds the shell together.")


@dataclass(frozen=True, slots=True)
class GlueLine:
    number: int  # 1 lies between plates 1 and 2
    diameter_mm: float
    area_m2: float
    glue_g: float  # on the wood, without waste


@dataclass(frozen=True, slots=True)
class MixPart:
    name: str
    share_pct: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class Clocks:
    """Pot life counts from mixing, closed time from the first spread until full pressure."""

    temperature_c: float
    pot_life_min: float
    closed_time_min: float
    may_glue: bool
    reason: str


@dataclass(frozen=True, slots=True)
class GluingResult:
    lines: tuple[GlueLine, ...]
    area_m2: float
    spread_g_per_m2: float
    on_the_wood_g: float
    waste_pct: float
    to_mix_g: float
    mix: tuple[MixPart, ...]
    clocks: Clocks
    warnings: tuple[SpecWarning, ...]


@dataclass(frozen=True, slots=True)
class Batch:
    """One mix for several shells."""

    shells: int
    to_mix_g: float
    mix: tuple[MixPart, ...]
    use_within_min: float


def glue_lines(layup: LayUpResult, height_mm: float, spread_g_per_m2: float) -> tuple[GlueLine, ...]:
    """The cylinders between neighbouring plates, at the pressed height (mm): area π·d·H in m², glue in g."""
    require_between(height_mm, 1.0, 1500.0, field="nominal_depth_in", unit="mm")
    require_between(spread_g_per_m2, 10.0, 600.0, field="glue.spread_g_per_m2", unit="g/m²")
    lines = []
    for number, plate in enumerate(layup.plates[:-1], start=1):
        area = math.pi * plate.inner_diameter_mm * height_mm / 1e6
        lines.append(GlueLine(number, plate.inner_diameter_mm, area, area * spread_g_per_m2))
    return tuple(lines)


def mix_by_weight(parts: Sequence[MixPartInputs], total_g: float) -> tuple[MixPart, ...]:
    """Split ``total_g`` (0 to 100 000 g) among the parts of a mix in their proportion by weight; the shares add "
    "up to it."""
    require_between(total_g, 0.0, 100_000.0, field="total_g", unit="g")
    if not parts:
        raise SpecError("no_mix", "glue.mix", _NO_MIX)
    for index, part in enumerate(parts):
        if not math.isfinite(part.parts_by_weight) or part.parts_by_weight <= 0:
            raise SpecError("bad_part", f"glue.mix.{index}.parts_by_weight", _BAD_PART.format(part=part.name))
    whole = math.fsum(part.parts_by_weight for part in parts)
    return tuple(
        MixPart(part.name, part.parts_by_weight / whole * 100, part.parts_by_weight / whole * total_g) for part in parts
    )


def clocks(glue: GlueInputs, temperature_c: float) -> Clocks:
    """Pot life and closed time in minutes at a room temperature of −20 to 60 °C.

    Both halve for every ``halving_step_c`` above 20 °C and double for every step below (published for urea and epoxy
    glues; 8 to 10 °C is usual). Outside the glue's limits it may not be used at all, whatever the clocks say.
    """
    require_between(temperature_c, -20.0, 60.0, field="room.temperature_c", unit="°C")
    require_between(glue.halving_step_c, 1.0, 50.0, field="glue.halving_step_c", unit="°C")
    require_between(glue.pot_life_min_at_20c, 1.0, 5000.0, field="glue.pot_life_min_at_20c", unit="min")
    require_between(glue.closed_time_min_at_20c, 0.5, 1000.0, field="glue.closed_time_min_at_20c", unit="min")
    if glue.min_room_c >= glue.max_room_c:
        raise SpecError("bad_limits", "glue.max_room_c", _BAD_LIMITS)
    factor = 0.5 ** ((temperature_c - 20.0) / glue.halving_step_c)
    if temperature_c < glue.min_room_c:
        reason = _TOO_COLD.format(now=f"{temperature_c:g}", glue=glue.name, least=f"{glue.min_room_c:g}")
    elif temperature_c > glue.max_room_c:
        reason = _TOO_WARM.format(now=f"{temperature_c:g}", glue=glue.name, most=f"{glue.max_room_c:g}")
    else:
        reason = ""
    return Clocks(
        temperature_c=temperature_c,
        pot_life_min=glue.pot_life_min_at_20c * factor,
        closed_time_min=glue.closed_time_min_at_20c * factor,
        may_glue=not reason,
        reason=reason,
    )


def shells_per_batch(
    *, pot_life_min: float, minutes_per_shell: float, first_ready_min: float = 5.0, closed_time_min: float | None = None
) -> int:
    """How many shells one mix may serve, spread one after another before the pot life ends.

    ``first_ready_min`` passes between mixing and the first spread; each shell takes ``minutes_per_shell`` to spread and
    load. With ``closed_time_min`` the answer is 0 when one shell alone takes longer than that: it can't be done by one
    person. All in minutes; SpecError for a time that is not above 0 (first_ready may be 0).
    """
    require_between(pot_life_min, 0.1, 20_000.0, field="pot_life_min", unit="min")
    require_between(minutes_per_shell, 0.1, 1000.0, field="minutes_per_shell", unit="min")
    require_between(first_ready_min, 0.0, 1000.0, field="first_ready_min", unit="min")
    if closed_time_min is not None and minutes_per_shell > closed_time_min:
        return 0
    return max(0, math.floor((pot_life_min - first_ready_min) / minutes_per_shell + 1e-9))


def gluing(*, layup: LayUpResult, height_mm: float, glue: GlueInputs, temperature_c: float) -> GluingResult:
    """Areas, glue and mix for one shell. A shell of one plate has no glue line but its own seam."""
    require_between(glue.waste_pct, 0.0, 200.0, field="glue.waste_pct", unit="%")
    lines = glue_lines(layup, height_mm, glue.spread_g_per_m2)
    on_wood = math.fsum(line.glue_g for line in lines)
    to_mix = on_wood * (1 + glue.waste_pct / 100)
    times = clocks(glue, temperature_c)
    warnings: list[SpecWarning] = []
    if not times.may_glue:
        warnings.append(SpecWarning("room_outside_glue", "room.temperature_c", times.reason))
    if not lines:
        warnings.append(SpecWarning("no_glue_line", "plates", _NO_GLUE_LINE))
    return GluingResult(
        lines=lines,
        area_m2=math.fsum(line.area_m2 for line in lines),
        spread_g_per_m2=glue.spread_g_per_m2,
        on_the_wood_g=on_wood,
        waste_pct=glue.waste_pct,
        to_mix_g=to_mix,
        mix=mix_by_weight(glue.mix, to_mix),
        clocks=times,
        warnings=tuple(warnings),
    )


def batch(glue: GlueInputs, shells: Sequence[GluingResult], temperature_c: float) -> Batch:
    """One mix for a press load or a batch: the sum of what each shell takes, to be used within the pot life.

    SpecError when there are no shells or the room is outside the glue's limits.
    """
    if not shells:
        raise SpecError("no_shells", "shells", _NO_SHELLS)
    times = clocks(glue, temperature_c)
    if not times.may_glue:
        raise SpecError("room_outside_glue", "room.temperature_c", times.reason)
    total = math.fsum(shell.to_mix_g for shell in shells)
    return Batch(len(shells), total, mix_by_weight(glue.mix, total), times.pot_life_min)
