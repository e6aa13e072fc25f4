"""The start page: two doors for a stranger, the right screen for somebody signed in.

As long as first steps are open, whoever manages the shop starts with them. As long as it has no tablet, they start with the
button that makes one: else nobody finds the floor. A shop without people says how the first one comes in.
"""

from __future__ import annotations

from functools import lru_cache

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from quality.models import Person, Role, Tablet
from quality.rights import Right, has_right
from routing.models import Shop
from shopfloor.addresses import is_on_this_machine
from shopfloor.demo.people import PEOPLE, TRAINED_BY, DemoPerson
from shopfloor.demo.which_shop import is_the_demo
from shopfloor.first_steps import is_open
from shopfloor.sign import SIGN
from shopfloor.tablet_station import this_tablet

FLOOR, AT_A_DESK = "floor:stations", "board:board"
STARTS = {
    Role.SUPERVISOR: "board:board",
    Role.ADMINISTRATOR: "people:list",
    Role.OFFICE: "orders:list",
    Role.WORKER: FLOOR,
    Role.FINAL_CHECKER: FLOOR,
}


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    person = request.user
    if not isinstance(person, Person):
        context = {"sign": SIGN, "nobody": not Person.objects.exists(), "guest": guest(request)}
        return render(request, "home/home.html", context)
    if has_right(person, Right.EDIT_PEOPLE) and is_open(Shop.current()):
        return redirect("start:steps")
    if has_right(person, Right.MANAGE_TABLETS) and not Tablet.objects.in_use().exists():
        return render(request, "home/no_tablet.html", {"start": STARTS[Role(person.role)]})
    start = STARTS[Role(person.role)]
    return redirect(AT_A_DESK if start == FLOOR and this_tablet(request) is None else start)


def guest(request: HttpRequest) -> DemoPerson | None:
    """The supervisor of the demo shop, to look around as. Said on the machine where the shop runs, to nobody on its network."""
    if settings.HTTPS or not is_on_this_machine(request) or not is_the_demo(Shop.current()):
        return None
    row = next(row for row in PEOPLE if row.username == TRAINED_BY)
    person = Person.objects.filter(username=row.username, role=row.role, is_active=True).first()
    return row if person is not None and _opens(row.password, person.password) else None


@lru_cache(maxsize=4)
def _opens(password: str, kept: str) -> bool:
    """Whether a password of the demo fits. Asked once for each hash: it takes time on purpose, and everybody may ask."""
    return check_password(password, kept)
