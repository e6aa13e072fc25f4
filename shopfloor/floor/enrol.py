"""Making the device in one's hands a tablet of the shop, with a code that a supervisor made in the office."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods

from quality.errors import QualityError
from quality.tablets import enrol
from shopfloor.languages import speak_with
from shopfloor.tablet_station import keep_key, this_tablet


@require_http_methods(["GET", "POST"])
def enrol_device(request: HttpRequest) -> HttpResponseBase:
    """Enter a code, or confirm the one that was scanned: opening an address alone makes nothing a tablet."""
    speak_with(None)
    tablet = this_tablet(request)
    if request.method == "POST" and tablet is not None:
        return redirect("floor:stations")  # the form arrived twice; the first did it
    typed, error, status = request.GET.get("code", "")[:20], "", 200
    if request.method == "POST":
        typed = request.POST.get("code", "")[:20]
        try:
            _, key = enrol(code=typed, at=timezone.now())
        except QualityError as refused:
            error, status = refused.message, 429 if refused.code == "slow_down" else 422
        else:
            response = redirect("floor:stations")
            keep_key(response, key)
            return response
    page = render(request, "floor/enrol.html", {"tablet": tablet, "typed": typed, "error": error}, status=status)
    patch_cache_control(page, no_store=True)
    return page
