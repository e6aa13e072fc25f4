"""The start page: two doors for a stranger, the right screen for somebody signed in.

As long as first steps are open, whoever manages the shop starts with them. As long as it has no tablet, they start with the
button that makes one: else nobody finds the floor. A shop without people says how the first one comes in.
"""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from quality.models import Person, Role, Tablet
from quality.rights import Right, has_right
from routing.models import Shop
from shopfloor.demo.people import PEOPLE, TRAINED_BY, DemoPerson
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
        context = {"sign": SIGN, "nobody": not Person.objects.exists(), "guest": guest()}
        return render(request, "home/home.html", context)
    if has_right(person, Right.EDIT_PEOPLE) and is_open(Shop.current()):
        return redirect("start:steps")
    if has_right(person, Right.MANAGE_TABLETS) and not Tablet.objects.in_use().exists():
        return render(request, "home/no_tablet.html", {"start": STARTS[Role(person.role)]})
    start = STARTS[Role(person.role)]
    return redirect(AT_A_DESK if start == FLOOR and this_tablet(request) is None else start)


def guest() -> DemoPerson | None:
    """The supervisor of the demo shop, to look around as: everybody can read the sign-in, as long as it is that."""
    if settings.HTTPS or not Shop.current().is_demo:
        return None
    row = next(row for row in PEOPLE if row.username == TRAINED_BY)
    person = Person.objects.filter(username=row.username, is_active=True).first()
    return row if person is not None and check_password(row.password, person.password) else None
