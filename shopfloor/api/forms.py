"""What a key is called and what it opens."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from quality.api_keys import LONGEST_NAME
from quality.models import KeyOpens


class NameForm(forms.Form):
    name = forms.CharField(
        label=_("What it is for"),
        max_length=LONGEST_NAME,
        help_text=_("The program or person that uses it, for example “label printer” or “calendar in the office”."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class KeyForm(NameForm):
    opens = forms.ChoiceField(
        label=_("What it opens"),
        choices=[
            (KeyOpens.LISTS, _("Orders, shells, signatures and figures, for a program of the shop; to read only")),
            (KeyOpens.CALENDAR, _("The due dates of open orders, for a calendar")),
        ],
        initial=KeyOpens.LISTS,
        widget=forms.RadioSelect,
    )
