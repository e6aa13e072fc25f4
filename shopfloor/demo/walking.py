"""Drums of the demo walked along their route through the real actions, dated back: dwells and night hours are kept, each
step is signed by somebody who may, and its checks are answered so that they pass."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.actions import final_check_of, print_card, sign_off
from quality.checks import Check, checks_for
from quality.materials import materials_wanted, usable_batches
from quality.may_sign import assemblers_of, signers_at
from quality.models import Person, Role
from routing.frozen import current_spec
from routing.history import Stamp
from routing.models import Operation, OperationState, Shell, StationKind

STEP = timedelta(minutes=35)  # from one signature to the next
OPENS, CLOSES = 7, 16  # nobody signs at night


class NobodyMay(Exception):
    """Nobody is qualified for a step; the sentence says at which station."""


def walk(shell: Shell, *, last: int, now: datetime, place: str) -> bool:
    """Sign the steps of a drum up to this position. False: a dwell lasts longer than until now, and the rest is not signed.

    ``place`` stands in the record in place of a tablet. Raises NobodyMay.
    """
    moment = shell.released_at
    for position in range(1, last + 1):
        step = Operation.objects.select_related("station", "shell__model", "shell__finish").get(
            shell=shell, position=position
        )
        if step.state == OperationState.SKIPPED:
            continue
        moment = in_hours(max(moment, step.not_before or moment) + STEP)
        if moment > now:
            return False
        if step.station.kind == StationKind.PACK:
            _put_card_in(shell, moment, place)
        _sign(step, moment, place)
    return True


def in_hours(moment: datetime) -> datetime:
    """The moment itself by day; after hours the next morning."""
    local = timezone.localtime(moment)
    if OPENS <= local.hour < CLOSES:
        return moment
    ahead = local if local.hour < OPENS else local + timedelta(days=1)
    return ahead.replace(hour=OPENS, minute=10, second=0, microsecond=0)


def stamp_of(who: Person, at: datetime, place: str) -> Stamp:
    moment = at.astimezone(UTC)
    return Stamp(person_id=who.pk, person_name=who.name, at=moment, received_at=moment, device=place)


def passing(check: Check, results: Mapping[str, Any]) -> str:
    """An answer that passes a check of a drum with these results, as somebody would enter it."""
    if not check.is_measured:
        return "yes"
    if check.lines:
        return " ".join(f"{line.wanted}" for line in check.lines)
    if check.is_spread:
        # Of a head the tone at each lug, of a shell its diameter in several directions.
        each = (check.head or {}).get("target_hz") or results["shell"]["outside_diameter_mm"]
        return " ".join([f"{each:.0f}"] * check.places)
    return " ".join([_value(check)] * check.places)


def _value(check: Check) -> str:
    """The middle of the limits, with as few decimals as stay within them."""
    low, high = check.low, check.high
    if low is not None and high is not None:
        middle = (low + high) / 2
    else:
        middle = high * 0.6 if high is not None else (low or 0.0) + 1
    return next((text for places in range(4) if check.accepts(float(text := f"{middle:.{places}f}"))), f"{middle:.6f}")


def _put_card_in(shell: Shell, at: datetime, place: str) -> None:
    """The checker prints the card before the drum is packed."""
    final = final_check_of(shell)
    if final is not None:
        print_card(serial=shell.serial, person=final.person, stamp=stamp_of(final.person, at, place))


def _sign(step: Operation, at: datetime, place: str) -> None:
    who = _who(step, at)
    final = step.station.kind == StationKind.FINAL_CHECK
    spec = current_spec(step.shell)
    checks = checks_for(step, step.shell, spec.results)
    wanted = materials_wanted(step, spec.results, spec.inputs, at=at)
    batches = {each.key: usable_batches(at).filter(glue=each.glue).first() for each in wanted if each.required}
    sign_off(
        serial=step.shell.serial,
        position=step.position,
        person=who,
        answers={check.key: passing(check, spec.results) for check in checks},
        materials={key: batch.code for key, batch in batches.items() if batch},
        pin_confirmed=final,
        stamp=stamp_of(who, at, place),
    )


def _who(step: Operation, at: datetime) -> Person:
    """Somebody qualified for a step; a final checker who did not assemble the drum, for its final check."""
    found = signers_at(step.station, timezone.localdate(at))
    if step.station.kind == StationKind.FINAL_CHECK:
        barred = assemblers_of(step.shell)
        found = [who for who in found if who.pk not in barred and who.role == Role.FINAL_CHECKER]
    if not found:
        nobody = _("Nobody is qualified for {station}. Qualify somebody under People, then begin.")
        raise NobodyMay(nobody.format(station=step.station.name))
    workers = [who for who in found if who.role == Role.WORKER] or found
    return workers[step.shell_id % len(workers)]
