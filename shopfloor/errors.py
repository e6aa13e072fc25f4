"""The pages behind refusals: each says what happened and what to do."""

from __future__ import annotations

from django.core.exceptions import (
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls.exceptions import Resolver404
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from shopfloor.asker import speak_to_tablet
from shopfloor.readable import refused
from shopfloor.request_id import request_id

NOTHING_HERE = gettext_noop("There is nothing at this address. It may be mistyped, or what it showed is gone.")
_BAD = {
    RequestDataTooBig: gettext_noop(
        "The form carries more than 5 MB of text. Nothing was saved. Send less, or in several parts."
    ),
    TooManyFieldsSent: gettext_noop(
        "The form has more fields than the shop reads at once. Nothing was saved. Send it in parts."
    ),
    TooManyFilesSent: gettext_noop(
        "More files came at once than the shop takes. Nothing was saved. Send fewer at a time."
    ),
    DisallowedHost: gettext_noop(
        "The shop does not answer under this address. Use the address you were given; whoever runs the shop's machine "
        "adds another one to ALLOWED_HOSTS."
    ),
}
_UNREADABLE = gettext_noop("What was sent can't be read; nothing was saved. Load the page again and send it once more.")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say what can't be taken in. A name the shop does not know gets no page of the shop's."""
    sentence = _(next((words for kind, words in _BAD.items() if isinstance(exception, kind)), _UNREADABLE))
    if isinstance(exception, DisallowedHost):
        return HttpResponse(sentence, content_type="text/plain; charset=utf-8", status=400)
    status = 413 if isinstance(exception, RequestDataTooBig) else 400
    return refused(request, sentence, status)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Show the sentence of a 404, unless it is one that only speaks to programmers."""
    if isinstance(exception, Resolver404):  # no view was asked, and none chose the language
        speak_to_tablet(request)
    sentence = str(exception) if isinstance(exception, Http404) and not isinstance(exception, Resolver404) else ""
    if not sentence or sentence.endswith("matches the given query."):
        sentence = _(NOTHING_HERE)
    return render(request, "404.html", {"sentence": sentence}, status=404)


def form_not_valid(request: HttpRequest, reason: str = "") -> HttpResponse:
    """For a form without the sign that a page of the shop gave it."""
    speak_to_tablet(request)
    return render(request, "403_csrf.html", status=403)


def server_error(request: HttpRequest) -> HttpResponse:
    """Asks the database for nothing: it may be what broke."""
    page = render_to_string("500.html", {"request_id": request_id()})
    return HttpResponse(page, status=500)
