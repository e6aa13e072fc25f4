"""The list of requests with the time that is left for each, and the same as rows of a file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.models import CustomerRequest, RequestState
from quality.request_facts import work_left
from routing.shop_hours import ShopHours
from shopfloor.templatetags.shop import age, hours_minutes

WAITING = [RequestState.OPEN, RequestState.PICKED]
HEAD = (
    "Number", "State", "Kind", "Serial", "Drum", "Finish", "Customer", "What the customer says", "Parts", "Contact",
    "Ship to", "Asked", "Due", "Taken by", "Picked by", "Picked", "Closed by", "Closed", "Answer", "Cause", "Came from",
    "Companion order",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RequestRow:
    request: CustomerRequest
    is_late: bool
    left: str  # “3 h 10 min of work left”, “late by 2 h”; empty for a closed one
    parts: str

    @property
    def sign(self) -> str:
        """The step state whose shape stands for it."""
        return {"open": "ready", "picked": "in_work"}.get(self.request.state, "done")


def chosen(*, state: str, kind: str, words: str) -> QuerySet[CustomerRequest]:
    """Those that wait, the most pressing first; of closed ones the newest first."""
    found = CustomerRequest.objects.select_related(
        "shell__model__line", "shell__finish", "shell__order", "taken_by", "picked_by", "closed_by", "cause",
        "caused_at", "companion_order",
    ).prefetch_related("lines")  # fmt: skip
    if kind:
        found = found.filter(kind=kind)
    if words:
        found = found.filter(
            Q(number__icontains=words)
            | Q(shell__serial__icontains=words)
            | Q(shell__order__customer__icontains=words)
            | Q(contact__icontains=words)
        )
    match state:
        case "all":
            return found.order_by("-asked_at", "-pk")
        case "sent" | "answered":
            return found.filter(state=state).order_by("-closed_at", "-pk")
        case "open" | "picked":
            return found.filter(state=state).order_by("due_at", "pk")
        case _:
            return found.filter(state__in=WAITING).order_by("due_at", "pk")


def with_time(requests: Iterable[CustomerRequest], now: datetime) -> list[RequestRow]:
    hours = ShopHours.load()
    return [_row(request, hours, now) for request in requests]


def _row(request: CustomerRequest, hours: ShopHours, now: datetime) -> RequestRow:
    waits = request.state in WAITING
    late = waits and request.due_at < now
    left = ""
    if late:
        left = _("late by {time}").format(time=age(request.due_at, now))
    elif waits:
        left = _("{time} of work left").format(time=hours_minutes(work_left(hours, now, request.due_at)))
    return RequestRow(request, late, left, ", ".join(map(str, request.lines.all())))


def file_rows(requests: Iterable[CustomerRequest]) -> list[tuple[str, ...]]:
    return [
        (
            each.number,
            each.get_state_display(),
            each.get_kind_display(),
            each.shell.serial,
            str(each.shell.model),
            each.shell.finish.name,
            each.shell.order.customer,
            each.said,
            ", ".join(map(str, each.lines.all())),
            each.contact,
            " / ".join(each.ship_to.split("\n")).replace("\r", ""),
            _clock(each.asked_at),
            _clock(each.due_at),
            each.taken_by.name,
            each.picked_by.name if each.picked_by else "",
            _clock(each.picked_at),
            each.closed_by.name if each.closed_by else "",
            _clock(each.closed_at),
            each.answer,
            str(each.cause) if each.cause else "",
            each.came_from if each.cause else "",
            each.companion_order.number if each.companion_order else "",
        )
        for each in requests
    ]


def _clock(moment: datetime | None) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%d %H:%M") if moment else ""
