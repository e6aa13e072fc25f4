"""The board: every shell in process, by station, by kit and by age."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
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
from shopfloor.board import urgent, work
from shopfloor.board import wall as wall_screen
from shopfloor.board.ahead import lately
from shopfloor.board.kits import kits
from shopfloor.board.unchanged import signed_version

SEES_BOARD = needs(Right.SEE_BOARD)
ROWS_ON_A_PAGE = 50
MOST_PAGES = 10_000
Build = Callable[[datetime, date], dict[str, Any]]


@require_safe
@SEES_BOARD
def by_station(request: HttpRequest) -> HttpResponse:
    def build(now: datetime, today: date) -> dict[str, Any]:
        counts = work.counts(now, today)
        busy = [column.pk for column in counts.columns if column.total]
        lines = urgent.lines(urgent.most_urgent(busy, now), today, stations=len(counts.columns))
        columns = [replace(column, lines=lines.get(column.pk, ())) for column in counts.columns]
        return {"totals": counts.totals, "columns": columns}

    return _refreshing(request, "board/stations.html", build)


@require_safe
@SEES_BOARD
def wall(request: HttpRequest) -> HttpResponse:
    """For a screen across the shop: large, dark, nothing to press."""
    return _refreshing(request, "board/wall.html", wall_screen.contents)


@require_safe
@SEES_BOARD
def by_kit(request: HttpRequest) -> HttpResponse:
    page = _page(request)

    def build(now: datetime, today: date) -> dict[str, Any]:
        return {"totals": work.counts(now, today).totals, "shown": kits(now, today, page)}

    return _refreshing(request, "board/kits.html", build)


@require_safe
@SEES_BOARD
def by_age(request: HttpRequest) -> HttpResponse:
    def build(now: datetime, today: date) -> dict[str, Any]:
        return {"totals": work.counts(now, today).totals, "shells": work.oldest_shells(now, today)}

    return _refreshing(request, "board/age.html", build)


@require_safe
@SEES_BOARD
def days_ahead(request: HttpRequest) -> HttpResponse:
    """How full stations and drying rooms are: a page, or the part of it that stands on the board."""
    now = timezone.now()
    part = ("#wall" if "wall" in request.GET else "#ahead") if request.headers.get("HX-Request") else ""
    response = render(request, f"board/ahead.html{part}", {"ahead": lately(now), "now": now})
    patch_cache_control(response, no_store=True)  # a page and its part share an address
    return response


@require_safe
@SEES_BOARD
def station(request: HttpRequest, code: str) -> HttpResponse:
    """Every shell of one station, in the order of work."""
    the_station = get_object_or_404(Station, code=code)
    now, page = timezone.now(), _page(request)
    first = (page - 1) * ROWS_ON_A_PAGE
    found = work.station_shells(the_station, now, timezone.localdate(now), first, first + ROWS_ON_A_PAGE + 1)
    context = {"station": the_station, "shells": found[:ROWS_ON_A_PAGE], "now": now, "page": page}
    return render(request, "board/station.html", context | {"has_more": len(found) > ROWS_ON_A_PAGE})


def _page(request: HttpRequest) -> int:
    """The page asked for; the first for anything that is none."""
    word = request.GET.get("page", "")
    number = int(word) if word.isascii() and word.isdecimal() and len(word) < 6 else 1
    return min(max(number, 1), MOST_PAGES)


def _refreshing(request: HttpRequest, template: str, build: Build) -> HttpResponse:
    """The page, or only its changing part for a refresh."""
    now = timezone.now()
    # Taken before anything is read: what is recorded meanwhile makes the next refresh build again.
    version = signed_version(now)
    context = {"version": version, "now": now, **build(now, timezone.localdate(now))}
    if request.headers.get("HX-Request"):
        template += "#live"
    response = render(request, template, context)
    patch_cache_control(response, no_store=True)
    return response
