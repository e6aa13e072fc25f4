"""What is this drum, what went into it, who signed what: by serial, order, customer's reference or person."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quality.actions import withdraw_sign_off
from quality.errors import QualityError
from quality.models import Person, Problem, ProblemState
from quality.problems import settle_problem
from quality.rights import Right, has_right
from quality.trace import find_shells, signed_by, story_of
from routing.errors import RoutingError
from routing.languages import for_the_record
from routing.models import Operation, Shell, Shop
from routing.reissue import current_inputs, reissue_spec
from routing.rework import regrade_choices, rework_places
from routing.specs.check_character import is_valid
from routing.specs.errors import SpecError
from shopfloor.access import needs, signed_in, the_shell
from shopfloor.paper import PaperError, pdf_from_template
from shopfloor.photos import photo_response
from shopfloor.refusals import status_of
from shopfloor.rings import ring_of, ring_picture, ring_states, rings_of
from shopfloor.stamps import office_stamp
from shopfloor.typed_serial import clean_serial

SEES_TRACE = needs(Right.SEE_TRACE)


@require_safe
@SEES_TRACE
def search(request: HttpRequest) -> HttpResponse:
    """A serial number goes straight to its drum; other words list drums and people; a mistyped serial is said to be one."""
    words = request.GET.get("q", "").strip()
    if not words:
        return render(request, "trace/search.html", {"words": "", "people": Person.objects.order_by("name")})
    clean = "".join(words.split()).replace("-", "").upper()
    if is_valid(clean) and Shell.objects.filter(serial=clean).exists():
        return redirect("trace:shell", serial=clean)
    page = Paginator(find_shells(words), 50).get_page(request.GET.get("page"))
    people = Person.objects.filter(name__icontains=words).order_by("name")
    rings = rings_of(page.object_list, timezone.now())
    return render(
        request,
        "trace/search.html",
        {
            "words": words,
            "page": page,
            "drums": [(drum, rings[drum.pk]) for drum in page.object_list],
            "people": people,
            "mistyped": _why_not_a_serial(words) if not page.object_list else "",
        },
    )


@require_safe
@SEES_TRACE
def person(request: HttpRequest, pk: int) -> HttpResponse:
    who = get_object_or_404(Person, pk=pk)
    page = Paginator(signed_by(who), 50).get_page(request.GET.get("page"))
    return render(request, "trace/person.html", {"person": who, "page": page})


@require_safe
@SEES_TRACE
def shell(request: HttpRequest, serial: str) -> HttpResponse:
    return story_page(request, the_shell(serial))


@require_safe
@SEES_TRACE
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    return photo_response(pk)


@require_safe
@SEES_TRACE
def shell_json(request: HttpRequest, serial: str) -> HttpResponse:
    drum = the_shell(serial)
    with for_the_record():
        story = story_of(drum)
    return JsonResponse(story.as_json(), json_dumps_params={"indent": 2, "ensure_ascii": False})


@require_safe
@SEES_TRACE
def shell_pdf(request: HttpRequest, serial: str) -> HttpResponse:
    drum, now = the_shell(serial), timezone.now()
    context = {"story": story_of(drum), "shop": Shop.current(), "printed_at": now}
    context |= {"ring": ring_picture(ring_of(drum, now))}
    try:
        pdf = pdf_from_template("trace/story_paper.html", context, css="story.css")
    except PaperError as error:
        return story_page(request, drum, error=str(error), status=422)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="story-{drum.serial}.pdf"'
    return response


@require_POST
@needs(Right.SETTLE_PROBLEM)
def settle(request: HttpRequest, serial: str) -> HttpResponse:
    """Release a drum from hold."""
    drum, who = the_shell(serial), signed_in(request)
    try:
        settle_problem(
            serial=drum.serial,
            person=who,
            settlement=request.POST.get("settlement", ""),
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError) as error:
        return refused(request, drum, error)
    messages.success(request, _("{serial} is released from hold.").format(serial=drum.serial))
    return redirect("trace:shell", serial=drum.serial)


@require_POST
@needs(Right.WITHDRAW_ANY)
def withdraw(request: HttpRequest, serial: str, position: int) -> HttpResponse:
    """Take back the signature under a step, with a reason."""
    drum, who = the_shell(serial), signed_in(request)
    reason = request.POST.get("reason", "")
    try:
        taken_back = withdraw_sign_off(
            serial=drum.serial, position=position, person=who, reason=reason, stamp=office_stamp(request, who)
        )
    except (RoutingError, QualityError) as error:
        return refused(request, drum, error)
    said = _("The signature of {name} is withdrawn; both records stay.")
    messages.success(request, said.format(name=taken_back.sign_off.person.name))
    return redirect("trace:shell", serial=drum.serial)


@require_POST
@needs(Right.RELEASE_ORDERS)
def reissue(request: HttpRequest, serial: str) -> HttpResponse:
    """Issue a drum's spec again from the recipes as they stand now, as a new revision with a reason."""
    drum, who = the_shell(serial), signed_in(request)
    try:
        spec = reissue_spec(
            serial=drum.serial,
            inputs=current_inputs(drum),
            reason=request.POST.get("why", ""),
            stamp=office_stamp(request, who),
        )
    except (RoutingError, SpecError) as error:
        return refused(request, drum, error)
    said = _("{serial} has spec revision {revision} now; print its traveler again.")
    messages.success(request, said.format(serial=drum.serial, revision=spec.revision))
    return redirect("trace:shell", serial=drum.serial)


