"""Paper that goes with the cartons: the packing list of an order, and a label for each closed carton."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from quality.carton_contents import CartonOfOrder, packing_of
from quality.rights import Right
from routing.languages import Language, spoken_in
from routing.models import KitOrder, Shop
from shopfloor.access import the_order
from shopfloor.asker import Asker, asked_with
from shopfloor.cartons.views import order_page
from shopfloor.paper import PaperError, pdf_from_template


@require_safe
@asked_with(Right.SEE_TRACE)
def packing_list(request: HttpRequest, asker: Asker, number: str) -> HttpResponse:
    """Order, customer, cartons and what is in each; says of itself that it is no more than a draft while one is open."""
    the = the_order(number)
    packing = packing_of(the, timezone.now())
    if packing is None:
        return order_page(
            request,
            asker,
            the,
            error=_("Order {number} has no drums yet; release it first.").format(number=number),
            status=422,
        )
    return _paper(
        request, asker, the, "cartons/packing_list.html", {"packing": packing}, "packing-list.css", "packing-list"
    )


@require_safe
@asked_with(Right.SEE_TRACE)
def labels(request: HttpRequest, asker: Asker, number: str) -> HttpResponse:
    """A label for each carton that is closed."""
    the = the_order(number)
    packing = packing_of(the, timezone.now())
    closed = [carton for carton in packing.cartons if carton.closed] if packing else []
    if old := [carton.old_label for carton in closed if carton.old_label]:
        return order_page(request, asker, the, error=" ".join(old), status=422)
    if not closed:
        return order_page(
            request, asker, the, error=_("No carton is closed yet; a label says what a closed one holds."), status=422
        )
    return _labels(request, asker, the, closed, "labels")


@require_safe
@asked_with(Right.SEE_TRACE)
def label(request: HttpRequest, asker: Asker, number: str, carton: int) -> HttpResponse:
    the = the_order(number)
    packing = packing_of(the, timezone.now())
    found = packing.carton(carton) if packing else None
    if found is None or found.closed is None:
        return order_page(
            request,
            asker,
            the,
            error=_("Carton {number} is not closed; close it, then print its label.").format(number=carton),
            status=422,
        )
    if found.old_label:
        return order_page(request, asker, the, error=found.old_label, status=422)
    return _labels(request, asker, the, [found], f"label-{carton}")


def _labels(
    request: HttpRequest, asker: Asker, the: KitOrder, cartons: Sequence[CartonOfOrder], name: str
) -> HttpResponse:
    return _paper(request, asker, the, "cartons/labels.html", {"cartons": cartons}, "carton-label.css", name)


def _paper(
    request: HttpRequest, asker: Asker, the: KitOrder, template: str, context: dict[str, Any], css: str, name: str
) -> HttpResponse:
    shared = {"order": the, "shop": Shop.current(), "printed_at": timezone.now(), "printed_by": asker.person.name}
    try:
        with spoken_in(Language.ENGLISH):
            pdf = pdf_from_template(template, shared | context, css=css)
    except PaperError as error:
        return order_page(request, asker, the, error=str(error), status=503)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}-{the.number}.pdf"'
    return response
