"""The start page: two doors for a stranger, the right screen for somebody signed in; and the words used here."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from quality.models import Person, Role
from shopfloor.home.words import OF_ORDERS, OF_SHELLS, OF_STEPS, OF_THE_TRADE

STARTS = {
    Role.SUPERVISOR: "board:board",
    Role.ADMINISTRATOR: "people:list",
    Role.OFFICE: "orders:list",
    Role.WORKER: "floor:stations",
    Role.FINAL_CHECKER: "floor:stations",
}
# The sign over the door: a kit in work, its drums at their true relative size. (nominal inches, steps done, the present one)
SIGN = [
    (diameter, [*[("done", "")] * done, (present, ""), *[("waiting", "")] * (11 - done)])
    for diameter, done, present in [
        (22, 4, "drying"),
        (16, 6, "in_work"),
        (12, 9, "ready"),
        (10, 11, "done"),
        (14, 7, "ready"),
    ]
]


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    if isinstance(request.user, Person):
        return redirect(STARTS[Role(request.user.role)])
    return render(request, "home/home.html", {"sign": SIGN})


@require_safe
def glossary(request: HttpRequest) -> HttpResponse:
    return render(
        request,
        "home/glossary.html",
        {"steps": OF_STEPS, "shells": OF_SHELLS, "orders": OF_ORDERS, "trade": OF_THE_TRADE, "sign": SIGN},
    )
