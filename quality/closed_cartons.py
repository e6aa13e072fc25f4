"""Which closed carton a drum is in, for the rules that leave such a drum alone."""

from __future__ import annotations

from django.utils.translation import gettext as _

from quality.models import Carton
from routing.errors import NotAllowedNow
from routing.languages import moment
from routing.models import OrderState, Shell


def closed_carton_of(shell: Shell) -> Carton | None:
    """The carton that a drum lies in, as long as it is closed."""
    return (
        Carton.objects.filter(drums__shell=shell, opened_at__isnull=True).select_related("order", "closed_by").first()
    )


def require_not_in_closed_carton(shell: Shell, then: str) -> None:
    """Refuse what would change a drum that nobody can reach. ``shell`` is locked; ``then`` is what may follow."""
    carton = closed_carton_of(shell)
    if carton is None:
        return
    order = carton.order.number
    if carton.order.state == OrderState.SHIPPED:
        raise NotAllowedNow(
            "shipped", _("Order {order} has left the shop; nothing of it can be taken back.").format(order=order)
        )
    raise NotAllowedNow(
        "in_closed_carton",
        _(
            "{serial} is in carton {number} of {of} of order {order}, which {name} closed at {moment}. Open carton {number} first, then {then}."
        ).format(
            serial=shell.serial,
            number=carton.number,
            of=carton.of,
            order=order,
            name=carton.closed_by.name,
            moment=moment(carton.closed_at),
            then=then,
        ),
    )
