"""One number for each request: in its answer, in every line it leaves in a log, and on the page of an error."""

from __future__ import annotations

import logging
import re
import uuid
from collections.abc import Callable
from contextvars import ContextVar

from django.http import HttpRequest
from django.http.response import HttpResponseBase

HEADER = "X-Request-ID"
_GIVEN = re.compile(r"[A-Za-z0-9._-]{8,64}")
# Stays until the next request of the same thread, so that an answer sent in parts has it to its end.
_current: ContextVar[str] = ContextVar("request_id", default="-")


def request_id() -> str:
    return _current.get()


class RequestId:
    """Takes the number that a proxy gave, when it looks like one, so that both logs can be read together."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        given = request.headers.get(HEADER, "")
        number = given if _GIVEN.fullmatch(given) else uuid.uuid4().hex
        _current.set(number)
        response = self.get_response(request)
        response[HEADER] = number
        return response


class WithRequestId(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id()
        return True
