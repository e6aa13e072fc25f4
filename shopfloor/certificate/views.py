"""The as-built certificate of a drum as PDF, for the customer and for the shop's own files."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from quality.certificate import certificate_of
from quality.rights import Right
from routing.errors import RoutingError
from routing.models import Shop
from shopfloor.access import needs, the_shell
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.rings import ring_of, ring_picture


@require_safe
@needs(Right.SEE_TRACE)
def pdf(request: HttpRequest, serial: str) -> HttpResponse:
    drum, now = the_shell(serial), timezone.now()
    try:
        context = {"drum": certificate_of(drum), "shop": Shop.current(), "printed_at": now}
        context |= {"ring": ring_picture(ring_of(drum, now))}
        printed = pdf_from_template("certificate/paper.html", context, css="certificate.css")
    except RoutingError as error:
        return _refused(request, drum.serial, error.message, 422)
    except PaperError as error:
        return _refused(request, drum.serial, str(error), 503)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="certificate-{drum.serial}.pdf"'
    return response


def _refused(request: HttpRequest, serial: str, sentence: str, status: int) -> HttpResponse:
    return render(request, "certificate/refused.html", {"serial": serial, "sentence": sentence}, status=status)
