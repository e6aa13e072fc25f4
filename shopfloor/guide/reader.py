"""Who reads the guide: a tablet, in the floor's clothes and the language spoken there, or anybody else, in English or in the
language that the address asks for (``?language=de``)."""

from __future__ import annotations

from django.http import HttpRequest
from django.urls import reverse

from routing.languages import Language, present_language, speak
from shopfloor.asker import speak_to_tablet
from shopfloor.tablet_station import station_of


def speak_to_reader(request: HttpRequest) -> dict[str, object]:
    """Switches to the language of whoever reads; gives what the templates of the guide want to know of them."""
    tablet = speak_to_tablet(request)
    if tablet is None:
        return _at_a_desk(request.GET.get("language", ""))
    station = station_of(request, tablet)
    back = reverse("floor:queue", args=[station]) if station else reverse("floor:stations")
    return {"on_floor": True, "layout": "floor_base.html", "floor_back": back}


def _at_a_desk(asked: str) -> dict[str, object]:
    if asked in Language.values:
        speak(asked)
    spoken = present_language()
    return {
        "on_floor": False,
        "layout": "guide/desk.html",
        "other_languages": [language for language in Language if language != spoken],
        "in_language": "" if spoken == Language.ENGLISH else f"?language={spoken}",
    }
