"""Forms made from the tables, whose labels, helps and choices are English: a form asks for them in the language that is
spoken. ``field_words.py`` of the recipe book names them for the catalogues.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, TypeVar

from django import forms
from django.db.models import Choices, Model
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from routing.kits import drum_name
from routing.models import DrumModel

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

M = TypeVar("M", bound=Model)


def worded(choices: Iterable[Choices]) -> list[tuple[Any, _StrOrPromise]]:
    """Choices of the tables for a form; each is said in the language that is spoken when the form is shown."""
    return [(each.value, gettext_lazy(str(each.label))) for each in choices]


class DrumField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A choice among drum models, each by its name in the language that is spoken."""

    def label_from_instance(self, obj: DrumModel) -> str:
        return drum_name(obj)


class WordedForm(forms.ModelForm[M]):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            # What is asked for later, as in a form of its own words, is no plain text and stays as it is.
            if isinstance(field.label, str) and field.label:
                field.label = _(field.label)
            if isinstance(field.help_text, str) and field.help_text:
                field.help_text = _(field.help_text)
            if isinstance(field, forms.TypedChoiceField):
                choices: Any = field.choices
                field.choices = [(value, _(str(label))) for value, label in choices]