def refused(request: HttpRequest, drum: Shell, error: RoutingError | QualityError | SpecError) -> HttpResponse:
    drum.refresh_from_db()
    return story_page(request, drum, error=error.message, status=status_of(error))


def story_page(request: HttpRequest, drum: Shell, *, error: str = "", status: int = 200) -> HttpResponse:
    operations = list(Operation.objects.filter(shell=drum).select_related("station").order_by("position"))
    who = signed_in(request)
    now = timezone.now()
    problem = (
        Problem.objects.filter(shell=drum, state=ProblemState.OPEN)
        .select_related("found_by", "defect", "operation")
        .first()
    )
    may_settle = has_right(who, Right.SETTLE_PROBLEM)
    return render(
        request,
        "trace/shell.html",
        {
            "story": story_of(drum),
            "drum": drum,
            "ring": ring_states(operations, now),
            "problem": problem,
            "may_settle": may_settle,
            "places": rework_places(drum) if problem and may_settle else (),
            "others": [(f"{model.pk}-{finish.pk}", f"{model}, {finish}") for model, finish in regrade_choices(drum)]
            if problem and may_settle
            else [],
            "tap_key": secrets.token_urlsafe(16),
            "may_withdraw": has_right(who, Right.WITHDRAW_ANY),
            "may_reissue": has_right(who, Right.RELEASE_ORDERS) and drum.state not in ("packed", "scrapped", "remade"),
            "may_see_materials": has_right(who, Right.MANAGE_MATERIALS),
            "may_enter_late": has_right(who, Right.ENTER_LATE) and drum.state not in ("packed", "scrapped", "remade"),
            "may_answer": has_right(who, Right.ANSWER_REQUESTS),
            "may_print": has_right(who, Right.PRINT_TRAVELERS),
            "may_print_card": has_right(who, Right.PRINT_CARDS),
            "error": error,
            "typed": {
                "settlement": request.POST.get("settlement", ""),
                "reason": request.POST.get("reason", ""),
                "why": request.POST.get("why", ""),
                "decision": request.POST.get("decision", ""),
                "decided_why": request.POST.get("decided_why", ""),
                "allowed_by": request.POST.get("allowed_by", ""),
                "position": request.POST.get("position", ""),
                "other": request.POST.get("other", ""),
            },
        },
        status=status,
    )


def _why_not_a_serial(words: str) -> str:
    """What to say when ``words`` look like a serial number but are none."""
    looks_like_one = any(c.isdigit() for c in words) and 9 <= len("".join(words.split()).replace("-", "")) <= 16
    if not looks_like_one:
        return ""
    try:
        clean = clean_serial(words)
    except SpecError as error:
        return error.message
    return _("{serial} is a well-formed serial number, but no drum with it was made here.").format(serial=clean)
