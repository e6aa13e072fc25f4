"""A companion to an old drum: from its kept recipe to a draft order."""

from __future__ import annotations

import secrets
from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from quality.companions import draft_companion, old_drum
from quality.errors import QualityError
from quality.rights import Right, has_right
from routing.errors import RoutingError
from routing.models import DrumModel
from shopfloor.access import needs, signed_in
from shopfloor.refusals import status_of
from shopfloor.requests.forms import CompanionForm
from shopfloor.requests.page import the_request
from shopfloor.stamps import office_stamp

USUAL_WEEKS = 8  # a date to change, not a promise


@require_http_methods(["GET", "POST"])
@needs(Right.ANSWER_REQUESTS)
def companion(request: HttpRequest, number: str) -> HttpResponse:
    asked, who = the_request(number), signed_in(request)
    old, status, error = old_drum(asked.shell), 200, ""
    usual = {
        "model": asked.shell.model_id,
        "due": timezone.localdate() + timedelta(weeks=USUAL_WEEKS),
        "customer": asked.shell.order.customer,
    }
    form = CompanionForm(request.POST if request.method == "POST" else None, initial=usual)
    own = DrumModel.objects.select_related("line").filter(pk__in=[model.pk for model in old.sizes])
    form.fields["model"].queryset = own  # type: ignore[attr-defined]
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                order = draft_companion(
                    number=number, **form.cleaned_data, person=who, stamp=office_stamp(request, who)
                )
            except (RoutingError, QualityError) as refused:
                error, status = refused.message, status_of(refused)
                asked = the_request(number)
            else:
                said = _("Order {number} is drafted. Look it over; a supervisor releases it.")
                messages.success(request, said.format(number=order.number))
                return redirect("orders:order", number=order.number)
    context = {
        "asked": asked,
        "shell": asked.shell,
        "old": old,
        "form": form,
        "error": error,
        "may_draft": has_right(who, Right.EDIT_ORDERS),
        "tap_key": secrets.token_urlsafe(16),
    }
    return render(request, "requests/companion.html", context, status=status)
