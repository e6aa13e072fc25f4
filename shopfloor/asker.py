"""Who asks: somebody signed in at a desk, or the worker at a tablet of the shop. The pages are the same for both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.cache import patch_cache_control

from quality.models import Person, Tablet
from quality.rights import Right, has_right
from routing.history import Stamp
from routing.models import Shop, Station
from shopfloor.access import may_not, signed_in
from shopfloor.languages import speak_with
from shopfloor.stamps import office_stamp
from shopfloor.tablet_station import binding_of, station_of, this_tablet
from shopfloor.worker_token import WorkerAtTablet, keep_worker, read_worker

P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class Asker:
    person: Person
    stamp: Stamp
    worker: WorkerAtTablet | None = None  # at a tablet
    station: Station | None = None  # of that tablet

    @property
    def layout(self) -> str:
        return "floor_base.html" if self.worker else "base.html"


AskedView = Callable[Concatenate[HttpRequest, Asker, P], HttpResponseBase]


def asked_with(right: Right) -> Callable[[AskedView[P]], Callable[Concatenate[HttpRequest, P], HttpResponseBase]]:
    """Gives a view who asks. Strangers are sent to sign in, people without the right see a page that says which."""

    def decorate(view: AskedView[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            asker = who_asks(request)
            if asker is None:
                return sign_in_first(request)
            if not has_right(asker.person, right):
                raise PermissionDenied(may_not(right))
            response = view(request, asker, *args, **kwargs)
            patch_cache_control(response, no_store=True)
            tablet = this_tablet(request) if asker.worker else None
            if asker.worker is not None and tablet is not None:  # who works here is not signed out for being idle
                keep_worker(response, asker.worker, device=binding_of(tablet), secure=settings.SESSION_COOKIE_SECURE)
            return response

        return cast(Callable[Concatenate[HttpRequest, P], HttpResponseBase], guarded)

    return decorate


def who_asks(request: HttpRequest) -> Asker | None:
    if request.user.is_authenticated:
        person = signed_in(request)
        return Asker(person, office_stamp(request, person))
    tablet = this_tablet(request)
    if tablet is None:
        return None
    now: datetime = timezone.now()
    shop = Shop.current()
    worker = _worker_at(request, tablet, shop, now)
    station = tablet.stations.filter(code=station_of(request, tablet)).first()
    if worker is None or station is None:
        return None
    speak_with(worker.person, shop.language)
    key = request.POST.get("tap_key", "")[:64] or None
    return Asker(
        worker.person, Stamp(worker.person.pk, worker.person.name, now, now, tablet.name, key), worker, station
    )


def speak_at(request: HttpRequest, tablet: Tablet) -> None:
    """Answer in the language of who is signed in at a tablet, else in the shop's. For views that do not ask who it is."""
    shop = Shop.current()
    worker = _worker_at(request, tablet, shop, timezone.now())
    speak_with(worker.person if worker else None, shop.language)


def speak_to_tablet(request: HttpRequest) -> Tablet | None:
    """The same for pages that anybody may see; gives the tablet. None: a desk, or an office sign-in at a tablet."""
    tablet = None if request.user.is_authenticated else this_tablet(request)
    if tablet is not None:
        speak_at(request, tablet)
    return tablet


def _worker_at(request: HttpRequest, tablet: Tablet, shop: Shop, now: datetime) -> WorkerAtTablet | None:
    idle = timedelta(minutes=shop.floor_idle_minutes)
    return read_worker(request, device=binding_of(tablet), idle=idle, now=now)


def sign_in_first(request: HttpRequest) -> HttpResponseBase:
    """To the sign-in of the station when this is a tablet, else to that of the office and from there back."""
    tablet = this_tablet(request)
    code = station_of(request, tablet) if tablet is not None else None
    if code and Station.objects.filter(code=code, is_active=True).exists():
        return redirect("floor:sign_in", code)
    # What was to be done with a POST is not done by a GET of the same address.
    address = request.get_full_path() if request.method == "GET" else "/"
    return redirect_to_login(address)
