"""What a supervisor decides about a drum on hold, from its page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from quality.dispositions import regrade, rework, scrap, use_as_is
from quality.errors import QualityError
from quality.rights import Right
from routing.errors import RoutingError
from routing.models import DrumModel, Finish, Shell
from routing.rework import regrade_choices
from routing.specs.errors import SpecError
from shopfloor.access import needs, signed_in, the_shell
from shopfloor.stamps import office_stamp
from shopfloor.trace.views import refused

DECIDES = needs(Right.SETTLE_PROBLEM)


@require_POST
@DECIDES
def rework_it(request: HttpRequest, serial: str) -> HttpResponse:
    drum, who = the_shell(serial), signed_in(request)
    try:
        problem = rework(
            serial=drum.serial,
            position=_position(request),
            person=who,
            reason=_why(request),
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError) as error:
        return refused(request, drum, error)
    said = _("{serial} is sent back; its steps are signed again from there.")
    messages.success(request, said.format(serial=problem.shell.serial))
    return redirect("trace:shell", serial=drum.serial)


@require_POST
@DECIDES
def use_it_as_is(request: HttpRequest, serial: str) -> HttpResponse:
    drum, who = the_shell(serial), signed_in(request)
    try:
        problem = use_as_is(
            serial=drum.serial,
            person=who,
            allowed_by=request.POST.get("allowed_by", ""),
            reason=_why(request),
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError) as error:
        return refused(request, drum, error)
    said = _("{serial} goes on as it is, allowed by {name}.")
    messages.success(request, said.format(serial=drum.serial, name=problem.allowed_by))
    return redirect("trace:shell", serial=drum.serial)


@require_POST
@DECIDES
def regrade_it(request: HttpRequest, serial: str) -> HttpResponse:
    drum, who = the_shell(serial), signed_in(request)
    try:
        model, finish = _other(request, drum)
        spec = regrade(
            serial=drum.serial,
            model=model,
            finish=finish,
            person=who,
            reason=_why(request),
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError, SpecError) as error:
        return refused(request, drum, error)
    said = _("{serial} becomes {drum}, spec revision {revision}; print its traveler again.")
    messages.success(request, said.format(serial=drum.serial, drum=f"{model}, {finish}", revision=spec.revision))
    return redirect("trace:shell", serial=drum.serial)


@require_POST
@DECIDES
def scrap_it(request: HttpRequest, serial: str) -> HttpResponse:
    drum, who = the_shell(serial), signed_in(request)
    try:
        done = scrap(serial=drum.serial, person=who, reason=_why(request), stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as error:
        return refused(request, drum, error)
    said = _("{serial} is scrapped. {other} takes its place; print its traveler.")
    messages.success(request, said.format(serial=drum.serial, other=done.replacement.serial))
    return redirect("trace:shell", serial=done.replacement.serial)


def _why(request: HttpRequest) -> str:
    return request.POST.get("decided_why", "")


def _position(request: HttpRequest) -> int:
    word = request.POST.get("position", "")
    if not (word.isascii() and word.isdecimal() and len(word) < 4):
        raise QualityError("no_step", _("Pick the step from which the shell is worked again."))
    return int(word)


def _other(request: HttpRequest, drum: Shell) -> tuple[DrumModel, Finish]:
    word = request.POST.get("other", "")
    for model, finish in regrade_choices(drum):
        if word == f"{model.pk}-{finish.pk}":
            return model, finish
    raise QualityError("no_other_drum", _("Pick the model and finish that the shell becomes."))
