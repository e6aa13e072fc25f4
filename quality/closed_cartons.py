"""Which closed carton a drum is in, for the rules that leave such a drum alone."""

from __future__ import annotations

from django.utils import timezone

from quality.models import Carton
from routing.errors import NotAllowedNow
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
        raise NotAllowedNow("shipped", f"Order {order} has left the shop; nothing of it can be taken back.")
    raise NotAllowedNow(
        "in_closed_carton",
        f"{shell.serial} is in carton {carton.number} of {carton.of} of order {order}, which "
        f"{carton.closed_by.name} closed at {timezone.localtime(carton.closed_at):%Y-%m-%d %H:%M}. "
        f"Open carton {carton.number} first, then {then}.",
    )
