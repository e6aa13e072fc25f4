"""The tablet at a station: its stations and the queue of one."""

from __future__ import annotations

import secrets

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_safe

from quality.made_here import steps_waiting
from quality.tablets import seen
from shopfloor.floor.glue import batches_in_use, version_of
from shopfloor.floor.queue import last_tap, lately_here, queue_of, queue_version
from shopfloor.floor.room import room_of
from shopfloor.floor.tablet import Tablet, at_station, not_a_tablet, worker_needed
from shopfloor.languages import speak_with
from shopfloor.tablet_station import this_tablet


@require_safe
def stations(request: HttpRequest) -> HttpResponseBase:
    """The stations of this tablet; with only one there is nothing to choose."""
    tablet = this_tablet(request)
    if tablet is None:
        return not_a_tablet(request)
    seen(tablet=tablet, at=timezone.now())
    speak_with(None)
    here = list(tablet.stations.filter(is_active=True))
    if len(here) == 1:
        return redirect("floor:queue", here[0].code)
    return render(request, "floor/stations.html", {"stations": here, "tablet": tablet})


@require_safe
@at_station
@worker_needed
def queue(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    """The station's queue; as a refresh only its list, and 204 when nothing was recorded since the last one."""
    glue = batches_in_use(tablet.station, tablet.now)
    version = queue_version(tablet.station, tablet.now) + version_of(glue)
    refresh = request.headers.get("HX-Request") == "true"
    if refresh and request.GET.get("version") == version:
        return HttpResponse(status=204)
    context = {
        "station": tablet.station,
        "worker": tablet.worker,
        "glue_batches": glue,
        "queue": queue_of(tablet.station, tablet.now),
        "undo": last_tap(tablet.station, tablet.person, tablet.now),
        "tap_key": secrets.token_urlsafe(16),
        "version": version,
        "others": [] if refresh else lately_here(tablet.station, tablet.person, tablet.now),
        "made_here": 0 if refresh else len(steps_waiting(tablet.station)),
        "room": room_of(tablet.station, tablet.now),
        "now": tablet.now,
    }
    response = render(request, "floor/queue.html#live" if refresh else "floor/queue.html", context)
    patch_cache_control(response, no_store=True)
    return response
