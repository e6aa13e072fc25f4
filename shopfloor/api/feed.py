"""The due dates of open orders under a secret address, for a calendar, which can't sign in."""

from __future__ import annotations

import hashlib

from django.db.models import Count, Q, Sum
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from quality.api_keys import key_of, used
from quality.models import KeyOpens
from routing.kits import NOT_IN_KIT
from routing.models import KitOrder, OrderState, Shell, ShellState, Shop
from shopfloor.api.calendar import DueDay, calendar, uid_of
from shopfloor.qr import base_url

_DONE = [ShellState.FINISHED, ShellState.PACKED]


@require_safe
def due_dates(request: HttpRequest, secret: str) -> HttpResponseBase:
    """One whole-day event for each order that is not shipped. Whoever has the address sees it, until it is revoked."""
    key = key_of(secret, KeyOpens.CALENDAR)
    if key is None:
        raise Http404(_("This calendar's address is not in use any more. An administrator makes a new one under Keys."))
    now = timezone.now()
    used(key=key, at=now)
    days, name = _days(base_url(request)), _("{shop}: due").format(shop=Shop.current().name)
    response = HttpResponse(calendar(name, days, at=now), content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "private, no-cache"
    response["X-Robots-Tag"] = "noindex"
    response["Content-Disposition"] = 'inline; filename="due-dates.ics"'
    # Over what it says, not over when it was asked.
    response["ETag"] = f'"{hashlib.sha256(repr((name, days)).encode()).hexdigest()[:32]}"'
    found = get_conditional_response(request, etag=response["ETag"], response=response)
    assert found is not None
    return found


def _days(base: str) -> list[DueDay]:
    open_orders = (
        KitOrder.objects.exclude(state=OrderState.SHIPPED)
        .annotate(drums=Sum("lines__quantity", default=0))
        .order_by("due", "number")
    )
    shells = (
        Shell.objects.exclude(order__state=OrderState.SHIPPED)
        .order_by()
        .values("order")
        .annotate(
            in_kit=Count("pk", filter=~Q(state__in=NOT_IN_KIT)),
            done=Count("pk", filter=Q(state__in=_DONE)),
            held=Count("pk", filter=Q(state=ShellState.ON_HOLD)),
        )
    )
    counts: dict[int, dict[str, int]] = {
        row["order"]: {"in_kit": row["in_kit"], "done": row["done"], "held": row["held"]} for row in shells
    }
    return [_due_day(order, order.drums, counts.get(order.pk, {}), base) for order in open_orders]


def _due_day(order: KitOrder, drums: int, counts: dict[str, int], base: str) -> DueDay:
    word = _(order.get_state_display())
    if counts:
        word += ", " + _("{done} of {drums} done").format(done=counts["done"], drums=counts["in_kit"])
        if counts["held"]:
            word += ", " + _("{count} on hold").format(count=counts["held"])
    title = ngettext("Due: {order}, {customer} ({count} drum)", "Due: {order}, {customer} ({count} drums)", drums)
    details = [word[:1].upper() + word[1:]]
    if order.customer_reference:
        details.append(_("Customer's reference: {reference}").format(reference=order.customer_reference))
    if order.note:
        details.append(order.note)
    return DueDay(
        uid=uid_of(str(order.pk), order.created_at.isoformat()),
        day=order.due,
        title=title.format(order=order.number, customer=order.customer, count=drums),
        details="\n".join(details),
        address=f"{base}{reverse('orders:order', args=[order.number])}",
        firm=order.state != OrderState.DRAFT,
    )
