"""What is done about a request: changed, picked, sent, answered, opened again, forgotten."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from quality.errors import QualityError
from quality.request_facts import as_built_parts
from quality.requests import (
    answer_request,
    as_seen,
    change_request,
    forget_customer,
    pick_request,
    reopen_request,
    send_request,
)
from quality.stock import below_zero
from routing.errors import LostRace, RoutingError
from shopfloor.access import signed_in
from shopfloor.refusals import status_of
from shopfloor.requests.forms import ChangeForm, CloseForm, ReopenForm
from shopfloor.requests.page import ANSWERS, marked, page_of, the_request
from shopfloor.stamps import office_stamp


@require_POST
@ANSWERS
def change(request: HttpRequest, number: str) -> HttpResponse:
    asked, who = the_request(number), signed_in(request)
    form = ChangeForm.of(asked, as_built_parts(asked.shell), request.POST)
    if form.is_valid():
        try:
            change_request(
                number=number,
                contact=form.cleaned_data["contact"],
                ship_to=form.cleaned_data["ship_to"],
                parts=form.parts,
                seen=form.cleaned_data["seen"],
                person=who,
                stamp=office_stamp(request, who),
            )
        except LostRace as lost:
            return page_of(request, the_request(number), error=lost.message, forms={"change": _again(form)}, status=409)
        except (RoutingError, QualityError) as refused:
            return _refused(request, number, refused, change=marked(form, refused))
        messages.success(request, _("{number} is changed.").format(number=number))
        return redirect("requests:request", number=number)
    return page_of(request, asked, forms={"change": form}, status=422)


@require_POST
@ANSWERS
def pick(request: HttpRequest, number: str) -> HttpResponse:
    the_request(number)
    who = signed_in(request)
    try:
        picked = pick_request(number=number, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused)
    said = _("The parts of {number} are picked. Hand them to the carrier, then say that they are sent.")
    messages.success(request, said.format(number=number))
    for sentence in below_zero(line.part_name for line in picked.lines.all()):
        messages.warning(request, sentence)
    return redirect("requests:request", number=number)


@require_POST
@ANSWERS
def send(request: HttpRequest, number: str) -> HttpResponse:
    return _close(request, number, send_request, _("{number} is sent."))


@require_POST
@ANSWERS
def answer(request: HttpRequest, number: str) -> HttpResponse:
    return _close(request, number, answer_request, _("{number} is answered."))


@require_POST
@ANSWERS
def reopen(request: HttpRequest, number: str) -> HttpResponse:
    asked, who = the_request(number), signed_in(request)
    form = ReopenForm(request.POST, asked=asked)
    if not form.is_valid():
        return page_of(request, asked, forms={"reopen": form}, status=422)
    try:
        reopen_request(number=number, **form.cleaned_data, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused, reopen=form)
    messages.success(request, _("{number} is open again.").format(number=number))
    return redirect("requests:request", number=number)


@require_POST
@ANSWERS
def forget(request: HttpRequest, number: str) -> HttpResponse:
    the_request(number)
    who = signed_in(request)
    try:
        forget_customer(number=number, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused)
    said = _("Who asked {number}, and where it went, is forgotten.")
    messages.success(request, said.format(number=number))
    return redirect("requests:request", number=number)


def _close(request: HttpRequest, number: str, action: Any, said: str) -> HttpResponse:
    asked, who, form = the_request(number), signed_in(request), CloseForm(request.POST)
    if not form.is_valid():
        return page_of(request, asked, forms={"close": form}, status=422)
    try:
        action(number=number, **form.said, person=who, stamp=office_stamp(request, who))
    except (RoutingError, QualityError) as refused:
        return _refused(request, number, refused, close=marked(form, refused))
    messages.success(request, said.format(number=number))
    return redirect("requests:list")


def _again(form: ChangeForm) -> ChangeForm:
    """What was typed, over the request as it is now: to save it once more means it."""
    asked = the_request(form.asked.number)
    data = {name: str(value) for name, value in form.data.items()} | {form.add_prefix("seen"): as_seen(asked)}
    return ChangeForm.of(asked, form.built, data)


def _refused(request: HttpRequest, number: str, refused: RoutingError | QualityError, **forms: Any) -> HttpResponse:
    """The page as it stands now, with what the person typed and why it was refused."""
    lost = isinstance(refused, LostRace)
    return page_of(
        request, the_request(number), error=refused.message, forms={} if lost else forms, status=status_of(refused)
    )
