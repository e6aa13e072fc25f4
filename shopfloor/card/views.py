"""The card that stays with the drum, and the page that its code opens for whoever owns the drum."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST, require_safe

from quality.actions import final_check_of
from quality.errors import NotQualified, QualityError
from quality.passwords import MustWait, card_asked_in_vain, require_no_wait_for_cards
from routing.errors import RoutingError
from routing.models import Shell
from shopfloor.access import the_shell
from shopfloor.addresses import client_address
from shopfloor.asker import sign_in_first, who_asks
from shopfloor.card.printing import card_of, print_card_pdf
from shopfloor.languages import speak_with
from shopfloor.paper import PaperError
from shopfloor.qr import base_url, is_card_token

NO_CARD = gettext_noop("There is no card at this address.")


@require_POST
def print_(request: HttpRequest, serial: str) -> HttpResponseBase:
    """The card of a finally checked drum as PDF; every print goes on the record. From a desk or from a tablet."""
    asker = who_asks(request)
    if asker is None:
        return sign_in_first(request)
    shell = the_shell(serial)
    try:
        pdf = print_card_pdf(shell=shell, person=asker.person, base_url=base_url(request), stamp=asker.stamp)
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
def public(request: HttpRequest, serial: str, token: str) -> HttpResponseBase:
    """What a customer may know: what the drum is and who checked it. Without the token from the card there is no page.

    The token is looked at before the serial number, and a wrong one costs its address: nobody learns here which numbers
    exist, not even from how long the answer takes.
    """
    address, now = client_address(request), timezone.now()
    speak_with(None)
    try:
        require_no_wait_for_cards(address=address, at=now)
        if not is_card_token(serial, token):
            card_asked_in_vain(address=address, at=now)
            raise Http404(_(NO_CARD))
    except MustWait as wait:
        response = render(request, "card/wait.html", {"sentence": wait.message}, status=429)
        response["Retry-After"] = str(max(1, wait.seconds))
        return response
    shell = Shell.objects.select_related("model__line", "finish").filter(serial=serial).first()
    final = final_check_of(shell) if shell is not None else None
    if shell is None or final is None:
        raise Http404(_(NO_CARD))
    response = render(request, "card/public.html", {"card": card_of(shell, final)})
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"  # the address is the key
    response["Cache-Control"] = "private, no-store"
    return response


def _refused(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    return render(request, "card/refused.html", {"sentence": sentence}, status=status)
