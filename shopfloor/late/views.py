"""What was signed on paper while the tablets were down, entered by a supervisor, step after step of a shell."""

from __future__ import annotations

import secrets
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from quality.checks import checks_for
from quality.errors import QualityError
from quality.late_entry import earliest_on_paper, enter_late, late_entries
from quality.rights import Right
from routing.errors import LostRace, RoutingError
from routing.frozen import current_spec
from routing.models import Operation, OperationState, Shell
from routing.specs.errors import SpecError
from shopfloor.access import needs, signed_in, the_shell
from shopfloor.late.forms import MATERIAL, PaperForm, code_fields
from shopfloor.rings import ring_of
from shopfloor.stamps import office_stamp
from shopfloor.typed_serial import parts_of, serial_made_here

ENTERS_LATE = needs(Right.ENTER_LATE)
CHECK = "check-"


@require_safe
@ENTERS_LATE
def find(request: HttpRequest) -> HttpResponse:
    """A serial number typed, or the whole address read from a traveler by a scanner that types."""
    words = request.GET.get("q", "").strip()
    if not words:
        return render(request, "late/find.html", {"words": ""})
    typed, revision = parts_of(words)
    try:
        serial = serial_made_here(typed)
    except SpecError as error:
        return render(request, "late/find.html", {"words": words, "error": error.message}, status=422)
    paper = f"?{urlencode({'r': revision})}" if revision else ""
    return redirect(reverse("late:shell", args=[serial]) + paper)


@require_http_methods(["GET", "HEAD", "POST"])
@ENTERS_LATE
def shell(request: HttpRequest, serial: str) -> HttpResponse:
    """The next step of a shell as a form; once it is saved, the step after it."""
    drum = the_shell(serial)
    if request.method != "POST":
        return _page(request, drum, _next_step(drum))
    shown = request.POST.get("position", "")
    position = int(shown) if shown.isdecimal() and len(shown) < 5 else 0
    who, operation = signed_in(request), _next_step(drum)
    form = _form(request, drum, operation, sent=True)
    if not form.is_valid():
        return _page(request, drum, operation, form=form, status=422)
    try:
        entered = enter_late(
            serial=drum.serial,
            position=position,
            signed_by=form.signer,
            entered_by=who,
            on_paper_at=form.cleaned_data["on_paper_at"],
            answers=_answers(request),
            materials=_materials(request),
            note=form.cleaned_data["note"],
            stamp=office_stamp(request, who),
        )
    except LostRace as lost:
        drum.refresh_from_db()
        return _page(request, drum, _next_step(drum), error=lost.message, status=409)
    except (RoutingError, QualityError, SpecError) as refused:
        return _page(request, drum, operation, form=form, error=refused.message, status=422)
    signed, said = entered.sign_off, _("{step} of {serial} is entered for {name}.")
    messages.success(request, said.format(step=signed.operation.title, serial=drum.serial, name=signed.person.name))
    return redirect("late:shell", serial=drum.serial)


def _page(
    request: HttpRequest,
    drum: Shell,
    operation: Operation | None,
    *,
    form: PaperForm | None = None,
    error: str = "",
    status: int = 200,
) -> HttpResponse:
    """The shell's next step. With ``form`` what was typed stands there again; without one the page is fresh."""
    now = timezone.now()
    spec = current_spec(drum)
    can_be_entered = operation is not None and operation.state != OperationState.ON_HOLD
    earliest = earliest_on_paper(drum, operation) if operation is not None else None
    paper = request.GET.get("r", "")
    ring = ring_of(drum, now)
    context = {
        "drum": drum,
        "ring": ring,
        "operation": operation,
        "steps": len(ring),
        "entered": late_entries(drum),
        "earliest": earliest,
        "is_held": operation is not None and not can_be_entered,
        "is_waiting": can_be_entered and earliest is not None and earliest.at > now,
        "form": form or _form(request, drum, operation),
        "checks": checks_for(operation, drum, spec.results) if operation is not None else [],
        "materials": code_fields(operation, spec, now, request.POST if form else None) if operation is not None else (),
        "typed": request.POST if form else {},
        "tap_key": secrets.token_urlsafe(16),
        "paper_is_old": paper.isdecimal() and int(paper) < drum.spec_revision,
        "error": error,
    }
    return render(request, "late/shell.html", context, status=status)


def _form(request: HttpRequest, drum: Shell, operation: Operation | None, *, sent: bool = False) -> PaperForm:
    return PaperForm(
        request.POST if sent else None,
        station=operation.station if operation is not None else None,
        earliest=earliest_on_paper(drum, operation).at if operation is not None else None,
        now=timezone.now(),
    )


def _next_step(drum: Shell) -> Operation | None:
    return drum.operations.current().select_related("station").first()


def _answers(request: HttpRequest) -> dict[str, str]:
    """Check point id → what was entered; several readings with spaces between."""
    names = [name for name in request.POST if name.startswith(CHECK)]
    return {name.removeprefix(CHECK): " ".join(request.POST.getlist(name)) for name in names}


def _materials(request: HttpRequest) -> dict[str, str]:
    """Key of a material → the codes as they were typed."""
    names = [name for name in request.POST if name.startswith(MATERIAL)]
    return {name.removeprefix(MATERIAL): request.POST.get(name, "") for name in names}
