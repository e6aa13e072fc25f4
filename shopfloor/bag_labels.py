"""On paper: the label of a bag, and what is to be picked for drums, bag by bag."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.bags import BagOfDrum, BagStand, bags_of, bags_of_shells
from routing.languages import spoken_in
from routing.models import KitOrder, Shell, Shop
from shopfloor.paper import PaperError, pdf_from_template, picture
from shopfloor.qr import base_url, qr_svg
from shopfloor.rings import ring_picture, rings_of


def label_response(request: HttpRequest, shell: Shell, place: int) -> HttpResponse:
    """The label of one filled bag; ``place`` 0 asks for those of all that are filled, in the order of the list."""
    bags = bags_of(shell)
    asked = [each for each in bags if place in (0, each.place)]
    if not asked:
        raise Http404(
            _("The parts list of {serial} has no bag number {place}.").format(serial=shell.serial, place=place)
        )
    filled = [each for each in asked if each.state in (BagStand.TO_CHECK, BagStand.CHECKED)]
    if not filled:
        return _refused(request, _nothing_to_label(shell, asked), status=409)
    try:
        pdf = label_pdf(shell, filled, base=base_url(request))
    except PaperError as error:
        return _refused(request, str(error), status=503)
    return _pdf(pdf, f"bags-{shell.serial}" if place == 0 else f"bag-{shell.serial}-{place}")


def list_response(
    request: HttpRequest, shells: Sequence[Shell], *, order: KitOrder, title: str, name: str
) -> HttpResponse:
    """The pick list of drums as a sheet to write on. ``shells`` come with order, model, line and finish."""
    try:
        pdf = list_pdf(shells, order=order, title=title)
    except PaperError as error:
        return _refused(request, str(error), status=503)
    return _pdf(pdf, name)


def label_pdf(shell: Shell, bags: Sequence[BagOfDrum], *, base: str) -> bytes:
    shop = Shop.current()
    context = {
        "shop": shop,
        "shell": shell,
        "bags": bags,
        "qr": picture(qr_svg(base + reverse("scan:shell", args=[shell.serial]))),
    }
    with spoken_in(shop.language):
        return pdf_from_template("packing/label.html", context, css="bag-label.css")


def list_pdf(shells: Sequence[Shell], *, order: KitOrder, title: str) -> bytes:
    bags, rings = bags_of_shells(shells), rings_of(shells, timezone.now())
    context = {
        "shop": Shop.current(),
        "title": title,
        "order": order,
        "drums": [(shell, ring_picture(rings[shell.pk]), bags[shell.pk]) for shell in shells],
    }
    return pdf_from_template("packing/pick_list.html", context, css="pick-list.css")


def _nothing_to_label(shell: Shell, asked: Sequence[BagOfDrum]) -> str:
    if len(asked) > 1:
        return _("No bag of {serial} is filled yet; a label says who filled it.").format(serial=shell.serial)
    (only,) = asked
    if only.state == BagStand.STALE:
        return only.stale_sentence
    return _("{bag} of {serial} is not filled yet; its label says who filled it.").format(
        bag=only.in_words, serial=shell.serial
    )


def _pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def _refused(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    return render(request, "packing/refused.html", {"sentence": sentence}, status=status)
