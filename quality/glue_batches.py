"""Mixing glue: what to weigh for a press load, and the batch with its clock."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quality.errors import QualityError
from quality.lots import open_lot
from quality.materials import LOT_OF, MaterialWanted, usable_lot
from quality.may_sign import require_qualified
from quality.models import GlueBatch, GlueBatchPart, LotKind, LotState, Person
from routing.errors import LostRace, NotAllowedNow
from routing.freezing import glue_inputs
from routing.history import Stamp
from routing.languages import numeral
from routing.models import Glue, GluePart, ShellSpec, Station, StationKind
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.gluing import GluingResult, MixPart, batch, clocks, shells_per_batch
from routing.specs.jsonable import from_json
from routing.turnstile import in_turn, writing

MINUTES_PER_SHELL = 6.0  # to spread one shell and load it into the press: common practice, no source
PROPORTION_PCT = 10.0  # how far a part may be off the recipe: common practice, no source


@dataclass(frozen=True, slots=True)
class Suggestion:
    """What to weigh for some shells at one temperature, and how many of them one batch may serve."""

    glue: Glue
    shells: int
    to_mix_g: float
    mix: tuple[MixPart, ...]
    pot_life_min: float
    closed_time_min: float
    minutes_per_shell: float
    shells_served: int

    @property
    def advice(self) -> str:
        """What to do when one batch can't serve all the shells; empty when it can."""
        if self.shells_served == 0 and self.minutes_per_shell > self.closed_time_min:
            said = _(
                "One shell takes {minutes} min, but the glue must be under pressure {closed} min after the first spread: "
                "spread with two people."
            )
            return said.format(minutes=numeral(self.minutes_per_shell), closed=f"{self.closed_time_min:.0f}")
        if self.shells_served == 0:
            return _("The pot life is over before one shell is spread: glue in a cooler room.")
        if self.shells_served < self.shells:
            said = ngettext(
                "One batch serves {served} shell before its pot life is over, not {shells}: mix for {served}, then mix again.",
                "One batch serves {served} shells before its pot life is over, not {shells}: mix for {served}, then mix again.",
                self.shells_served,
            )
            return said.format(served=self.shells_served, shells=self.shells)
        return ""


def suggest_batch(
    *, specs: Sequence[ShellSpec], glue: Glue, temperature_c: float, minutes_per_shell: float = MINUTES_PER_SHELL
) -> Suggestion:
    """The masses for chosen shells: how much by their frozen specs, in the proportion of the glue's recipe.

    SpecError when no shell is chosen, one is glued with another glue, or the room is outside the glue's limits.
    """
    for spec in specs:
        named = spec.inputs["glue"]["name"]
        if named.casefold() != glue.name.casefold() and Glue.objects.filter(name__iexact=named).exists():
            raise SpecError(
                "two_glues",
                "shells",
                _("{serial} is glued with {named}, not {name}.").format(
                    serial=spec.shell.serial, named=named, name=glue.name
                ),
            )
    inputs = glue_inputs(glue)
    mixed = batch(inputs, [from_json(GluingResult, spec.results["gluing"]) for spec in specs], temperature_c)
    times = clocks(inputs, temperature_c)
    return Suggestion(
        glue=glue,
        shells=mixed.shells,
        to_mix_g=mixed.to_mix_g,
        mix=mixed.mix,
        pot_life_min=times.pot_life_min,
        closed_time_min=times.closed_time_min,
        minutes_per_shell=minutes_per_shell,
        shells_served=shells_per_batch(
            pot_life_min=times.pot_life_min, minutes_per_shell=minutes_per_shell, closed_time_min=times.closed_time_min
        ),
    )


