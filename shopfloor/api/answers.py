"""How the reading interface asks and answers: a key, GET only, JSON, and a sentence for every refusal."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import wraps
from typing import Any, Concatenate, ParamSpec

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.cache import get_conditional_response, patch_vary_headers
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt

from quality.api_keys import key_of, used
from quality.figures import Span
from quality.models import KeyOpens
from routing.languages import for_the_record
from shopfloor.errors import NOTHING_HERE
from shopfloor.lists import Place, Row, from_place, place_of

P = ParamSpec("P")
USUAL_ROWS, MOST_ROWS = 100, 500
LONGEST_DAYS = 3660
_SAFE = ("GET", "HEAD")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NUMBER = re.compile(r"[0-9]{1,9}")
_LARGEST_ID = 2**63 - 1


class Refused(Exception):
    """A question that gets no answer: the status, a code for programs and a sentence for whoever wrote them."""

    def __init__(self, status: int, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status
        self.code = code
        self.sentence = sentence


def reads(
    *parameters: str, key: bool = True
) -> Callable[[Callable[Concatenate[HttpRequest, P], dict[str, Any]]], Callable[..., HttpResponseBase]]:
    """A view that answers whoever brings a key with a JSON object. Nobody is signed in, and no session is touched.

    A parameter that is not named here is refused: misspelt, it would quietly give another list than the one asked for.
    Without ``key`` anybody may ask: for what says nothing of the shop.
    """

    def decorate(view: Callable[Concatenate[HttpRequest, P], dict[str, Any]]) -> Callable[..., HttpResponseBase]:
        @csrf_exempt  # so that a POST is told in JSON that this only reads
        @wraps(view)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            with for_the_record():  # programs are told in English, whatever is spoken
                try:
                    _only_reading(request)
                    if key:
                        _with_key(request)
                    _known(request, parameters)
                    return answer(request, view(request, *args, **kwargs))
                except Refused as refused:
                    return refusal(refused)
                except Http404 as missing:
                    said = str(missing)
                    return refusal(Refused(404, "not_found", said if said.endswith((".", "?")) else _(NOTHING_HERE)))

        return guarded

    return decorate


def answer(request: HttpRequest, value: dict[str, Any]) -> HttpResponseBase:
    """``value`` as JSON; with its ETag given back, 304 says that nothing has changed."""
    content = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    response = HttpResponse(content, content_type="application/json")
    response["Cache-Control"] = "private, no-cache"
    response["ETag"] = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    patch_vary_headers(response, ["Authorization"])
    found = get_conditional_response(request, etag=response["ETag"], response=response)
    assert found is not None
    return found


def refusal(refused: Refused) -> HttpResponse:
    body = {"error": {"code": refused.code, "sentence": refused.sentence}}
    response = HttpResponse(
        json.dumps(body, ensure_ascii=False), content_type="application/json", status=refused.status
    )
    response["Cache-Control"] = "no-store"
    if refused.status == 401:
        wrong = ', error="invalid_token"' if refused.code == "wrong_key" else ""
        response["WWW-Authenticate"] = f'Bearer realm="shop"{wrong}'
    if refused.status == 405:
        response["Allow"] = ", ".join(_SAFE)
    return response


def one_page(request: HttpRequest, name: str, rows: QuerySet[Row]) -> tuple[list[Row], str | None]:
    """The rows of a list that were asked for, and the cursor with which the next ones are."""
    size = _size(request)
    found = from_place(rows, _place(request, name), size + 1)
    more = len(found) > size
    return found[:size], _cursor(name, place_of(found[size - 1])) if more else None


def one_of(request: HttpRequest, parameter: str, choices: list[str]) -> str:
    value = request.GET.get(parameter, "")
    if value and value not in choices:
        raise Refused(
            422,
            "bad_parameter",
            _("“{parameter}” is one of {choices}.").format(parameter=parameter, choices=", ".join(choices)),
        )
    return value


def day(request: HttpRequest, parameter: str) -> date | None:
    value = request.GET.get(parameter, "")
    if not value:
        return None
    try:
        if not _DAY.fullmatch(value):
            raise ValueError(value)
        found = date.fromisoformat(value)
    except ValueError:
        found = date.min
    if not 2000 <= found.year <= 2099:
        said = _("“{parameter}” is a day of the years 2000 to 2099, such as 2026-11-24.")
        raise Refused(422, "bad_parameter", said.format(parameter=parameter))
    return found


def days(request: HttpRequest) -> Span:
    """The days ``from`` … ``to``, both counted in, by the shop's clock."""
    first, last = day(request, "from"), day(request, "to")
    if first is None or last is None:
        raise Refused(422, "days_missing", _("Give the days as from and to, such as ?from=2026-11-01&to=2026-11-30."))
    if last < first:
        raise Refused(422, "bad_parameter", _("“to” lies before “from”; swap them."))
    if last - first > timedelta(days=LONGEST_DAYS):
        raise Refused(
            422, "bad_parameter", _("At most {days} days at once; ask in several parts.").format(days=LONGEST_DAYS)
        )
    return Span(first, last)


