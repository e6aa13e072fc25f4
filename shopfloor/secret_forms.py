"""What nobody sees while it is typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quality.models import Person

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


class TypedTwice(forms.Form):
    """Something secret, typed twice because nobody sees it while typing."""

    secret_fields = ("", "")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, again = self.secret_fields
        if first in cleaned and again in cleaned and cleaned[first] != cleaned[again]:
            self.add_error(again, _("The two are not the same; type both again."))
        return cleaned


def secret(label: _StrOrPromise, help_text: _StrOrPromise = "", **attributes: str) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password", **attributes})
    return forms.CharField(label=label, help_text=help_text, strip=False, widget=widget)


class PasswordForm(TypedTwice):
    secret_fields = ("password", "password_again")
    password = secret(
        gettext_lazy("New password"),
        gettext_lazy("At least 10 characters; a few words in a row are easy to keep in mind."),
    )
    password_again = secret(gettext_lazy("The same again"))

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password, self.person)
        return password
