"""The first steps of a shop of one's own: what is done, what is next, and what can be taken over from the demo shop."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.rights import Right
from routing.models import Shop
from shopfloor.access import needs, signed_in
from shopfloor.demo.loading import (
    NotEmpty,
    has_no_recipes,
    has_no_stations,
    load_example_recipes,
    load_usual_stations,
)
from shopfloor.demo.which_shop import is_the_demo
from shopfloor.first_steps import CODES, ON_THE_WAY, skip, steps_for
from shopfloor.tablet_station import this_tablet

MANAGES = needs(Right.EDIT_PEOPLE)


@require_safe
@MANAGES
def steps(request: HttpRequest) -> HttpResponse:
    if is_the_demo(Shop.current()):
        return redirect("start:round")
    found = steps_for(signed_in(request))
    following = next((step for step in found if step.is_open), None)
    if request.session.get(ON_THE_WAY, False) != bool(following):
        request.session[ON_THE_WAY] = bool(following)
    not_done = {step.kind.code for step in found if not step.is_done}
    context = {
        "steps": found,
        "stations_fit": "stations" in not_done and has_no_stations(),
        "recipes_fit": "recipe" in not_done and has_no_recipes(),
        "next": following,
        "done": sum(step.is_done for step in found),
        "this": this_tablet(request),
    }
    return render(request, "start/steps.html", context)


@require_POST
@MANAGES
def skip_steps(request: HttpRequest) -> HttpResponse:
    """Skip one step, or all that are open; or take a skipped one up again."""
    asked = request.POST.get("step", "")
    codes = frozenset(CODES) if asked == "all" else frozenset({asked} & set(CODES))
    if codes:
        skip(codes, back="back" in request.POST)
    else:
        messages.error(request, _("Nothing was skipped: there is no such step. Choose one of those below."))
    return redirect("home" if asked == "all" else "start:steps")


@require_POST
@needs(Right.EDIT_RECIPES)
def take_stations(request: HttpRequest) -> HttpResponse:
    return _take(
        request,
        lambda: load_usual_stations(now=timezone.now()),
        _(
            "The usual stations are there, with their cautions, routes and checks. Read them and put right what differs here."
        ),
        _(
            "There are stations, routes, checks or defects already; nothing was changed. "
            "Add what is missing in the recipe book."
        ),
    )


@require_POST
@needs(Right.EDIT_RECIPES)
def take_recipes(request: HttpRequest) -> HttpResponse:
    return _take(
        request,
        load_example_recipes,
        _("The example recipes are there. Put in the figures of your own data sheets before anything is cut or glued."),
        _("There are recipes already; nothing was changed. Add what is missing in the recipe book."),
    )


def _take(request: HttpRequest, load: Callable[[], None], done: str, refused: str) -> HttpResponse:
    try:
        load()
    except NotEmpty:
        messages.warning(request, refused)
    else:
        messages.success(request, done)
    return redirect("start:steps")
