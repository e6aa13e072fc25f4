"""Where each screen begins."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from shopfloor.guide.glossary import glossary
from shopfloor.home.views import home
from shopfloor.ring_images import ring_image
from shopfloor.tablet_app import manifest

urlpatterns: list[URLPattern | URLResolver] = [
    path("floor/", include("shopfloor.floor.urls")),  # first: every tap looks for its address here
    path("", home, name="home"),
    path("glossary/", glossary, name="glossary"),
    path("manifest.webmanifest", manifest, name="manifest"),
    path("r/", include([path("<str:steps>", ring_image, name="ring")])),
    path("guide/", include("shopfloor.guide.urls")),
    path("start/", include("shopfloor.start.urls")),
    path("sign-in/", include("shopfloor.signin.urls")),
    path("board/", include("shopfloor.board.urls")),
    path("orders/", include("shopfloor.orders.urls")),
    path("cutting/", include("shopfloor.cutting.urls")),
    path("recipes/", include("shopfloor.catalog.urls")),
    path("bench/", include("shopfloor.bench.urls")),
    path("travelers/", include("shopfloor.travelers.urls")),
    path("trace/", include("shopfloor.trace.urls")),
    path("certificate/", include("shopfloor.certificate.urls")),
    path("recall/", include("shopfloor.recall.urls")),
    path("late/", include("shopfloor.late.urls")),
    path("holes/", include("shopfloor.holes.urls")),
    path("materials/", include("shopfloor.materials.urls")),
    path("made-here/", include("shopfloor.made_here.urls")),
    path("figures/", include("shopfloor.figures.urls")),
    path("plan/", include("shopfloor.plan.urls")),
    path("hours/", include("shopfloor.hours.urls")),
    path("packing/", include("shopfloor.packing.urls")),
    path("cartons/", include("shopfloor.cartons.urls")),
    path("requests/", include("shopfloor.requests.urls")),
    path("api/", include("shopfloor.api.urls")),
    path("files/", include("shopfloor.exports.urls")),
    path("people/", include("shopfloor.people.urls")),
    path("tablets/", include("shopfloor.tablets.urls")),
    path("s/", include("shopfloor.scan.urls")),
    path("health/", include("shopfloor.health.urls")),
    path("card/", include("shopfloor.card.urls")),
]

handler400 = "shopfloor.errors.bad_request"
handler404 = "shopfloor.errors.not_found"
handler500 = "shopfloor.errors.server_error"
