"""Numbers that are typed at a tablet, with either decimal sign."""

from __future__ import annotations

from django.utils.translation import gettext as _

from routing.specs.errors import SpecError


def number_of(words: str, what: str) -> float:
    """The number that was typed for ``what``. Raises SpecError for what is none."""
    words = words.strip()
    try:
        return float(words.replace(",", "."))
    except ValueError as error:
        said = _("“{typed}” is no number; enter the {what}, for example 21.")
        raise SpecError("not_a_number", what, said.format(typed=words[:20], what=what)) from error
