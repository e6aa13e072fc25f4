"""The guide: one page for each kind of work, to read on the screen or to hang on the wall. Open to everybody: nothing of
the shop stands in it."""

from __future__ import annotations

from base64 import b64encode
from functools import lru_cache

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from routing.languages import Language, speak, spoken_in
from routing.models import Shop
from shopfloor.guide.leaf import Guide, spoken
from shopfloor.guide.pages import GUIDES, SAFETY
from shopfloor.guide.reader import speak_to_reader
from shopfloor.paper import PaperError, pdf_from_template


@require_safe
def index(request: HttpRequest) -> HttpResponse:
    reader = speak_to_reader(request)
    return render(request, "guide/index.html", {"guides": [spoken(guide) for guide in GUIDES.values()]} | reader)


@require_safe
def page(request: HttpRequest, who: str) -> HttpResponse:
    reader = speak_to_reader(request)
    guide = the_guide(who)
    if not guide.is_translated:
        speak(Language.ENGLISH)
        reader |= {"other_languages": []}
    return render(request, "guide/page.html", {"guide": spoken(guide), "safety": _(SAFETY)} | reader)


@require_safe
def card(request: HttpRequest, who: str) -> HttpResponse:
    reader = speak_to_reader(request)
    guide, shop = the_guide(who), Shop.current()
    language = shop.language if guide.is_translated else Language.ENGLISH
    try:
        pdf = _card(guide.key, language, shop.name, shop.paper_size)
    except PaperError as error:
        return render(request, "guide/refused.html", {"sentence": str(error)} | reader, status=503)
    name = f"guide-{guide.key}.pdf"
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )


def the_guide(key: str) -> Guide:
    if key not in GUIDES:
        raise Http404(_("The guide has no such page."))
    return GUIDES[key]


@lru_cache(maxsize=16)
def _card(key: str, language: str, shop_name: str, paper_size: str) -> bytes:
    """Made once by each process: everybody may ask for it, and setting it takes a second."""
    with spoken_in(language):
        guide = spoken(GUIDES[key])
        context = {
            "guide": guide,
            "steps": [(step, _inlined(step.picture)) for step in guide.steps],
            "safety": _(SAFETY),
            "shop_name": shop_name,
            "paper_size": paper_size,
        }
        return pdf_from_template("guide/card.html", context, css="guide-card.css")


def _inlined(picture: str) -> str:
    """Paper fetches nothing, so the picture stands in the page itself."""
    if not picture:
        return ""
    data = (settings.BASE_DIR / "static" / "guide" / f"{picture}.png").read_bytes()
    return f"data:image/png;base64,{b64encode(data).decode()}"
