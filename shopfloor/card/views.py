"""The card that stays with the drum, and the page that its code opens for whoever owns the drum."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from quality.actions import final_check_of
from quality.errors import NotQualified, QualityError
from quality.models import Person
from routing.errors import RoutingError
from routing.history import Stamp
from routing.models import Shell, Shop, Station
from shopfloor.access import signed_in, the_shell
from shopfloor.card.printing import card_of, print_card_pdf
from shopfloor.paper import PaperError
from shopfloor.qr import base_url, is_card_token
from shopfloor.stamps import office_stamp
from shopfloor.tablet_station import binding_of, station_of, this_tablet
from shopfloor.worker_token import read_worker


@require_POST
def print_(request: HttpRequest, serial: str) -> HttpResponse:
    """The card of a finally checked drum as PDF; every print goes on the record. From a desk or from a tablet."""
    who = _who(request)
    if who is None:
        return _sign_in_first(request)
    person, stamp = who
    shell = the_shell(serial)
    try:
        pdf = print_card_pdf(shell=shell, person=person, base_url=base_url(request), stamp=stamp)
    except NotQualified as error:
        return _refused(request, error.message, status=403)
    except (RoutingError, QualityError) as error:
        return _refused(request, error.message, status=409)
    except PaperError as error:
        return _refused(request, str(error), status=503)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="card-{shell.serial}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@require_safe
def public(request: HttpRequest, serial: str, token: str) -> HttpResponse:
    """What a customer may know: what the drum is and who checked it. Without the token from the card there is no page."""
    shell = Shell.objects.select_related("model__line", "finish").filter(serial=serial).first()
    final = final_check_of(shell) if shell is not None and is_card_token(serial, token) else None
    if shell is None or final is None:
        raise Http404("There is no card at this address.")
    response = render(request, "card/public.html", {"card": card_of(shell, final)})
    response["X-Robots-Tag"] = "noindex"
    return response


def _who(request: HttpRequest) -> tuple[Person, Stamp] | None:
    """Who prints: somebody at a desk, else the worker signed in at the tablet."""
    if request.user.is_authenticated:
        person = signed_in(request)
        return person, office_stamp(request, person)
    now = timezone.now()
    tablet = this_tablet(request)
    if tablet is None:
        return None
    idle = timedelta(minutes=Shop.current().floor_idle_minutes)
    worker = read_worker(request, device=binding_of(tablet), idle=idle, now=now)
    if worker is None:
        return None
    return worker.person, Stamp(worker.person.pk, worker.person.name, now, now, tablet.name)


def _sign_in_first(request: HttpRequest) -> HttpResponse:
    """To the sign-in of the station when this is a tablet, else to that of the office and from there to the start."""
    tablet = this_tablet(request)
    code = station_of(request, tablet) if tablet is not None else None
    if code and Station.objects.filter(code=code, is_active=True).exists():
        return redirect("floor:sign_in", code)
    return redirect_to_login(reverse("home"))


def _refused(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    return render(request, "card/refused.html", {"sentence": sentence}, status=status)
