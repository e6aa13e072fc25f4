"""The start page: two doors for a stranger, the right screen for somebody signed in; and the words used here.

As long as the shop has no tablet, its supervisor starts with the button that makes one: else nobody finds the floor.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from quality.models import Person, Role, Tablet
from quality.rights import Right, has_right
from shopfloor.home.words import OF_ORDERS, OF_SHELLS, OF_STEPS, OF_THE_TRADE
from shopfloor.tablet_station import this_tablet

FLOOR, AT_A_DESK = "floor:stations", "board:board"
STARTS = {
    Role.SUPERVISOR: "board:board",
    Role.ADMINISTRATOR: "people:list",
    Role.OFFICE: "orders:list",
    Role.WORKER: FLOOR,
    Role.FINAL_CHECKER: FLOOR,
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
    person = request.user
    if not isinstance(person, Person):
        return render(request, "home/home.html", {"sign": SIGN})
    if has_right(person, Right.MANAGE_TABLETS) and not Tablet.objects.in_use().exists():
        return render(request, "home/no_tablet.html", {"start": STARTS[Role(person.role)]})
    start = STARTS[Role(person.role)]
    return redirect(AT_A_DESK if start == FLOOR and this_tablet(request) is None else start)


@require_safe
def glossary(request: HttpRequest) -> HttpResponse:
    return render(
        request,
        "home/glossary.html",
        {"steps": OF_STEPS, "shells": OF_SHELLS, "orders": OF_ORDERS, "trade": OF_THE_TRADE, "sign": SIGN},
    )