def mix_glue_batch(
    *,
    glue: Glue,
    masses_g: Mapping[int, float],
    lots: Mapping[int, str] | None = None,
    temperature_c: float,
    person: Person,
    station: Station,
    stamp: Stamp,
) -> GlueBatch:
    """Enter a batch as it was weighed, by the places of its parts: masses in g, codes of lots where the shop keeps them.

    Its clock runs from ``stamp.at``. Refused outside the glue's temperature limits, in a wrong proportion, and for
    somebody who may not sign at the press.
    """
    if station.kind != StationKind.PRESS:
        raise NotAllowedNow(
            "other_station", _("Glue is mixed at the press, not at {station}.").format(station=station.name)
        )
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    parts = list(glue.mix.all())
    _require_proportion(parts, masses_g)
    times = clocks(glue_inputs(glue), temperature_c)
    if not times.may_glue:
        raise QualityError("room_outside_glue", spoken(times.reason))
    with in_turn():  # it takes the day's next number, and a tap that arrives twice finds what it wrote
        if stamp.tap_key and (earlier := GlueBatch.objects.filter(tap_key=stamp.tap_key).first()):
            if earlier.glue_id != glue.pk:
                raise LostRace("key_used", _("This tap was used for something else already; open the page again."))
            return earlier
        mixed = GlueBatch.objects.create(
            code=_next_code(stamp),
            glue=glue,
            mixed_by=person,
            mixed_at=stamp.at,
            temperature_c=temperature_c,
            pot_life_min=times.pot_life_min,
            use_until=stamp.at + timedelta(minutes=times.pot_life_min),
            tap_key=stamp.tap_key,
        )
        for part in parts:
            code = (lots or {}).get(part.position, "").strip()
            wanted = MaterialWanted(f"part-{part.position}", LotKind.GLUE, LOT_OF, named=part.name)
            lot = usable_lot(wanted, code, stamp.at) if code else None
            GlueBatchPart.objects.create(
                batch=mixed, position=part.position, name=part.name, mass_g=masses_g[part.position], lot=lot
            )
            if lot is not None and lot.state == LotState.RECEIVED:
                open_lot(lot, stamp)
    return mixed


def use_up(*, batch: GlueBatch, person: Person, station: Station, stamp: Stamp) -> GlueBatch:
    """Mark a batch as used up or thrown away: nobody can sign with it any more. Twice is once."""
    require_qualified(person, station, timezone.localdate(stamp.received_at))
    with writing():
        now = GlueBatch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
        if not now.is_empty:
            now.is_empty, now.emptied_at, now.emptied_by_name = True, stamp.at, stamp.person_name
            now.save(update_fields=["is_empty", "emptied_at", "emptied_by_name"])
    return now


def _next_code(stamp: Stamp) -> str:
    """“G-261125-1”: the day and a running number. Only under the lock of the mix."""
    day = f"G-{timezone.localdate(stamp.at):%y%m%d}-"
    numbers = [int(code.removeprefix(day)) for code in _codes_of(day)]
    return f"{day}{max(numbers, default=0) + 1}"


def _codes_of(day: str) -> list[str]:
    return list(GlueBatch.objects.filter(code__startswith=day).values_list("code", flat=True))


def _require_proportion(parts: Sequence[GluePart], masses_g: Mapping[int, float]) -> None:
    for part in parts:
        mass = masses_g.get(part.position)
        if mass is None or not math.isfinite(mass) or not 0 < mass <= 100_000:
            raise QualityError("bad_mass", _("Weigh {part} and enter its grams, more than 0.").format(part=part.name))
    total = math.fsum(masses_g[part.position] for part in parts)
    whole = math.fsum(part.parts_by_weight for part in parts)
    if not parts:
        raise QualityError("no_mix", _("The recipe of this glue has no parts; ask a supervisor to enter them."))
    for part in parts:
        right = total * part.parts_by_weight / whole
        if abs(masses_g[part.position] - right) > right * PROPORTION_PCT / 100:
            raise QualityError(
                "bad_proportion",
                _(
                    "{mass} g of {part} in {total} g is off the recipe by more than {percent} %: it should be about {right} g. Weigh again; a wrong mix does not cure."
                ).format(
                    mass=numeral(masses_g[part.position], "g"),
                    part=part.name,
                    total=numeral(total, "g"),
                    percent=numeral(PROPORTION_PCT, "g"),
                    right=numeral(right, ".1f"),
                ),
            )
