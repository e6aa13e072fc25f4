"""The refresh of a board on which nothing changed: one indexed read for each screen that looks on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.core.exceptions import SuspiciousOperation
from django.core.signing import Signer
from django.db import Error
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
    who they are. It holds for a minute at most, so that the end of a sign-in is noticed.

    It stands before the headers that guard a page, too. What can't be read or asked here is left to the view, whose
    refusals carry them.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if _refreshes_a_board(request) and _shows_what_is_so(request):
            return HttpResponse(status=204, headers={"Cache-Control": "no-store"})
        return self.get_response(request)


def _refreshes_a_board(request: HttpRequest) -> bool:
    if request.method != "GET" or request.headers.get("HX-Request") != "true":
        return False
    return request.path_info.startswith(reverse("board:board"))


def _shows_what_is_so(request: HttpRequest) -> bool:
    try:
        given = request.GET.get("version")
        return bool(given) and given == signed_version(timezone.now())
    except (Error, SuspiciousOperation):
        return False
