"""What no database can keep is refused before anybody looks at it, with a sentence; so is what is too large to take in.

A zero character is no part of any text: PostgreSQL refuses it wherever it stands, and a half of a character that lost
its other half can't be written as UTF-8. A form or an address that carries one was made by a broken program or by
somebody who tries the locks. Neither gets as far as a view.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from itertools import chain

from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.http.response import HttpResponseBase
from django.shortcuts import render

# The zero character, and halves of a pair (surrogates), which only odd encodings bring in.
_UNKEEPABLE = re.compile("[\x00\ud800-\udfff]")
# Three photos of 15 MB and their form. Read as a stream into files, but a disk is finite.
LARGEST_REQUEST_BYTES = 50 * 1024 * 1024

UNREADABLE = (
    "What was sent contains a character that can't be kept: a zero character, or half of one. "
    "Nothing was saved. Type it again by hand, without pasting."
)
BROKEN_OFF = "What was sent did not arrive whole; send it again."
TOO_LARGE = "This is more than 50 MB, more than the shop takes in at once. Nothing was saved. Send less, or in parts."


def is_keepable(words: str) -> bool:
    return _UNKEEPABLE.search(words) is None


def refused(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    """A refusal for whoever asks: a page for people, JSON for the scripts of a tablet and of the shop."""
    if request.path_info.startswith("/api/"):
        # The interface for scripts says 422 of whatever it can't read.
        status = 422 if status == 400 else status
        return JsonResponse({"error": {"code": "unreadable", "sentence": sentence}}, status=status)
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"refused": sentence}, status=status)
    return render(request, "400.html", {"sentence": sentence}, status=status)


class OnlyReadable:
    """Stands before sessions and sign-ins, which look into the database with what a browser sends."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if _length(request) > LARGEST_REQUEST_BYTES:
            return refused(request, TOO_LARGE, 413)
        # A browser can't be told to mend a cookie; one that can't be right counts as none.
        for name in [name for name, value in request.COOKIES.items() if not is_keepable(name + value)]:
            del request.COOKIES[name]
        if not (is_keepable(request.path_info) and _all_keepable(request.GET.lists())):
            return refused(request, UNREADABLE, 400)
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponseBase | None:
        """Forms are read here, where a form that can't be read at all is answered like any other mistake."""
        if request.method != "POST":
            return None
        try:
            names = [(field, [upload.name or "" for upload in files]) for field, files in request.FILES.lists()]
        except UnreadablePostError:  # the link broke, or whoever sent it gave up
            return refused(request, BROKEN_OFF, 400)
        if _all_keepable(request.POST.lists()) and _all_keepable(names):
            return None
        return refused(request, UNREADABLE, 400)


def _all_keepable(fields: Iterable[tuple[str, list[str]]]) -> bool:
    return is_keepable("".join(chain.from_iterable((name, *values) for name, values in fields)))


def _length(request: HttpRequest) -> int:
    length = request.META.get("CONTENT_LENGTH") or "0"
    return int(length) if length.isdecimal() else 0
