"""The card that stays with the drum, and the page that its code opens for whoever owns the drum."""

from __future__ import annotations

from datetime import timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from quality.actions import final_check_of, print_card
from quality.errors import QualityError
from quality.models import Person
from routing.errors import RoutingError
from routing.history import Stamp
from routing.models import Operation, Shell, Shop
from shopfloor.access import signed_in, the_shell
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.qr import base_url, card_address, is_card_token, qr_svg
from shopfloor.rings import ring_states
from shopfloor.stamps import office_stamp
from shopfloor.tablet_station import device_of
from shopfloor.worker_token import read_worker


@require_POST
def print_(request: HttpRequest, serial: str) -> HttpResponse:
    """The card of a finally checked drum as PDF; every print goes on the record. From a desk or from a tablet."""
    person, stamp = _who(request)
    if person is None or stamp is None:
        return redirect("signin:office")
    shell = the_shell(serial)
    try:
        final, copy = print_card(serial=shell.serial, person=person, stamp=stamp)
        pdf = pdf_from_template(
            "card/card.html",
            {
                "shop": Shop.current(),
                "shell": shell,
                "checker": final.person.name,
                "checked_at": final.at,
                "copy": copy,
                "ring": ring_states(list(Operation.objects.filter(shell=shell).order_by("position")), timezone.now()),
                "qr": qr_svg(card_address(shell.serial, base_url(request))),
            },
            css="card.css",
        )
    except (RoutingError, QualityError, PaperError) as error:
        return render(request, "card/refused.html", {"sentence": str(error)}, status=409)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="card-{shell.serial}.pdf"'
    return response


@require_safe
def public(request: HttpRequest, serial: str, token: str) -> HttpResponse:
    """What a customer may know: what the drum is and who checked it. Without the token from the card there is no page."""
    if not is_card_token(serial, token):
        raise Http404("There is no card at this address.")
    shell = Shell.objects.select_related("model__line", "finish").filter(serial=serial).first()
    final = final_check_of(shell) if shell is not None else None
    if shell is None or final is None:
        raise Http404("There is no card at this address.")
    return render(request, "card/public.html", {"shell": shell, "checker": final.person.name, "checked_at": final.at})


def _who(request: HttpRequest) -> tuple[Person | None, Stamp | None]:
    """Who prints: somebody at a desk, else the worker signed in at the tablet."""
    if request.user.is_authenticated:
        person = signed_in(request)
        return person, office_stamp(request, person)
    now = timezone.now()
    device = device_of(request)
    idle = timedelta(minutes=Shop.current().floor_idle_minutes)
    worker = read_worker(request, device=device, idle=idle, now=now)
    if worker is None:
        return None, None
    return worker.person, Stamp(worker.person.pk, worker.person.name, now, now, device)
