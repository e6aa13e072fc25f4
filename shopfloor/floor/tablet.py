"""Which tablet this is, at which station it hangs, and who is signed in at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRedirect, HttpResponseClientRefresh

from quality.models import Person
from quality.models import Tablet as ShopTablet
from quality.tablets import seen
from routing.history import Stamp
from routing.models import Station
from shopfloor.access import the_station
from shopfloor.floor import link
from shopfloor.languages import speak_with
from shopfloor.tablet_station import binding_of, keep_station, this_tablet, this_tablet_at, was_tablet
from shopfloor.worker_token import WorkerAtTablet, forget_worker, keep_worker, read_worker

P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class Tablet:
    """What a view of the floor knows about where it is asked from."""

    station: Station
    enrolled: ShopTablet
    worker: WorkerAtTablet | None
    now: datetime

    @property
    def device(self) -> str:
        """What stands in the record of what is done here."""
        return self.enrolled.name

    @property
    def binding(self) -> str:
        """What a sign-in and a kept tap belong to: this tablet, whatever it is called later."""
        return binding_of(self.enrolled)

    @property
    def person(self) -> Person:
        """Who is signed in. Only for views behind ``worker_needed``."""
        assert self.worker is not None
        return self.worker.person

    @property
    def mark(self) -> str:
        """Says in a form whom its page was made for; bound to this tablet like the sign-in."""
        return link.mark_for(self.worker, binding_of(self.enrolled)) if self.worker else ""

    def stamp(self, request: HttpRequest) -> Stamp:
        """Raises TapRefused for a time that can't be, and for a page of somebody else."""
        link.require_own_page(request, self.person)
        return Stamp(
            person_id=self.person.pk,
            person_name=self.person.name,
            at=link.tap_time(request, self.now),
            received_at=self.now,
            device=self.device,
            tap_key=request.POST.get("tap_key", "")[:64] or None,
        )


TabletView = Callable[Concatenate[HttpRequest, Tablet, P], HttpResponseBase]


def at_station(view: TabletView[P]) -> Callable[Concatenate[HttpRequest, str, P], HttpResponseBase]:
    """Gives a view its tablet; remembers the station and renews the worker's sign-in with every answer.

    A browser that is no tablet of the shop sees nothing, and a tablet nothing of stations that are not its own.
    """

    @wraps(view)
    def with_tablet(request: HttpRequest, code: str, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        now = timezone.now()
        found = this_tablet_at(request, code)
        if found is None:
            return _not_here(request, code, now)
        enrolled, station = found.tablet, found.station
        seen(tablet=enrolled, at=now)
        device = binding_of(enrolled)
        worker = read_worker(request, device=device, idle=found.idle, now=now)
        tablet = Tablet(station, enrolled, link.worker_of_tap(request, worker, device, now), now)
        speak_with(worker.person if worker else None, found.shops_language)  # also when a tap of another comes late
        try:
            response = view(request, tablet, *args, **kwargs)
        except link.TapRefused as refused:
            response = _refused(request, tablet, refused)
        worker_now = getattr(response, "worker_at_tablet", worker)
        if link.wants_json(request):
            response = link.as_json(request, response)
        if not link.wants_json(
            request
        ):  # the answer to a tap that a script sent is small; the page that follows does it
            keep_station(request, response, station.code)
        if _by_itself(request):
            return response
        if worker_now is None:
            forget_worker(response)
        else:
            keep_worker(response, worker_now, device=device, secure=settings.SESSION_COOKIE_SECURE)
        return response

    return cast(Callable[Concatenate[HttpRequest, str, P], HttpResponseBase], with_tablet)


def _refused(request: HttpRequest, tablet: Tablet, refused: link.TapRefused) -> HttpResponseBase:
    """For views that do not show refusals on a page of their own."""
    if link.wants_json(request):
        return link.refused_json(refused.message, 422)
    messages.error(request, refused.message)
    return redirect("floor:queue", tablet.station.code)


def _by_itself(request: HttpRequest) -> bool:
    """A queue that refreshes, a page fetched ahead and a tap sent late are no signs of a person at the tablet."""
    if request.method == "POST":
        return link.is_kept(request)
    return request.headers.get("HX-Request") == "true" or "X-Ahead" in request.headers


def not_a_tablet(request: HttpRequest) -> HttpResponseBase:
    """What a browser is told that was never enrolled, or that was revoked."""
    speak_with(None)
    sentence = _("This device is not a tablet of the shop. Ask a supervisor.")
    response = _shut(request, "floor/not_a_tablet.html", {}, sentence)
    if was_tablet(request):
        # Pages that it keeps for when the link is down go too; browsers heed this on https only.
        response["Clear-Site-Data"] = '"cache", "storage"'
    return response


def _not_here(request: HttpRequest, code: str, now: datetime) -> HttpResponseBase:
    """For a browser that is no tablet of the shop, or one whose stations are others."""
    enrolled = this_tablet(request)
    if enrolled is None:
        return not_a_tablet(request)
    seen(tablet=enrolled, at=now)
    speak_with(None)
    return _not_its_station(request, enrolled, the_station(code))


def _not_its_station(request: HttpRequest, enrolled: ShopTablet, station: Station) -> HttpResponseBase:
    own = list(enrolled.stations.filter(is_active=True))
    names = ", ".join(place.name for place in own) or _("no station in use")
    context: dict[str, object] = {"asked": station, "tablet": enrolled, "stations": own}
    sentence = _("{tablet} does not belong to {station}; it shows {names}. Ask a supervisor.").format(
        tablet=enrolled.name, station=station.name, names=names
    )
    return _shut(request, "floor/other_station.html", context, sentence)


def _shut(request: HttpRequest, template: str, context: dict[str, object], sentence: str) -> HttpResponseBase:
    if link.wants_json(request):
        return link.refused_json(sentence, 403)
    if request.headers.get("HX-Request") == "true":
        return HttpResponseClientRefresh()  # a queue that refreshes a part of itself: the whole page has to go
    response = render(request, template, context, status=403)
    patch_cache_control(response, no_store=True)
    return response


def worker_needed(view: TabletView[P]) -> TabletView[P]:
    """Sends a tablet at which nobody is signed in to its station's sign-in, and from there to the shell it asked for."""

    @wraps(view)
    def guarded(request: HttpRequest, tablet: Tablet, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if tablet.worker is None:
            address = reverse("floor:sign_in", args=[tablet.station.code])
            if link.wants_json(request):
                return link.sign_in_json(request, tablet.binding, address)
            if request.headers.get("HX-Request") == "true":
                # A plain redirect would put the page of the sign-in into the middle of this one.
                return HttpResponseClientRedirect(address)
            if request.method == "GET" and "serial" in kwargs:
                asked = {"shell": kwargs["serial"], "r": request.GET.get("r", "")}
                address += "?" + urlencode({name: value for name, value in asked.items() if value})
            return redirect(address)
        return view(request, tablet, *args, **kwargs)

    return guarded
