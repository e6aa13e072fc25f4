"""The web manifest: what a browser needs to put the floor on a tablet's home screen and open it without its own bars.

https://www.w3.org/TR/appmanifest/ says what stands in it.
"""

from __future__ import annotations

import re
from functools import lru_cache

from django.conf import settings
from django.http import HttpRequest, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

from routing.models import Shop

ICONS = [
    ("icons/tablet-192.png", "192x192", "any"),
    ("icons/tablet-512.png", "512x512", "any"),
    ("icons/tablet-maskable-512.png", "512x512", "maskable"),
]


@require_safe
def manifest(request: HttpRequest) -> JsonResponse:
    floor = reverse("floor:stations")
    name = Shop.current().name
    said = {
        "id": floor,
        "name": f"{name}: floor",
        "short_name": "Floor",
        "description": f"The stations of {name}: what waits, what each shell needs, who signed.",
        "start_url": floor,
        "scope": "/",  # a step leads to bags and cartons too
        "display": "fullscreen",
        "display_override": ["fullscreen", "standalone"],
        "background_color": colour("paper"),
        "theme_color": colour("sheet"),
        "icons": [
            {"src": static(path), "sizes": sizes, "type": "image/png", "purpose": purpose}
            for path, sizes, purpose in ICONS
        ],
    }
    return JsonResponse(said, content_type="application/manifest+json", headers={"Cache-Control": "no-cache"})


@lru_cache
def colour(name: str) -> str:
    """A colour of the shop's look, from the one place where it stands. Raises KeyError for a name that is not there."""
    tokens = (settings.BASE_DIR / "static" / "css" / "tokens.css").read_text(encoding="utf-8")
    first = tokens[: tokens.index("}")]
    colours: dict[str, str] = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", first))
    return colours[name]
