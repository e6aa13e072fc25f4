"""Material lots and glue batches in the office: receive, open, empty, hold, and which drums have them inside."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import QualityError
from quality.lot_hold import hold_lot
from quality.lots import receive_lot, set_lot_state
from quality.made_here import lots_with
from quality.models import GlueBatch, LotKind, LotSignOff, LotState, MadeLot, MaterialLot, MaterialUse
from quality.rights import Right
from quality.shelf_lots import on_shelf
from routing.errors import RoutingError
from shopfloor.access import needs, signed_in
from shopfloor.materials.forms import LotFilter, LotForm, recipe_names
from shopfloor.refusals import status_of
from shopfloor.stamps import office_stamp

MANAGES = needs(Right.MANAGE_MATERIALS)
BATCHES_SHOWN = timedelta(days=30)
ON_A_PAGE = 100


@require_safe
@MANAGES
def lots(request: HttpRequest) -> HttpResponse:
    """Every lot, newest delivery first, narrowed by kind and state."""
    form = LotFilter(request.GET)
    asked = form.cleaned_data if form.is_valid() else {}
    found = MaterialLot.objects.annotate(shells=Count("uses__sign_off__operation__shell", distinct=True))
    for field in ("kind", "state"):
        if asked.get(field):
            found = found.filter(**{field: asked[field]})
    page = Paginator(found.order_by("-received_on", "code"), ON_A_PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "is_narrowed": any(asked.values()), "today": timezone.localdate()}
    return render(request, "materials/list.html", context)


@require_http_methods(["GET", "POST"])
@MANAGES
def new_lot(request: HttpRequest) -> HttpResponse:
    form = LotForm(request.POST if request.method == "POST" else None, initial={"received_on": timezone.localdate()})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            who = signed_in(request)
            said = form.cleaned_data
            try:
                received = receive_lot(
                    **said | {"kind": LotKind(said["kind"])}, person=who, stamp=office_stamp(request, who)
                )
            except (RoutingError, QualityError) as refused:
                form.add_error("code" if refused.code in ("code_taken", "bad_code") else None, refused.message)
                status = status_of(refused)
            else:
                messages.success(request, _("{lot} is received.").format(lot=received))
                return redirect("materials:lot", received.pk)
    context = {"form": form, "names": recipe_names(), "tap_key": secrets.token_urlsafe(16)}
    return render(request, "materials/new.html", context, status=status)


@require_safe
@MANAGES
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    return _lot_page(request, get_object_or_404(MaterialLot, pk=pk))


@require_POST
@MANAGES
def state(request: HttpRequest, pk: int) -> HttpResponse:
    changed, who = get_object_or_404(MaterialLot, pk=pk), signed_in(request)
    try:
        if request.POST.get("state") not in LotState:
            raise QualityError("state", _("Choose what the lot is from now on."))
        if request.POST["state"] == LotState.HELD:  # and with it every shell that it is in
            reason = request.POST.get("reason", "")
            held = hold_lot(lot=changed, reason=reason, person=who, stamp=office_stamp(request, who))
            said = _("{lot} is on hold, and with it the drums it is in.")
            messages.success(request, said.format(lot=changed.code))
            return redirect("materials:hold", held.pk)
        now = set_lot_state(
            lot=changed,
            state=LotState(request.POST["state"]),
            reason=request.POST.get("reason", ""),
            person=who,
            stamp=office_stamp(request, who),
        )
    except (RoutingError, QualityError) as refused:
        changed.refresh_from_db()
        return _lot_page(request, changed, error=refused.message, status=status_of(refused))
    said = _("{lot} is marked “{state}”.")
    messages.success(request, said.format(lot=now.code, state=_(now.get_state_display())))
    return redirect("materials:lot", pk)


@require_safe
@MANAGES
def batches(request: HttpRequest) -> HttpResponse:
    """The glue batches of the last 30 days."""
    now = timezone.now()
    found = (
        GlueBatch.objects.filter(mixed_at__gte=now - BATCHES_SHOWN)
        .select_related("glue", "mixed_by")
        .annotate(shells=Count("uses__sign_off__operation__shell", distinct=True))
        .order_by("-mixed_at", "-pk")
    )
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "materials/batches.html", {"page": page, "now": now, "days": BATCHES_SHOWN.days})


@require_safe
@MANAGES
def batch(request: HttpRequest, pk: int) -> HttpResponse:
    mixed = get_object_or_404(GlueBatch.objects.select_related("glue", "mixed_by"), pk=pk)
    context = {
        "batch": mixed,
        "holds": mixed.holds.all(),
        "tap_key": secrets.token_urlsafe(16),
        "parts": mixed.parts.select_related("lot"),
        "page": Paginator(_uses(Q(glue_batch=mixed)), ON_A_PAGE).get_page(request.GET.get("page")),
        "now": timezone.now(),
    }
    return render(request, "materials/batch.html", context)


def _lot_page(request: HttpRequest, shown: MaterialLot, *, error: str = "", status: int = 200) -> HttpResponse:
    inside = lots_with(shown)
    uses = _uses(Q(lot__in=[shown.pk, *inside]) | Q(glue_batch__in=shown.in_batches.values("batch")))
    context = {
        "lot": shown,
        "states": [
            (value, label)
            for value, label in LotState.choices
            if value not in (shown.state, LotState.RECEIVED, LotState.MAKING)
        ],
        "made": MadeLot.objects.filter(lot=shown).select_related("route", "begun_by").first(),
        "made_steps": LotSignOff.objects.filter(made__lot=shown)
        .select_related("step__station")
        .prefetch_related("components__lot")
        .order_by("pk"),
        "goes_into": MaterialLot.objects.filter(pk__in=inside),
        "on_shelf": on_shelf(shown),
        "holds": shown.holds.all(),
        "is_held": shown.state == LotState.HELD,
        "changes": shown.changes.order_by("-pk"),
        "batches": GlueBatch.objects.filter(parts__lot=shown).select_related("glue", "mixed_by"),
        "page": Paginator(uses, ON_A_PAGE).get_page(request.GET.get("page")),
        "today": timezone.localdate(),
        "tap_key": secrets.token_urlsafe(16),
        "error": error,
        "typed": request.POST,
    }
    return render(request, "materials/lot.html", context, status=status)


def _uses(which: Q) -> QuerySet[MaterialUse]:
    """The signed steps that used something, newest first; those that were withdrawn too, for the wood was used."""
    return (
        MaterialUse.objects.filter(which)
        .select_related(
            "sign_off__operation__shell__order",
            "sign_off__operation__shell__model__line",
            "sign_off__operation__shell__finish",
            "sign_off__record",
            "sign_off__withdrawal",
            "sign_off__voiding",
            "glue_batch",
        )
        .order_by("-pk")
    )
