"""What the guided round of the demo shop needs: an order of three drums, two of them worked on through the real actions.

The drum that is signed, held and settled in the round lies at its first station. The second waits for its card, the third
is packed and its customer asks. Their signatures are dated back over the last days, dwells and night hours kept, so that
nobody waits for glue; each says “guided round” as its place. It is written whole or not at all.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.utils import timezone

from quality.actions import final_check_of, print_card, sign_off
from quality.checks import Check, checks_for
from quality.errors import QualityError
from quality.materials import materials_wanted, usable_batches
from quality.may_sign import assemblers_of
from quality.models import DaySeal, Person, Qualification, RequestKind, Role
from quality.requests import take_request
from quality.rights import Right, has_right
from routing.errors import RoutingError
from routing.frozen import current_spec
from routing.history import Stamp
from routing.models import (
    DrumModel,
    Finish,
    KitLine,
    KitOrder,
    Operation,
    OperationState,
    Shell,
    Shop,
    StationKind,
)
from routing.release import release_order
from routing.turnstile import in_turn
from shopfloor.demo.which_shop import SHOP, is_the_demo
from shopfloor.start.round import PLACE, present_stop

NUMBER = "ROUND"
CUSTOMER = "Reedmarsh Music Room"
QUESTION = "I want to buy new heads for my snare. What diameter does it take, and how thick is its shell?"
BACK = timedelta(days=10)  # so long ago the order was released
STEP = timedelta(minutes=35)  # from one signature to the next
OPENS, CLOSES = 7, 16  # nobody signs at night
DUE_IN = timedelta(days=14)


class RoundRefused(Exception):
    """The round can't begin; the sentence says why and what to do."""


def begin_round(*, by: Person, now: datetime) -> KitOrder:
    """Make the round's order and the work in it, in the place of a round that is done. Raises RoundRefused."""
    with in_turn():
        shop = Shop.objects.get(pk=Shop.current().pk)
        if not is_the_demo(shop):
            raise RoundRefused("The guided round is made for the demo shop; a shop of your own has the first steps.")
        if present_stop(shop)[1] is not None:
            raise RoundRefused("A round is on already; go on with it, or leave it first.")
        try:
            order, shells = _release(by, now)
            _walk(shells[1], now, last=StationKind.FINAL_CHECK)
            _walk(shells[2], now, last=StationKind.PACK)
            _ask(shells[2], by, now)
        except (RoutingError, QualityError) as refused:
            raise RoundRefused(f"The round can't begin. {refused.message}") from refused
        shop.round_order, shop.round_traced = order.number, ""
        shop.save(update_fields=["round_order", "round_traced"])
    return order


def leave_round() -> None:
    """The round is over; its drums stay in the shop."""
    Shop.objects.filter(**SHOP).update(round_order="", round_traced="")


def _release(by: Person, now: datetime) -> tuple[KitOrder, list[Shell]]:
    model = DrumModel.objects.filter(is_active=True, role="snare", line__finish_kind="wrap").order_by("pk").first()
    finish = Finish.objects.filter(is_active=True, kind="wrap").order_by("pk").first()
    if model is None or finish is None:
        raise RoundRefused(
            "The round needs a wrapped snare drum, and the recipe book has none in use. Put one back into use first."
        )
    begun = _in_hours(max(filter(None, (now - BACK, _sealed_until()))))
    order = KitOrder.objects.create(
        number=_free_number(),
        customer=CUSTOMER,
        due=timezone.localdate(now + DUE_IN),
        note="Made for the guided round.",
        created_at=begun,
    )
    KitLine.objects.create(order=order, position=1, model=model, finish=finish, quantity=3)
    return order, release_order(number=order.number, stamp=_stamp(by, begun))


def _sealed_until() -> datetime | None:
    """Nothing may be added to a day that is sealed. Asked for with a lock, so that a seal waits until the round is written."""
    newest = DaySeal.objects.select_for_update().order_by("day").last()
    return newest.ends_at if newest else None


