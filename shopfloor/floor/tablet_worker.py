"""The script that keeps the floor's pages on a tablet. It has to come from where its pages are."""

from __future__ import annotations

import json

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.views.decorators.http import require_safe

from routing.languages import spoken_in
from routing.models import Shop

PATIENCE_MS = 4000  # for a page that is kept on the tablet; for others the browser's own


@require_safe
def tablet_worker(request: HttpRequest) -> HttpResponse:
    """Changes whenever one of the floor's files does: then every tablet takes the new one."""
    settled = {
        "files": settings.STATIC_URL,
        "patienceMs": PATIENCE_MS,
        # Rendered for nobody: it is shown to whoever stands there when the link is down.
        "noLink": "" if request.method == "HEAD" else _no_link(),
    }
    script = f"self.FLOOR = {json.dumps(settled)};\nimportScripts({json.dumps(static('js/tablet-worker.js'))});\n"
    return HttpResponse(
        script,
        content_type="text/javascript; charset=utf-8",
        headers={"Service-Worker-Allowed": "/floor/", "Cache-Control": "no-cache"},
    )


def _no_link() -> str:
    """Not for a HEAD: so a tablet asks whether there is a link, again and again."""
    with spoken_in(Shop.current().language):
        return render_to_string("floor/no_link.html")
