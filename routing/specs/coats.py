"""Coats: film, material and dwell of each, the film of them all, and the gloss they end in."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from routing.specs.errors import SpecError, SpecWarning, require_between
from routing.specs.inputs import CoatInputs, FinishInputs, RoomInputs, Surface
from routing.specs.sentences import gettext_noop

_TOO_COLD = gettext_noop("no film forms at {now} °C; warm the room to at least {least} °C before coating.")
_TOO_DAMP = gettext_noop("at {now} % humidity the film dries badly; bring the air below {most} % before coating.")
_GLOSS = gettext_noop("Measure at 60°: {target} units.")
_GLOSSY = gettext_noop("At 60° it reads {target} units, above 70: compare shells at 20°.")
_MATT = gettext_noop("At 60° it reads {target} units, below 10: compare shells at 85°.")
_NO_DRAWDOWNS = gettext_noop("Make at least two drawdowns: one of matt, one of gloss base.")
_OUTSIDE_DRAWDOWNS = gettext_noop("{target} GU lies outside the drawdowns ({low} to {high} GU); make another card.")
_STOPPED = gettext_noop("{coat}: {reason}")
# xgettext:no-python-format
_SAME_BLEND = gettext_noop("Two cards have {share} % of gloss base; keep one of them.")
_NOT_RISING = gettext_noop("Gloss must rise with the share of gloss base; measure the cards again.")
_COARSER_GRIT = gettext_noop("{coat}: P{grit} after P{before} on the {surface} is coarser than before.")

REFERENCE_C = 21.0  # a coat's dwell is entered for this climate
DOUBLING_STEP_C = 8.0  # about 10–15 °F colder doubles the time (published rule of a finishing page)


@dataclass(frozen=True, slots=True)
class CoatResult:
    """One coat on one shell."""

    name: str
    stage: str
    surface: str
    area_m2: float
    wet_film_um: float
    dry_film_um: float
    material_ml: float  # as it is sprayed or wiped, thinner included, with what misses the shell
    unthinned_ml: float
    thinner_ml: float
    grit_before: int | None
    dwell_h: float  # until the next step, in the room's climate
    dwell_factor: float  # against the reference climate
    may_coat: bool  # False where no film forms or the air is too damp
    stop_reason: str  # a sentence when it may not be coated, else empty


@dataclass(frozen=True, slots=True)
class CoatInAir:
    """What the air of the room decides about one coat."""

    dwell_h: float
    dwell_factor: float  # against the reference climate
    may_coat: bool
    stop_reason: str  # a sentence when it may not be coated, else empty


@dataclass(frozen=True, slots=True)
class CoatsResult:
    coats: tuple[CoatResult, ...]
    outside_dry_film_um: float
    inside_dry_film_um: float
    material_ml: float  # of all coats, thinner included
    dwell_h: float  # of all coats
    gloss_target_gu: float | None  # on the 60° scale
    gloss_angle_deg: int | None
    gloss_advice: str
    gloss_base_pct: float | None  # of the blend, from the shop's drawdowns; None without cards or without a target
    warnings: tuple[SpecWarning, ...]


def dry_film(wet_film_um: float, volume_solids_pct: float, thinning_pct: float = 0.0) -> float:
    """Dry film in µm: wet film × volume solids, the solids thinned down by ``thinning_pct`` of added thinner.

    Wet film 1 to 500 µm, solids above 0 to 100 %, thinning 0 to 100 %. The general rule of coating technology.
    """
    require_between(wet_film_um, 1.0, 500.0, field="wet_film_um", unit="µm")
    return wet_film_um * thinned_solids(volume_solids_pct, thinning_pct) / 100


def thinned_solids(volume_solids_pct: float, thinning_pct: float) -> float:
    """Volume solids in per cent after adding thinner, per cent of the unthinned volume (0 to 100): VS / (1 + thinner).

    Taking the thinner off the solids instead (50 % less a tenth is 45 %) is a common slip; 50 % thinned by 10 % is
    45.45 %.
    """
    require_between(volume_solids_pct, 0.1, 100.0, field="volume_solids_pct", unit="%")
    require_between(thinning_pct, 0.0, 100.0, field="thinning_pct", unit="%")
    return volume_solids_pct / (1 + thinning_pct / 100)


def material_ml(area_m2: float, wet_film_um: float, transfer_efficiency: float) -> float:
    """Millilitres that leave the gun or pad for a wet film on an area (m² × µm = ml), part of which misses the shell.

    Area 0 to 50 m², wet film 1 to 500 µm, transfer efficiency 0.05 to 1 (one less the loss factor).
    """
    require_between(area_m2, 0.0, 50.0, field="area_m2", unit="m²")
    require_between(wet_film_um, 1.0, 500.0, field="wet_film_um", unit="µm")
    require_between(transfer_efficiency, 0.05, 1.0, field="transfer_efficiency")
    return area_m2 * wet_film_um / transfer_efficiency


def dwell_factor(temperature_c: float, humidity_pct: float, *, air: float = 1.0, film_ratio: float = 1.0) -> float:
    """How many times the reference dwell (21 °C, at most 55 % RH) a coat takes in a climate.

    2^((21 − T)/8) for temperature; humidity 1 up to 55 %, 1.5 at 70 %, 2 at 85 % and on in proportion; ``air`` 0.75
    with good movement, 1.5 in a dead corner; ``film_ratio`` the wet film over the one the dwell was measured at.
    −5 to 45 °C, 5 to 100 % RH. A planning rule fitted to a published one; the product's data sheet comes first.
    """
    require_between(temperature_c, -5.0, 45.0, field="room.temperature_c", unit="°C")
    require_between(humidity_pct, 5.0, 100.0, field="room.humidity_pct", unit="%")
    require_between(air, 0.5, 3.0, field="air")
    require_between(film_ratio, 0.1, 10.0, field="film_ratio")
    humid = 1.0 + max(0.0, humidity_pct - 55.0) / 30.0
    return float(2 ** ((REFERENCE_C - temperature_c) / DOUBLING_STEP_C) * humid * air * film_ratio)


def gloss_angle(gloss_gu_at_60: float) -> int:
    """At which angle to measure: begin at 60°; 20° above 70 units, 85° below 10 (ISO 2813). 0 to 200 units."""
    require_between(gloss_gu_at_60, 0.0, 200.0, field="gloss_target_gu", unit="GU")
    if gloss_gu_at_60 > 70:
        return 20
    return 85 if gloss_gu_at_60 < 10 else 60


def blend_for_gloss(target_gu: float, drawdowns: Sequence[tuple[float, float]]) -> float:
    """Per cent of gloss base in a blend of matt and gloss for ``target_gu``, from the shop's own drawdowns.

    ``drawdowns`` are (per cent gloss base, gloss units) of test cards, at least two, gloss rising with the share.
    Straight lines between neighbours; SpecError (``no_drawdowns``, ``same_blend_twice``, ``not_rising``,
    ``outside_drawdowns``) otherwise: nothing is guessed beyond what was measured.
    """
    cards = sorted(drawdowns)
    if len(cards) < 2:
        raise SpecError("no_drawdowns", "drawdowns", _NO_DRAWDOWNS)
    for share, units in cards:
        require_between(share, 0.0, 100.0, field="drawdowns", unit="%")
        require_between(units, 0.0, 200.0, field="drawdowns", unit="GU")
    for (share, lower), (next_share, higher) in itertools.pairwise(cards):
        if share == next_share:
            raise SpecError("same_blend_twice", "drawdowns", _SAME_BLEND.format(share=f"{share:g}"))
        if higher <= lower:
            raise SpecError("not_rising", "drawdowns", _NOT_RISING)
    if not cards[0][1] <= target_gu <= cards[-1][1]:
        raise SpecError(
            "outside_drawdowns",
            "target_gu",
            _OUTSIDE_DRAWDOWNS.format(target=f"{target_gu:g}", low=f"{cards[0][1]:g}", high=f"{cards[-1][1]:g}"),
        )
    for (share_a, units_a), (share_b, units_b) in itertools.pairwise(cards):
        if target_gu <= units_b:
            return share_a + (share_b - share_a) * (target_gu - units_a) / (units_b - units_a)
    return cards[-1][0]


def coats(*, finish: FinishInputs, outside_area_m2: float, inside_area_m2: float, room: RoomInputs) -> CoatsResult:
    """Every coat of a finish on one shell, in the room's climate. A finish without coats gives an empty result.

    SpecError names the coat's own field. A coat that the climate forbids is computed all the same and carries the stop.
    """
    require_between(finish.cure_to_drill_h, 0.0, 2000.0, field="finish.cure_to_drill_h", unit="h")
    require_between(finish.cure_to_pack_h, 0.0, 4000.0, field="finish.cure_to_pack_h", unit="h")
    made = tuple(_coat(n, coat, outside_area_m2, inside_area_m2, room) for n, coat in enumerate(finish.coats))
    warnings = [
        SpecWarning(
            "too_cold_to_coat" if room.temperature_c < finish.coats[n].film_forming_min_c else "too_damp_to_coat",
            "room.temperature_c" if room.temperature_c < finish.coats[n].film_forming_min_c else "room.humidity_pct",
            _STOPPED.format(coat=coat.name, reason=coat.stop_reason),
        )
        for n, coat in enumerate(made)
        if not coat.may_coat
    ]
    warnings.extend(_grits(finish.coats))
    target = finish.gloss_target_gu
    blend = None
    if target is not None and finish.drawdowns:
        try:
            blend = blend_for_gloss(target, [(card.gloss_base_pct, card.gloss_gu) for card in finish.drawdowns])
        except SpecError as refused:
            # A card that does not fit stops no drum: the blend is then found by trial, as without cards.
            warnings.append(SpecWarning(refused.code, "finish.drawdowns", refused.message))
    angle = None if target is None else gloss_angle(target)
    return CoatsResult(
        coats=made,
        outside_dry_film_um=math.fsum(c.dry_film_um for c in made if c.surface != Surface.INSIDE),
        inside_dry_film_um=math.fsum(c.dry_film_um for c in made if c.surface != Surface.OUTSIDE),
        material_ml=math.fsum(c.material_ml for c in made),
        dwell_h=math.fsum(c.dwell_h for c in made),
        gloss_target_gu=target,
        gloss_angle_deg=angle,
        gloss_advice="" if target is None else _gloss_advice(target),
        gloss_base_pct=blend,
        warnings=tuple(warnings),
    )


def _coat(number: int, coat: CoatInputs, outside: float, inside: float, room: RoomInputs) -> CoatResult:
    place = f"finish.coats.{number}"
    require_between(coat.wet_film_um, 1.0, 500.0, field=f"{place}.wet_film_um", unit="µm")
    require_between(coat.volume_solids_pct, 0.1, 100.0, field=f"{place}.volume_solids_pct", unit="%")
    require_between(coat.thinning_pct, 0.0, 100.0, field=f"{place}.thinning_pct", unit="%")
    require_between(coat.transfer_efficiency, 0.05, 1.0, field=f"{place}.transfer_efficiency")
    require_between(coat.base_dwell_h, 0.0, 1000.0, field=f"{place}.base_dwell_h", unit="h")
    require_between(
        coat.base_wet_film_um,
        max(1.0, coat.wet_film_um / 10),
        min(500.0, coat.wet_film_um * 10),
        field=f"{place}.base_wet_film_um",
        unit="µm",
    )
    area = {Surface.OUTSIDE: outside, Surface.INSIDE: inside, Surface.BOTH: outside + inside}[coat.surface]
    sprayed = material_ml(area, coat.wet_film_um, coat.transfer_efficiency)
    unthinned = sprayed / (1 + coat.thinning_pct / 100)
    air = coat_in(coat, room)
    return CoatResult(
        name=coat.name,
        stage=coat.stage.value,
        surface=coat.surface.value,
        area_m2=area,
        wet_film_um=coat.wet_film_um,
        dry_film_um=dry_film(coat.wet_film_um, coat.volume_solids_pct, coat.thinning_pct),
        material_ml=sprayed,
        unthinned_ml=unthinned,
        thinner_ml=sprayed - unthinned,
        grit_before=coat.grit_before,
        dwell_h=air.dwell_h,
        dwell_factor=air.dwell_factor,
        may_coat=air.may_coat,
        stop_reason=air.stop_reason,
    )


def coat_in(coat: CoatInputs, room: RoomInputs) -> CoatInAir:
    """What the air decides about one coat. Ranges of the air as in :func:`dwell_factor`."""
    factor = dwell_factor(room.temperature_c, room.humidity_pct, film_ratio=coat.wet_film_um / coat.base_wet_film_um)
    reason = _stop(coat, room)
    return CoatInAir(coat.base_dwell_h * factor, factor, not reason, reason)


def _stop(coat: CoatInputs, room: RoomInputs) -> str:
    if room.temperature_c < coat.film_forming_min_c:
        return _TOO_COLD.format(now=f"{room.temperature_c:g}", least=f"{coat.film_forming_min_c:g}")
    if room.humidity_pct > coat.max_humidity_pct:
        return _TOO_DAMP.format(now=f"{room.humidity_pct:g}", most=f"{coat.max_humidity_pct:g}")
    return ""


def _gloss_advice(target: float) -> str:
    advice = {20: _GLOSSY, 60: _GLOSS, 85: _MATT}[gloss_angle(target)]
    return advice.format(target=f"{target:g}")


def _grits(all_coats: Sequence[CoatInputs]) -> list[SpecWarning]:
    """A coarser grit after a finer one on the same surface leaves scratches that show."""
    found = []
    for surface in (Surface.OUTSIDE, Surface.INSIDE):
        finest = 0
        for number, coat in enumerate(all_coats):
            if coat.surface not in (surface, Surface.BOTH) or coat.grit_before is None:
                continue
            if coat.grit_before < finest:
                found.append(
                    SpecWarning(
                        "coarser_grit",
                        f"finish.coats.{number}.grit_before",
                        _COARSER_GRIT.format(
                            coat=coat.name, grit=coat.grit_before, before=finest, surface=surface.value
                        ),
                    )
                )
            finest = max(finest, coat.grit_before)
    return found
