"""What the guided round of the demo shop needs: an order of three drums, two of them worked on through the real actions.

The drum that is signed, held and settled in the round lies at its first station. The second waits for its card, the third
is packed and its customer asks. Their signatures are dated back over the last days, dwells and night hours kept, so that
nobody waits for glue; each says “guided round” as its place. It is written whole or not at all.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import DaySeal, Person, RequestKind
from quality.requests import take_request
from routing.errors import RoutingError
from routing.models import DrumModel, Finish, KitLine, KitOrder, Shell, Shop, StationKind
from routing.release import release_order
from routing.turnstile import in_turn
from shopfloor.demo.walking import NobodyMay, in_hours, stamp_of, walk
from shopfloor.demo.which_shop import SHOP, is_the_demo
from shopfloor.start.round import DRUMS, PLACE, present_stop

NUMBER = "ROUND"
CUSTOMER = "Reedmarsh Music Room"
QUESTION = "I want to buy new heads and a case for my snare. What diameter does it take, and how deep is it?"
BACK = timedelta(days=10)  # so long ago the order was released
DUE_IN = timedelta(days=14)


class RoundRefused(Exception):
    """The round can't begin; the sentence says why and what to do."""


def begin_round(*, by: Person, now: datetime) -> KitOrder:
    """Make the round's order and the work in it, in the place of a round that is done. Raises RoundRefused."""
    with in_turn():
        shop = Shop.current()
        if not is_the_demo(shop):
            raise RoundRefused(_("The guided round is made for the demo shop; a shop of your own has the first steps."))
        if present_stop(shop)[1] is not None:
            raise RoundRefused(_("A round is on already; go on with it, or leave it first."))
        try:
            order, shells = _release(by, now)
            _walk(shells[1], now, StationKind.FINAL_CHECK)
            _walk(shells[2], now, StationKind.PACK)
            _ask(shells[2], by, now)
        except (RoutingError, QualityError) as refused:
            raise RoundRefused(_("The round can't begin.") + f" {refused.message}") from refused
        except NobodyMay as nobody:
            raise RoundRefused(str(nobody)) from nobody
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
            _("The round needs a wrapped snare drum, and the recipe book has none in use. Put one back into use first.")
        )
    begun = in_hours(max(filter(None, (now - BACK, _sealed_until()))))
    order = KitOrder.objects.create(
        number=_free_number(),
        customer=CUSTOMER,
        due=timezone.localdate(now + DUE_IN),
        note="Made for the guided round.",
        created_at=begun,
    )
    KitLine.objects.create(order=order, position=1, model=model, finish=finish, quantity=DRUMS)
    return order, release_order(number=order.number, stamp=stamp_of(by, begun, PLACE))


def _sealed_until() -> datetime | None:
    """Nothing may be added to a day that is sealed. Asked for with a lock, so that a seal waits until the round is written."""
    newest = DaySeal.objects.select_for_update().order_by("day").last()
    return newest.ends_at if newest else None


def _free_number() -> str:
    taken = set(KitOrder.objects.filter(number__startswith=NUMBER).values_list("number", flat=True))
    return next(number for n in range(1, len(taken) + 2) if (number := f"{NUMBER}-{n}") not in taken)


def _walk(shell: Shell, now: datetime, last: StationKind) -> None:
    """Sign the steps of a drum up to the first at a station of this kind."""
    steps = shell.operations.order_by("position").values_list("position", flat=True)
    until = steps.filter(station__kind=last).first() or len(steps)
    if not walk(shell, last=until, now=now, place=PLACE):
        raise RoundRefused(
            _(
                "The round's drums need some days of work before today, and there is no room for them: their dwells are "
                "long, or the last days are sealed already. Have an administrator load the demo shop anew, then begin."
            )
        )


def _ask(shell: Shell, by: Person, now: datetime) -> None:
    """The customer of the packed drum calls."""
    take_request(
        serial=shell.serial,
        kind=RequestKind.QUESTION,
        said=QUESTION,
        contact=CUSTOMER,
        person=by,
        stamp=stamp_of(by, now, PLACE),
    )
