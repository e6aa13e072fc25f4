"""The content policy of every answer. Nothing in it differs from page to page, so it is put together once."""

from __future__ import annotations

from collections.abc import Callable

from csp.constants import HEADER
from csp.utils import build_policy
from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase


class ContentPolicy:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response
        self.policy = build_policy()

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        # Django's own pages of faults have styles inside.
        if not (settings.DEBUG and response.status_code in {404, 500}):
            response.headers.setdefault(HEADER, self.policy)
        return response
