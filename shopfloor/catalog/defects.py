"""The list of defects that a tablet offers: names, where they show and come from, what is usually decided."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from quality.models import Defect
from quality.rights import Right, has_right
from routing.models import StationKind
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.worded_forms import WordedForm, worded

_KINDS = worded(StationKind)


class DefectForm(WordedForm[Defect]):
    """A defect that was found stays on record; what is not wanted any more is taken out of use."""

    found_at = forms.MultipleChoiceField(
        label=gettext_lazy("Shows at"),
        choices=_KINDS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("At these stations it is offered; nowhere ticked: where no other defect is listed."),
    )
    caused_at = forms.MultipleChoiceField(
        label=gettext_lazy("Usually comes from"),
        choices=_KINDS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("Nowhere ticked: from outside, or not known."),
    )

    class Meta:
        model = Defect
        fields = ("code", "name", "found_at", "caused_at", "severity", "usual_disposition", "is_active")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("found_at", "caused_at"):
            if self.instance.pk:
                self.initial[name] = [kind.strip() for kind in getattr(self.instance, name).split(",")]

    def clean_code(self) -> str:
        code = str(self.cleaned_data["code"]).strip().upper()
        if Defect.objects.filter(code__iexact=code).exclude(pk=self.instance.pk).exists():
            taken = _("There is a defect {code} already; choose another code.")
            raise forms.ValidationError(taken.format(code=code))
        return code

    def clean_found_at(self) -> str:
        return ",".join(self.cleaned_data["found_at"])

    def clean_caused_at(self) -> str:
        return ",".join(self.cleaned_data["caused_at"])


@require_safe
@needs(Right.SEE_RECIPES)
def defect_list(request: HttpRequest) -> HttpResponse:
    labels = dict(_KINDS)

    def words(kinds: str) -> str:
        return ", ".join(str(labels.get(kind.strip(), kind)) for kind in kinds.split(",") if kind.strip())

    rows = [(defect, words(defect.found_at), words(defect.caused_at)) for defect in Defect.objects.order_by("code")]
    may_edit = has_right(signed_in(request), Right.EDIT_RECIPES)
    return render(request, "catalog/defects.html", {"rows": rows, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def new_defect(request: HttpRequest) -> HttpResponse:
    return _edit(request, Defect())


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def defect(request: HttpRequest, pk: int) -> HttpResponse:
    return _edit(request, get_object_or_404(Defect, pk=pk))


def _edit(request: HttpRequest, edited: Defect) -> HttpResponse:
    title = str(edited) if edited.pk else _("New defect")
    data = request.POST if request.method == "POST" else None
    form = DefectForm(data, instance=edited)
    if data is not None and form.is_valid():
        with writing():
            saved = form.save()
        messages.success(request, _("{defect} is saved.").format(defect=saved))
        return redirect("catalog:defects")
    context = {"form": form, "title": title}
    return render(request, "catalog/defect.html", context, status=200 if data is None else 422)
