"""The refresh of a board on which nothing changed: one indexed read for each screen that looks on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.core.signing import Signer
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone

from shopfloor.board import work


def signed_version(now: datetime) -> str:
    """What a page shows, as a mark that nobody makes up: whoever sends it was shown that page by this shop."""
    return Signer(salt="board").sign(work.board_version(now))


class Unchanged:
    """Stands before the sessions: the mark of what is still so gets 204, which says nothing else, and nobody need be asked
    who they are. It holds for a minute at most, so that the end of a sign-in is noticed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        given = request.GET.get("version")
        asks = request.method == "GET" and request.headers.get("HX-Request") == "true"
        if given and asks and request.path_info.startswith(reverse("board:board")):
            if given == signed_version(timezone.now()):
                return HttpResponse(status=204, headers={"Cache-Control": "no-store"})
        return self.get_response(request)
