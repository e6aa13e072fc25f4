"""Pages travel compressed: a tablet at the far end of the shop has a thin link. Pictures and PDFs are small already."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

_WORDS = ("text/", "application/json", "application/javascript", "image/svg+xml")


class CompressedPages(GZipMiddleware):
    """Django's own compression, with its random padding against guessing secrets by length, for texts only."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if not response.get("Content-Type", "").startswith(_WORDS):
            return response
        return super().process_response(request, response)
