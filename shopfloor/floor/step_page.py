"""The page of one step, with what was refused on it, and what its forms send."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST

from quality.errors import QualityError
from quality.photos import KeptPhoto, keep_photo
from routing.errors import RoutingError
from routing.frozen import current_spec
from routing.models import Shell
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.sheet import FORMULA_VERSION
from shopfloor.access import the_shell
from shopfloor.floor.link import refused_json, wants_json
from shopfloor.floor.step import step_of
from shopfloor.floor.tablet import Tablet, at_station, worker_needed
from shopfloor.refusals import status_of

MOST_PHOTOS = 3  # with one signature
Refusal = RoutingError | QualityError | SpecError
REFUSALS = (RoutingError, QualityError, SpecError)
_OLD_SPEC = gettext_noop(
    "The spec of {serial} was made by an earlier version of the program and lacks a number for this station. "
    "Ask a supervisor to press “Issue the spec again” on the drum's page, then open the step again."
)


def step_page(
    request: HttpRequest, tablet: Tablet, shell: Shell, *, error: str = "", out: bool = False, status: int = 200
) -> HttpResponse:
    try:
        step = step_of(
            shell,
            tablet.station,
            tablet.person,
            tablet.now,
            paper_revision=small_number(request.GET.get("r", "")),
            device=tablet.device,
            typed=request.POST.dict(),
        )
    except KeyError:
        if current_spec(shell).formula_version == FORMULA_VERSION:
            raise
        messages.error(request, _(_OLD_SPEC).format(serial=shell.serial))
        return redirect("floor:queue", tablet.station.code)
    context: dict[str, Any] = {
        "station": tablet.station,
        "worker": tablet.worker,
        "step": step,
        "tap_key": secrets.token_urlsafe(16),
        "as_mark": tablet.mark,
        "error": error,
        "out": out,
        "typed": request.POST,
        "measuring": any(name.startswith("plate-") for name in request.POST),
        "now": tablet.now,
    }
    response = render(request, "floor/step.html", context, status=status)
    patch_cache_control(response, no_store=True)
    return response


def step_refused(request: HttpRequest, tablet: Tablet, shell: Shell, refused: Refusal) -> HttpResponse:
    status = status_of(refused)
    if wants_json(request):
        return refused_json(spoken(refused.message), status)
    shell.refresh_from_db()
    return step_page(
        request, tablet, shell, error=spoken(refused.message), out=refused.code == "out_of_limits", status=status
    )


def shell_tap(view: Callable[[HttpRequest, Tablet, Shell], HttpResponse]) -> Callable[..., HttpResponseBase]:
    """A tap on one shell by whoever is signed in: what its action refuses is said on the page of the step."""

    @require_POST
    @at_station
    @worker_needed
    @wraps(view)
    def tapped(request: HttpRequest, tablet: Tablet, serial: str) -> HttpResponse:
        shell = the_shell(serial)
        try:
            return view(request, tablet, shell)
        except REFUSALS as refused:
            return step_refused(request, tablet, shell, refused)

    return tapped


def answers_of(request: HttpRequest) -> dict[str, str]:
    """Check point id → what was entered."""
    names = [name for name in request.POST if name.startswith("check-")]
    return {name.removeprefix("check-"): " ".join(request.POST.getlist(name)) for name in names}


def photo_of(request: HttpRequest, tablet: Tablet) -> KeptPhoto | None:
    upload = request.FILES.get("photo")
    return None if upload is None else keep_photo(upload, upload.size or 0, tablet.now)


def photos_of(request: HttpRequest, tablet: Tablet) -> list[KeptPhoto]:
    """Those that go with a signature; a field without a picture sends an empty file."""
    uploads = [upload for upload in request.FILES.getlist("sign-photo") if upload.size]
    if len(uploads) > MOST_PHOTOS:
        raise QualityError("too_many_photos", _("At most {most} photos go with a signature.").format(most=MOST_PHOTOS))
    return [keep_photo(upload, upload.size or 0, tablet.now) for upload in uploads]


def position_of(request: HttpRequest) -> int:
    """The step that the screen showed; a form without one asks for a step that no shell has."""
    return small_number(request.POST.get("position", "")) or 0


def small_number(words: str) -> int | None:
    return int(words) if words.isdecimal() and len(words) < 6 else None
