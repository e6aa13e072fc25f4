"""The board: every shell in process, by station, by kit and by age."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_safe

from quality.rights import Right
from routing.models import Station
from shopfloor.access import needs
from shopfloor.board import wall as wall_screen
from shopfloor.board import work
from shopfloor.board.ahead import look_ahead
from shopfloor.board.kits import kits

SEES_BOARD = needs(Right.SEE_BOARD)


@require_safe
@SEES_BOARD
def by_station(request: HttpRequest) -> HttpResponse:
    def build(now: datetime, today: date) -> dict[str, Any]:
        ahead = look_ahead(now)
        return {"ahead": ahead, "columns": work.station_columns(now, today, ahead)}

    return _refreshing(request, "board/stations.html", build)


@require_safe
@SEES_BOARD
def wall(request: HttpRequest) -> HttpResponse:
    """For a screen across the shop: large, dark, nothing to press."""

    def build(now: datetime, today: date) -> dict[str, Any]:
        ahead = look_ahead(now)
        return wall_screen.contents(kits(now, today, ahead), work.station_counts(now, today, ahead), ahead)

    return _refreshing(request, "board/wall.html", build)


@require_safe
@SEES_BOARD
def by_kit(request: HttpRequest) -> HttpResponse:
    def build(now: datetime, today: date) -> dict[str, Any]:
        ahead = look_ahead(now)
        return {"ahead": ahead, "kits": kits(now, today, ahead)}

    return _refreshing(request, "board/kits.html", build)


@require_safe
@SEES_BOARD
def by_age(request: HttpRequest) -> HttpResponse:
    return _refreshing(request, "board/age.html", lambda now, today: {"shells": work.oldest_shells(now, today)})


@require_safe
@SEES_BOARD
def station(request: HttpRequest, code: str) -> HttpResponse:
    the_station = get_object_or_404(Station, code=code)
    now = timezone.now()
    return render(
        request,
        "board/station.html",
        {"station": the_station, "shells": work.station_shells(the_station, now, timezone.localdate(now)), "now": now},
    )


def _refreshing(request: HttpRequest, template: str, build: Callable[[datetime, date], dict[str, Any]]) -> HttpResponse:
    """The page, or only its changing part for a refresh, or 204 when nothing was recorded since the last one."""
    now = timezone.now()
    version = work.board_version(now)
    if request.headers.get("HX-Request") and request.GET.get("version") == version:
        return HttpResponse(status=204)
    today = timezone.localdate(now)
    context = {"version": version, "totals": work.totals(today), "now": now, **build(now, today)}
    if request.headers.get("HX-Request"):
        template += "#live"
    response = render(request, template, context)
    patch_cache_control(response, no_store=True)
    return response
