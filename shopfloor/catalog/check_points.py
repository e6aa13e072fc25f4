"""Check points: a change retires the old revision and adds the next, so that what was signed keeps its meaning."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from quality.models import CheckPoint
from quality.rights import Right, has_right
from routing.models import Station
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.catalog.forms import CheckPointForm


@require_safe
@needs(Right.SEE_RECIPES)
def check_list(request: HttpRequest) -> HttpResponse:
    points = CheckPoint.objects.filter(is_current=True).select_related("station")
    by_station: list[tuple[Station, list[CheckPoint]]] = []
    for point in points:
        if not by_station or by_station[-1][0] != point.station:
            by_station.append((point.station, []))
        by_station[-1][1].append(point)
    may_edit = has_right(signed_in(request), Right.EDIT_RECIPES)
    return render(request, "catalog/checks.html", {"stations": by_station, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def new_check(request: HttpRequest) -> HttpResponse:
    return _edit(request, None)


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def check(request: HttpRequest, code: str) -> HttpResponse:
    return _edit(request, get_object_or_404(CheckPoint, code=code, is_current=True))


def _edit(request: HttpRequest, current: CheckPoint | None) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    if data is not None and current is not None and "retire" in data:
        CheckPoint.objects.filter(pk=current.pk, is_current=True).update(is_current=False)
        messages.success(request, _("“{check}” is asked no more. What was signed with it stays.").format(check=current))
        return redirect("catalog:checks")
    # Bound to a new row: the old revision must stay as it was signed.
    initial: dict[str, Any] | None = (
        None if current is None else {name: getattr(current, name) for name in CheckPointForm.Meta.fields}
    )
    if current is not None and initial is not None:
        initial["station"] = current.station_id
    form = CheckPointForm(data, instance=CheckPoint(), initial=initial)
    if data is not None and form.is_valid():
        saved = _save_revision(form, current)
        if saved is not None:
            asked = _("“{check}” is asked from now on (revision {revision}).")
            messages.success(request, asked.format(check=saved, revision=saved.revision))
            return redirect("catalog:checks")
        form.add_error(None, _("Somebody changed this check meanwhile. Open it again."))
    return render(
        request, "catalog/check.html", {"form": form, "current": current}, status=422 if data is not None else 200
    )


def _save_revision(form: CheckPointForm, current: CheckPoint | None) -> CheckPoint | None:
    with writing():
        point = form.save(commit=False)
        if current is None:
            base = slugify(f"{point.station.code}-{point.text}")[:34].rstrip("-")
            taken = CheckPoint.objects.filter(code__startswith=base).values_list("code", flat=True)
            point.code = base if base not in taken else f"{base}-{len(set(taken)) + 1}"
        else:
            if CheckPoint.objects.filter(pk=current.pk, is_current=True).update(is_current=False) != 1:
                return None
            point.code, point.revision = current.code, current.revision + 1
        point.save()
    return point
