"""How the core refuses impossible input, and how it warns about doubtful input."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.specs.sentences import gettext_noop

_OUT_OF_RANGE = gettext_noop("{label} is {value} {unit}; give a value from {low} to {high} {unit}.")
_NO_UNIT = gettext_noop("{label} is {value}; give a value from {low} to {high}.")


class SpecError(ValueError):
    """Input that no drum can be made from.

    ``code`` is stable and meant for programs, ``field`` names the input at fault, ``message`` is a sentence for the
    person who can put it right.
    """

    def __init__(self, code: str, field: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.field = field
        self.message = message

    def __reduce__(self) -> tuple[type[SpecError], tuple[str, str, str]]:
        return SpecError, (self.code, self.field, self.message)


@dataclass(frozen=True, slots=True)
class SpecWarning:
    """Something a supervisor should look at before the drum is made; it does not stop the computation."""

    code: str
    field: str
    message: str


def require_between(value: float, low: float, high: float, *, field: str, unit: str = "") -> float:
    """Return ``value`` when low ≤ value ≤ high, else raise ``SpecError('out_of_range')`` that names the range."""
    if not math.isfinite(value) or not low <= value <= high:
        label = field.rsplit(".", 1)[-1].replace("_", " ")
        given = {"label": label, "value": f"{value:g}", "low": f"{low:g}", "high": f"{high:g}"}
        said = _OUT_OF_RANGE.format(unit=unit, **given) if unit else _NO_UNIT.format(**given)
        raise SpecError("out_of_range", field, said)
    return value
