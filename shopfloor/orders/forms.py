"""Entering a kit order by hand."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import F
from django.forms import BaseInlineFormSet, inlineformset_factory
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from routing.models import DrumModel, Finish, KitLine, KitOrder
from routing.promise import Wanted
from shopfloor.day_range import DayField
from shopfloor.worded_forms import DrumField, WordedForm


class OrderForm(WordedForm[KitOrder]):
    class Meta:
        model = KitOrder
        fields = ("number", "customer", "customer_reference", "due", "note")
        field_classes = {"due": DayField}
        widgets = {"due": DayField().widget}
        error_messages = {
            "number": {"unique": gettext_lazy("There is an order with this number already; choose another.")}
        }


class LineForm(WordedForm[KitLine]):
    class Meta:
        model = KitLine
        fields = ("model", "finish", "quantity", "note")
        field_classes = {"model": DrumField}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        models, finishes = self.fields["model"], self.fields["finish"]
        assert isinstance(models, forms.ModelChoiceField) and isinstance(finishes, forms.ModelChoiceField)
        models.queryset = DrumModel.objects.filter(is_active=True).select_related("line")
        models.label = _("drum")
        finishes.queryset = Finish.objects.filter(is_active=True)

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        model, finish = cleaned.get("model"), cleaned.get("finish")
        if model and finish and finish.kind != model.line.finish_kind:
            refused = _("{line} drums are finished with {kind}; “{finish}” is {other}.")
            kind, other = _(model.line.get_finish_kind_display()), _(finish.get_kind_display())
            self.add_error("finish", refused.format(line=model.line, kind=kind, finish=finish, other=other))
        return cleaned


class Lines(BaseInlineFormSet[KitLine, KitOrder, LineForm]):
    """The lines of an order, numbered in the order in which they stand."""

    def clean(self) -> None:
        super().clean()
        if any(self.errors):
            return
        kept = [form for form in self.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")]
        if not kept:
            raise forms.ValidationError(_("Add at least one drum to the order."))

    def wanted(self) -> list[Wanted]:
        """The drums as they stand in valid lines."""
        return [
            Wanted(form.cleaned_data["model"], form.cleaned_data["finish"], form.cleaned_data["quantity"])
            for form in self.forms
            if form.cleaned_data and not form.cleaned_data.get("DELETE")
        ]

    def save_numbered(self) -> None:
        """Save the lines with positions 1, 2, 3 …; called inside the transaction of the order."""
        for form in self.deleted_forms:
            if form.instance.pk:
                form.instance.delete()
        kept = [form for form in self.forms if form.cleaned_data and form not in self.deleted_forms]
        # Out of the way first: positions are unique within the order while the rows change places.
        KitLine.objects.filter(order=self.instance).update(position=F("position") + 1000)
        for position, form in enumerate(kept, start=1):
            form.instance.order = self.instance
            form.instance.position = position
            form.instance.save()


LineFormSet: type[Lines] = inlineformset_factory(  # type: ignore[assignment]
    KitOrder, KitLine, form=LineForm, formset=Lines, extra=5, can_delete=True, max_num=40, validate_max=True
)
