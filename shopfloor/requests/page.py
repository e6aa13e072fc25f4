"""The page of one request: what was asked, what the drum is, and the forms of what can be done."""

from __future__ import annotations

import secrets
from typing import Any

from django.forms import BoundField
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from quality.errors import QualityError
from quality.models import CustomerRequest, RequestState
from quality.request_facts import AsBuiltPart, PackedBag, as_built_parts, at_a_glance, packed_bags
from quality.rights import Right
from routing.errors import RoutingError
from routing.models import Shell
from shopfloor.access import needs
from shopfloor.requests.forms import FIELD_OF, OUTSIDE, ChangeForm, CloseForm, PartsForm, ReopenForm
from shopfloor.requests.lists import with_time
from shopfloor.rings import ring_of

ANSWERS = needs(Right.ANSWER_REQUESTS)


def the_request(number: str) -> CustomerRequest:
    return get_object_or_404(
        CustomerRequest.objects.select_related(
            "shell__order", "shell__model__line", "shell__finish", "taken_by", "picked_by", "closed_by", "cause",
            "caused_at", "companion_order",
        ).prefetch_related("lines"),
        number=number,
    )  # fmt: skip


def page_of(
    request: HttpRequest,
    asked: CustomerRequest,
    *,
    error: str = "",
    forms: dict[str, Any] | None = None,
    status: int = 200,
) -> HttpResponse:
    given, built, now = forms or {}, as_built_parts(asked.shell), timezone.now()
    lines = list(asked.lines.all())
    sizes = {(part.bag, part.name): part for part in built.parts}
    (row,) = with_time([asked], now)
    changes = given.get("change") or ChangeForm.of(asked, built)
    context = about(asked.shell) | {
        "asked": asked,
        "row": row,
        "lines": [(line, sizes.get((line.bag_name, line.part_name))) for line in lines],
        "bags": packed_bags(asked.shell, [line.bag_name for line in lines]),
        "events": asked.events.select_related("record"),
        "change": changes,
        "groups": by_bag(asked.shell, changes) if asked.state == RequestState.OPEN else [],
        "close": given.get("close") or CloseForm(initial=_as_closed(asked)),
        "reopen": given.get("reopen") or ReopenForm(asked=asked),
        "typed": set(given),
        "error": error,
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "requests/request.html", context, status=status)


def by_bag(shell: Shell, form: PartsForm) -> list[tuple[PackedBag, list[tuple[AsBuiltPart, BoundField]]]]:
    """The boxes of a form under the bags that their parts belong in."""
    rows = form.rows
    bags = packed_bags(shell, [part.bag for part, _ in rows])
    return [(bag, [row for row in rows if row[0].bag == bag.name]) for bag in bags]


def _as_closed(asked: CustomerRequest) -> dict[str, Any]:
    """What was said when it was closed before, for one that is opened again."""
    return {
        "answer": asked.answer,
        "cause": asked.cause_id,
        "caused_at": OUTSIDE if asked.from_outside else asked.caused_at.code if asked.caused_at else "",
    }


def about(shell: Shell) -> dict[str, Any]:
    return {"shell": shell, "ring": ring_of(shell, timezone.now()), "glance": at_a_glance(shell)}


def marked(form: Any, refused: RoutingError | QualityError) -> Any:
    """The form with the sentence beside the field it is about, if it has that."""
    field = FIELD_OF.get(refused.code)
    form.add_error(field if field in form.fields else None, refused.message)
    return form
