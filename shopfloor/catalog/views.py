"""The recipe book: one list and one form for every kind of recipe."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Model
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from quality.models import CheckPoint, Defect
from quality.rights import Right, has_right
from routing.kits import drum_name
from routing.languages import numeral
from routing.models import DrumModel, RouteTemplate
from routing.recipe_check import unmakeable_models
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.catalog.forms import recipe_form, rows_formset
from shopfloor.catalog.recipes import RECIPES, Recipe

SEES_RECIPES = needs(Right.SEE_RECIPES)
EDITS_RECIPES = needs(Right.EDIT_RECIPES)


@require_safe
@SEES_RECIPES
def index(request: HttpRequest) -> HttpResponse:
    kinds = [(recipe, recipe.model._default_manager.count()) for recipe in RECIPES.values()]
    return render(
        request,
        "catalog/index.html",
        {
            "kinds": kinds,
            "routes": RouteTemplate.objects.filter(is_current=True).count(),
            "checks": CheckPoint.objects.filter(is_current=True).count(),
            "defects": Defect.objects.filter(is_active=True).count(),
        },
    )


@require_safe
@SEES_RECIPES
def recipe_list(request: HttpRequest, kind: str) -> HttpResponse:
    recipe = _kind(kind)
    rows = [
        {"item": item, "cells": [_cell(item, attribute) for heading, attribute in recipe.columns]}
        for item in recipe.queryset()
    ]
    may_edit = has_right(signed_in(request), Right.EDIT_RECIPES)
    return render(request, "catalog/list.html", {"recipe": recipe, "rows": rows, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@EDITS_RECIPES
def new_recipe(request: HttpRequest, kind: str) -> HttpResponse:
    recipe = _kind(kind)
    return _edit(request, recipe, recipe.model())


@require_http_methods(["GET", "POST"])
@EDITS_RECIPES
def recipe(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    recipe = _kind(kind)
    return _edit(request, recipe, get_object_or_404(recipe.queryset(), pk=pk))


class _NoLongerMakeable(Exception):
    """Rolls a change back that would leave drums that can't be made."""


def _edit(request: HttpRequest, recipe: Recipe, item: Model) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = recipe_form(recipe)(data, instance=item)
    tables = [
        (rows, rows_formset(recipe, rows)(data, instance=item, prefix=f"rows{n}")) for n, rows in enumerate(recipe.rows)
    ]
    # All are asked, so that every error shows at once.
    valid_rows = data is not None and min([formset.is_valid() for rows, formset in tables], default=True)
    if data is not None and form.is_valid() & valid_rows:
        try:
            _save(form, [formset for rows, formset in tables])
        except _NoLongerMakeable as error:
            form.add_error(None, str(error))
        else:
            saved = _("“{recipe}” is saved. Drums released before keep the spec they were released with.")
            messages.success(request, saved.format(recipe=_named(item)))
            return redirect("catalog:list", kind=recipe.slug)
    return render(
        request,
        "catalog/recipe.html",
        {"recipe": recipe, "item": item, "name": _named(item) if item.pk else "", "form": form, "tables": tables},
        status=422 if data is not None else 200,
    )


def _save(form: Any, formsets: list[Any]) -> None:
    """Save a recipe and its rows, unless a drum in the book could no longer be made."""
    with writing():
        before = unmakeable_models()
        saved = form.save()
        for formset in formsets:
            formset.instance = saved
            formset.save()
        broken = {pk: reason for pk, reason in unmakeable_models().items() if before.get(pk) != reason}
        if broken:
            raise _NoLongerMakeable(_not_saved(list(broken.values())))


def _not_saved(reasons: list[str]) -> str:
    first, more = " ".join(reasons[:3]), len(reasons) - 3
    said = _("Not saved, because it could not be made any more: {reasons}").format(reasons=first)
    return f"{said} {ngettext('And {more} more.', 'And {more} more.', more).format(more=more)}" if more > 0 else said


def _kind(kind: str) -> Recipe:
    if kind not in RECIPES:
        raise Http404(_("There is no kind of recipe called {kind}.").format(kind=kind))
    return RECIPES[kind]


def _named(item: Model) -> str:
    return drum_name(item) if isinstance(item, DrumModel) else str(item)


def _cell(item: Model, attribute: str) -> str:
    value = _named(item) if attribute == "__str__" else getattr(item, attribute)
    value = value() if callable(value) else value
    if isinstance(value, float):
        return numeral(value)
    if value is None:
        return ""
    # Words that the tables keep in English; everything else is what the shop wrote.
    return _(str(value)) if attribute.endswith("_display") else str(value)