def _only_reading(request: HttpRequest) -> None:
    if request.method not in _SAFE:
        raise Refused(
            405, "only_reading", _("This interface only reads: ask with GET. Changes are made on the screens.")
        )


def _with_key(request: HttpRequest) -> None:
    scheme, secret = request.headers.get("Authorization", "").partition(" ")[::2]
    if scheme.lower() != "bearer" or not secret.strip():
        raise Refused(
            401, "key_missing", _("Send a key as “Authorization: Bearer …”. An administrator makes one under Keys.")
        )
    key = key_of(secret.strip(), KeyOpens.LISTS)
    if key is None:
        raise Refused(401, "wrong_key", _("This key opens nothing here: it is mistyped, revoked or a calendar's."))
    used(key=key, at=timezone.now())


def _known(request: HttpRequest, parameters: tuple[str, ...]) -> None:
    for name in request.GET:
        if name not in parameters:
            known = ", ".join(parameters)
            said = _("“{name}” is not known; use {parameters}.").format(name=name[:40], parameters=known)
            if not parameters:
                said = _("“{name}” is not known; none are used here.").format(name=name[:40])
            raise Refused(422, "bad_parameter", said)
        if len(request.GET.getlist(name)) > 1:
            raise Refused(422, "bad_parameter", _("“{name}” is given twice; once is enough.").format(name=name))


def _size(request: HttpRequest) -> int:
    value = request.GET.get("limit", "") or str(USUAL_ROWS)
    if not _NUMBER.fullmatch(value) or not 1 <= int(value) <= MOST_ROWS:
        raise Refused(422, "bad_parameter", _("“limit” is a whole number from 1 to {most}.").format(most=MOST_ROWS))
    return int(value)


def _cursor(name: str, place: Place) -> str:
    at, last = place
    words = f"{name} {last} {at.isoformat() if at else ''}".strip()
    return base64.urlsafe_b64encode(words.encode()).decode().rstrip("=")


def _place(request: HttpRequest, name: str) -> Place | None:
    value = request.GET.get("cursor", "")
    if not value:
        return None
    try:
        padded = value + "=" * (-len(value) % 4)
        of, last, *moment = base64.b64decode(padded, altchars=b"-_", validate=True).decode().split(" ")
        at = datetime.fromisoformat(moment[0]) if moment else None
        place = at, int(last)
        if of != name or _cursor(name, place) != value or not 0 < place[1] <= _LARGEST_ID:
            raise ValueError(value)
    except (ValueError, binascii.Error, UnicodeError) as error:
        raise Refused(
            422, "bad_cursor", _("This cursor is none that this list gave. Begin again without it.")
        ) from error
    if (at is None) == (name == "sign_offs") or (at is not None and timezone.is_naive(at)):
        raise Refused(422, "bad_cursor", _("This cursor is none that this list gave. Begin again without it."))
    return place
