"""Files of the shop's lists for spreadsheets."""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from quality.rights import Right
from shopfloor.access import needs
from shopfloor.exports.content import (
    ORDERS_HEAD,
    SHELLS_HEAD,
    SIGNATURES_HEAD,
    order_rows,
    shell_rows,
    signature_rows,
)
from shopfloor.exports.forms import DaysForm
from shopfloor.tables import long_csv_file, long_xlsx_file

SEES_ORDERS = needs(Right.SEE_ORDERS)
WRITERS: dict[str, Callable[..., HttpResponseBase]] = {"csv": long_csv_file, "xlsx": long_xlsx_file}


@require_safe
@SEES_ORDERS
def page(request: HttpRequest) -> HttpResponseBase:
    form = DaysForm.read(request.GET.dict())
    return render(request, "exports/page.html", {"form": form}, status=200 if form.is_valid() else 422)


@require_safe
@SEES_ORDERS
def file(request: HttpRequest, what: str, kind: str) -> HttpResponseBase:
    if kind not in WRITERS:
        raise Http404(_("Lists come as csv or xlsx."))
    write = WRITERS[kind]
    if what == "orders":
        return write("orders", ORDERS_HEAD, order_rows())
    if what == "shells":
        return write("shells", SHELLS_HEAD, shell_rows(timezone.now()))
    if what != "signatures":
        raise Http404(_("There is no such list."))
    form = DaysForm.read(request.GET.dict())
    if not form.is_valid():
        return render(request, "exports/page.html", {"form": form}, status=422)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    return write(f"signatures-{first}-{last}", SIGNATURES_HEAD, signature_rows(first, last))
