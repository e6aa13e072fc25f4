"""What only the demo shop has: the guided round, and the way back to a clean start."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.contrib import messages
from django.contrib.auth import logout
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.rights import Right, has_right
from routing.models import Shop
from shopfloor.access import needs, signed_in
from shopfloor.demo.anew import NotTheDemo, is_its_name, load_demo_anew, require_the_demo
from shopfloor.demo.which_shop import is_the_demo
from shopfloor.security_log import demo_was_emptied
from shopfloor.start.begin import RoundRefused, begin_round, leave_round
from shopfloor.start.round import is_the_checker, present_round, signer_at
from shopfloor.tablet_station import this_tablet

P = ParamSpec("P")
MANAGES = needs(Right.EDIT_PEOPLE)
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


def in_the_demo(view: View[P]) -> View[P]:
    """A shop of one's own has none of this."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if not is_the_demo(Shop.current()):
            raise Http404(_("Only the demo shop has this page."))
        return view(request, *args, **kwargs)

    return cast(View[P], guarded)


@require_safe
@MANAGES
@in_the_demo
def guided_round(request: HttpRequest) -> HttpResponse:
    return _page(request)


@require_POST
@MANAGES
@in_the_demo
def begin(request: HttpRequest) -> HttpResponse:
    try:
        begin_round(by=signed_in(request), now=timezone.now())
    except RoundRefused as refused:
        return _page(request, error=str(refused), status=409)
    return redirect("start:round")


@require_POST
@MANAGES
@in_the_demo
def traced(request: HttpRequest) -> HttpResponse:
    """The name that stands under the final check, found in the drum's story."""
    found = present_round(Shop.current())
    stop = next((stop for stop in found.stops if stop.code == "trace"), None) if found else None
    if stop is None:
        return redirect("start:round")
    name = request.POST.get("name", "")
    if not is_the_checker(stop.serial, name):
        return _page(request, wrong_name=_not_the_checker(name[:40], stop.serial), status=422)
    Shop.objects.filter(pk=Shop.current().pk).update(round_traced=stop.serial)
    return redirect("start:round")


@require_POST
@MANAGES
@in_the_demo
def leave(request: HttpRequest) -> HttpResponse:
    leave_round()
    messages.success(request, _("The round is over. Its drums stay in the shop."))
    return redirect("start:round")


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_SHOP)
@in_the_demo
def anew(request: HttpRequest) -> HttpResponse:
    """Empty the demo shop and load it anew, after its name was typed."""
    shop = Shop.current()
    now, who = timezone.now(), signed_in(request).name
    try:
        require_the_demo()
        if request.method != "POST":
            return render(request, "start/anew.html")
        if not is_its_name(request.POST.get("name", "")):
            error = _("Type the name of the shop, {name}, to say that you mean it. Nothing was changed.")
            return render(request, "start/anew.html", {"error": error.format(name=shop.name)}, status=422)
        load_demo_anew(now=now, today=timezone.localdate(now))
    except NotTheDemo as refused:
        return render(request, "start/anew.html", {"error": str(refused), "is_refused": True}, status=409)
    demo_was_emptied(who, request)
    logout(request)  # the session is gone with all else
    return redirect("home")


def _not_the_checker(name: str, serial: str) -> str:
    if name.strip():
        said = _("“{name}” did not check {serial}. Open its story: the checker's name stands at the top.")
        return said.format(name=name, serial=serial)
    said = _("Write the name of whoever checked {serial}. Open its story: the checker's name stands at the top.")
    return said.format(serial=serial)


def _page(request: HttpRequest, *, status: int = 200, **more: str) -> HttpResponse:
    found = present_round(Shop.current())
    stop = found.present if found else None
    context = {
        "round": found,
        "stop": stop,
        "signer": signer_at(stop.at) if stop and stop.at else None,
        "this": this_tablet(request),
        "may_empty": has_right(signed_in(request), Right.EDIT_SHOP),
    }
    return render(request, "start/round.html", context | more, status=status)
