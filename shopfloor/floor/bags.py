"""The bags of a drum at a tablet: fill, count or weigh, open again, and a label for each."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_safe

from quality.errors import QualityError
from quality.rights import Right, has_right
from routing.errors import RoutingError
from routing.models import Shell
from shopfloor.access import the_shell
from shopfloor.bag_labels import label_response
from shopfloor.bags import act_on_bag, bags_on_page
from shopfloor.floor.tablet import Tablet, at_station, worker_needed
from shopfloor.refusals import status_of
from shopfloor.rings import ring_of


@require_http_methods(["GET", "POST"])
@at_station
@worker_needed
def bags(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
    """The list of a drum, bag by bag; every button of it comes here, too."""
    shell = the_shell(serial)
    if request.method != "POST":
        return _page(request, tablet, shell)
    try:
        done = act_on_bag(request.POST, shell=shell, person=tablet.person, stamp=tablet.stamp(request))
    except (RoutingError, QualityError) as refused:
        shell.refresh_from_db()
        return _page(request, tablet, shell, error=refused.message, status=status_of(refused))
    messages.success(request, done)
    return redirect("floor:bags", tablet.station.code, shell.serial)


@require_safe
@at_station
@worker_needed
def bag_label(request: HttpRequest, tablet: Tablet, serial: str, place: int) -> HttpResponse:
    return label_response(request, the_shell(serial), place)


def _page(request: HttpRequest, tablet: Tablet, shell: Shell, *, error: str = "", status: int = 200) -> HttpResponse:
    pages = bags_on_page(shell, request.POST if error else None)
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "shell": shell,
        "ring": ring_of(shell, tablet.now),
        "pages": pages,
        "action": request.path,
        "as_mark": tablet.mark,
        "tap_key": secrets.token_urlsafe(16),
        "person_name": tablet.person.name,
        "may_fill": has_right(tablet.person, Right.FILL_BAGS),
        "error": error,
        "refused_here": any(page.refused for page in pages),
        "typed": request.POST,
        "now": tablet.now,
    }
    response = render(request, "floor/bags.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response
