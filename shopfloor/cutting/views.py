"""The cutting plan: which blanks come out of which sheet, for the orders that are not cut yet."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from quality.rights import Right
from routing.cutting_orders import orders_to_cut, plan_cut, shells_to_cut
from routing.drawings.cutting_sheet import cutting_sheet_svg
from routing.specs.errors import SpecError
from shopfloor.access import needs

SECONDS_FOR_EACH_SHEET_KIND = 5.0


@require_safe
@needs(Right.SEE_ORDERS)
def cutting_plan(request: HttpRequest) -> HttpResponse:
    chosen = request.GET.getlist("order")
    context: dict[str, object] = {"orders": orders_to_cut(), "chosen": chosen}
    if chosen:
        shells = shells_to_cut(orders=chosen)
        try:
            plans = plan_cut(shells, time_limit_s=SECONDS_FOR_EACH_SHEET_KIND)
        except SpecError as error:
            return render(request, "cutting/plan.html", context | {"error": error.message}, status=422)
        context |= {
            "shells": shells,
            "plans": [
                {"plan": plan, "sheets": [(layout, cutting_sheet_svg(plan.stock, layout)) for layout in plan.sheets]}
                for plan in plans
            ],
        }
    return render(request, "cutting/plan.html", context)