def _free_number() -> str:
    taken = set(KitOrder.objects.filter(number__startswith=NUMBER).values_list("number", flat=True))
    return next(number for n in range(1, len(taken) + 2) if (number := f"{NUMBER}-{n}") not in taken)


def _walk(shell: Shell, now: datetime, *, last: StationKind) -> None:
    """Sign the steps of a drum, each by somebody qualified, up to the first at a station of this kind."""
    moment = shell.released_at
    for place in range(1, shell.operations.count() + 1):
        step = Operation.objects.select_related("station", "shell__model", "shell__finish").get(
            shell=shell, position=place
        )
        if step.state == OperationState.SKIPPED:
            continue
        moment = _in_hours(max(moment, step.not_before or moment) + STEP)
        if moment > now:
            raise RoundRefused(
                "The round's drums need some days of work before today, and there is no room for them: their dwells are long, "
                "or the last days are sealed already. Have an administrator load the demo shop anew, then begin."
            )
        if step.station.kind == StationKind.PACK:
            _put_card_in(shell, moment)
        _sign(step, moment)
        if step.station.kind == last:
            return


def _put_card_in(shell: Shell, at: datetime) -> None:
    """The checker prints the card before the drum is packed."""
    final = final_check_of(shell)
    if final is not None:
        print_card(serial=shell.serial, person=final.person, stamp=_stamp(final.person, at))


def _sign(step: Operation, at: datetime) -> None:
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
        answers={check.key: passing(check) for check in checks},
        materials={key: batch.code for key, batch in batches.items() if batch},
        pin_confirmed=final,
        stamp=_stamp(who, at),
    )


def _who(step: Operation, at: datetime) -> Person:
    """Somebody qualified for a step; a final checker who did not assemble the drum, for its final check."""
    day = timezone.localdate(at)
    found = [
        each.person
        for each in Qualification.objects.filter(station=step.station, person__is_active=True)
        .select_related("person")
        .order_by("person__username")
        if each.holds_on(day) and has_right(each.person, Right.SIGN_STEPS)
    ]
    if step.station.kind == StationKind.FINAL_CHECK:
        barred = assemblers_of(step.shell)
        found = [who for who in found if who.pk not in barred and who.role == Role.FINAL_CHECKER]
    if not found:
        raise RoundRefused(f"Nobody is qualified for {step.station.name}. Qualify somebody under People, then begin.")
    workers = [who for who in found if who.role == Role.WORKER] or found
    return workers[step.shell_id % len(workers)]


def passing(check: Check) -> str:
    """An answer that passes a check, as somebody would enter it."""
    if not check.is_measured:
        return "yes"
    if check.lines:
        return " ".join(f"{line.wanted}" for line in check.lines)
    if check.is_spread:
        pitch = (check.head or {}).get("target_hz") or 100.0
        return " ".join([f"{pitch:.0f}"] * check.places)
    return " ".join([_value(check)] * check.places)


def _value(check: Check) -> str:
    """The middle of the limits, with as few decimals as stay within them."""
    low, high = check.low, check.high
    if low is not None and high is not None:
        middle = (low + high) / 2
    else:
        middle = high * 0.6 if high is not None else (low or 0.0) + 1
    return next((text for places in range(4) if check.accepts(float(text := f"{middle:.{places}f}"))), f"{middle:.6f}")


def _ask(shell: Shell, by: Person, now: datetime) -> None:
    """The customer of the packed drum calls."""
    take_request(
        serial=shell.serial,
        kind=RequestKind.QUESTION,
        said=QUESTION,
        contact=CUSTOMER,
        person=by,
        stamp=_stamp(by, now),
    )


def _in_hours(moment: datetime) -> datetime:
    """The moment itself by day; after hours the next morning."""
    local = timezone.localtime(moment)
    if OPENS <= local.hour < CLOSES:
        return moment
    ahead = local if local.hour < OPENS else local + timedelta(days=1)
    return ahead.replace(hour=OPENS, minute=10, second=0, microsecond=0)


def _stamp(who: Person, at: datetime) -> Stamp:
    moment = at.astimezone(UTC)
    return Stamp(person_id=who.pk, person_name=who.name, at=moment, received_at=moment, device=PLACE)
