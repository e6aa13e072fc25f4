"""Taps that were made without a link: whose they are, when they were made, and how a tablet is answered that sends them.

A page carries a signed mark of the person it was made for. A tap that was kept on the tablet brings it along, so that
it stays that person's when it arrives after the sign-in ended or somebody else signed in. Only a kept tap says when it
was made (``tapped_at``); what is sent at once happened now, by the server's clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.messages import get_messages
from django.core import signing
from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase, HttpResponseRedirectBase
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import Person
from quality.rights import Right, has_right
from routing.history import LONGEST_KEPT
from shopfloor.worker_token import LONGEST, WorkerAtTablet

GOOD_FOR = timedelta(hours=24)
FUTURE = timedelta(minutes=2)  # clocks of tablets differ
_SALT = "shopfloor.floor.tap"


class TapRefused(QualityError):
    """The tap itself can't be right, whatever it is for."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Whom a page was made for."""

    person_id: int
    pin_version: int
    device: str
    since: datetime  # when the PIN was entered
    is_fresh: bool  # not older than GOOD_FOR


def mark_for(worker: WorkerAtTablet, device: str) -> str:
    """The hidden field ``as`` of a form that may be kept."""
    return signing.dumps(
        [worker.person.pk, worker.person.pin_version, device, worker.since.isoformat()], salt=_SALT, compress=False
    )


def read_mark(token: str) -> Mark | None:
    """What a page says of its person; None when nobody here signed it."""
    is_fresh = True
    try:
        try:
            content = signing.loads(token, salt=_SALT, max_age=GOOD_FOR)
        except signing.SignatureExpired:
            content, is_fresh = signing.loads(token, salt=_SALT), False
        person_id, pin_version, device, since = content
        return Mark(person_id, pin_version, device, datetime.fromisoformat(since), is_fresh)
    except (signing.BadSignature, ValueError, TypeError):
        return None


def is_kept(request: HttpRequest) -> bool:
    """Whether a tap waited on the tablet before it was sent. What is signed with a PIN never waits."""
    return request.method == "POST" and bool(request.POST.get("tapped_at")) and "pin" not in request.POST


def tap_time(request: HttpRequest, now: datetime) -> datetime:
    """When the tap was made: what the tablet says of a kept one, if that can be; never later than ``now``."""
    if not is_kept(request):
        return now
    try:
        at = parse_datetime(request.POST["tapped_at"])
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise TapRefused("tapped_at", _("The tablet did not say when this tap was made; make it again."))
    if at > now + FUTURE:
        raise TapRefused(
            "tablet_clock",
            _("The clock of this tablet is fast: the tap lies in the future. Set the clock, then tap again."),
        )
    if at < now - LONGEST_KEPT:
        raise TapRefused(
            "tablet_clock",
            _("This tap is older than 7 days, or the clock of this tablet is slow. Look at the shell, then tap again."),
        )
    return min(at, now)


def worker_of_tap(
    request: HttpRequest, signed_in: WorkerAtTablet | None, device: str, now: datetime
) -> WorkerAtTablet | None:
    """Whose tap this is. A kept one is that of the person its page was made for, or nobody's until they sign in again."""
    if not is_kept(request):
        return signed_in
    mark = read_mark(request.POST.get("as", ""))
    if mark is None or mark.device != device:
        return None
    if signed_in is not None and signed_in.person.pk == mark.person_id:
        return signed_in
    if not mark.is_fresh or _after_the_day(request, mark, now):
        return None
    person = Person.objects.filter(pk=mark.person_id, pin_version=mark.pin_version, is_active=True).first()
    if person is None or not has_right(person, Right.SIGN_STEPS):
        return None
    return WorkerAtTablet(person, mark.since)


def _after_the_day(request: HttpRequest, mark: Mark, now: datetime) -> bool:
    """A sign-in ends after its longest time, with or without a link."""
    try:
        return tap_time(request, now) - mark.since > LONGEST
    except TapRefused:
        return False  # the action refuses it, and says why


def require_own_page(request: HttpRequest, worker: Person) -> None:
    """The name on the button is the name under the step: refuse a page left open by whoever was signed in before."""
    mark = read_mark(request.POST.get("as", ""))
    if mark is not None and mark.person_id != worker.pk:
        whose = Person.objects.filter(pk=mark.person_id).first()
        raise TapRefused(
            "other_worker",
            _(
                "This page was open for {other}, and {name} is signed in now. "
                "Nothing is signed; look at the shell, then tap again."
            ).format(other=whose.name if whose else _("somebody else"), name=worker.name),
        )


def wants_json(request: HttpRequest) -> bool:
    """Scripts of the tablet ask for an answer that they can read."""
    return request.method == "POST" and request.headers.get("Accept", "").startswith("application/json")


def refused_json(message: str, status: int) -> JsonResponse:
    return JsonResponse({"refused": message}, status=status)


def sign_in_json(request: HttpRequest, device: str, address: str) -> JsonResponse:
    """Why a tap can't be anybody's now: it waits for its person, or it never can."""
    if not is_kept(request):
        return JsonResponse({"sign_in": _("Sign in first."), "go": address}, status=403)
    mark = read_mark(request.POST.get("as", ""))
    if mark is None or mark.device != device:
        return refused_json(_("This tap does not say who made it on this tablet. Sign in and tap again."), 422)
    person = Person.objects.filter(pk=mark.person_id).first()
    if person is None or not has_right(person, Right.SIGN_STEPS):
        name = person.name if person else _("Who made this tap")
        said = _("{name} signs no steps any more. Somebody who may has to tap again.")
        return refused_json(said.format(name=name), 422)
    say = _("{name} made this tap and has to sign in on this tablet again; then it is sent.").format(name=person.name)
    return JsonResponse({"sign_in": say, "go": address}, status=403)


def as_json(request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    """A redirect as something that a script can read. What was to be said on its page is said there, or not at all."""
    if not isinstance(response, HttpResponseRedirectBase):
        return response
    if is_kept(request):
        list(get_messages(request))  # said later, to whoever stands there then, it would only puzzle
    answer: dict[str, Any] = {"ok": True, "go": response.url}
    return JsonResponse(answer)
