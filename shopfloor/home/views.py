"""The start page: two doors for a stranger, the right screen for somebody signed in."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from quality.models import Person, Role
from routing.models import Shop

STARTS = {
    Role.SUPERVISOR: "board:board",
    Role.ADMINISTRATOR: "people:list",
    Role.OFFICE: "orders:list",
    Role.WORKER: "board:board",
    Role.FINAL_CHECKER: "board:board",
}


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    if isinstance(request.user, Person):
        return redirect(STARTS[Role(request.user.role)])
    return render(request, "home/home.html", {"is_demo": Shop.current().is_demo})
