"""The pages behind refusals: each says what happened and what to do."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls.exceptions import Resolver404

NOTHING_HERE = "There is nothing at this address. It may be mistyped, or what it showed is gone."


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Show the sentence of a 404, unless it is one that only speaks to programmers."""
    sentence = str(exception) if isinstance(exception, Http404) and not isinstance(exception, Resolver404) else ""
    if not sentence or sentence.endswith("matches the given query."):
        sentence = NOTHING_HERE
    return render(request, "404.html", {"sentence": sentence}, status=404)
