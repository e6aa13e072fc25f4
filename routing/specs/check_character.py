"""Check characters for serial numbers: ISO 7064 MOD 37-2.

Catches every single wrong character and every swap of two neighbours.
"""

from __future__ import annotations

from routing.specs.errors import SpecError
from routing.specs.sentences import gettext_noop

_EMPTY = gettext_noop("A serial number can't be empty.")
_NOTHING_TYPED = gettext_noop("Type or scan a serial number.")
_MISTYPED = gettext_noop(
    "{serial} is not a serial number of this shop: its last character does not fit the others. Read it again,"
    " character by character."
)
_BAD_CHARACTER = gettext_noop("“{character}” can't stand in a serial number; it has capital letters and digits.")

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_VALUES = {character: value for value, character in enumerate(ALPHABET)}


def _remainder(text: str) -> int:
    p = 0
    for character in text:
        if character not in _VALUES:
            raise SpecError(
                "bad_character",
                "serial",
                _BAD_CHARACTER.format(character=character),
            )
        p = (2 * p + _VALUES[character]) % 37
    return p


def check_character(body: str) -> str:
    """The character that makes ``body`` valid: value (1 − 2p) mod 37 (ISO/IEC 7064:2003, pure system MOD 37-2).

    ``body`` has digits and capital letters; the result may also be ``*``. Raises SpecError for other characters.
    """
    if not body:
        raise SpecError("empty", "serial", _EMPTY)
    return ALPHABET[(1 - 2 * _remainder(body)) % 37]


def is_valid(serial: str) -> bool:
    """Whether the last character of ``serial`` is the check character of the rest."""
    return len(serial) >= 2 and "*" not in serial[:-1] and all(c in _VALUES for c in serial) and _remainder(serial) == 1


def as_written(typed: str) -> str:
    """Blanks and dashes are dropped and small letters raised: that is how people write serials down."""
    return "".join(typed.split()).replace("-", "").upper()


def read_serial(typed: str) -> str:
    """A serial number as somebody typed or scanned it, made clean, or a SpecError that says what is wrong with it.

    What is wrong has the code ``empty`` or ``mistyped``.
    """
    serial = as_written(typed)
    if not serial:
        raise SpecError("empty", "serial", _NOTHING_TYPED)
    if not is_valid(serial):
        raise SpecError(
            "mistyped",
            "serial",
            _MISTYPED.format(serial=serial[:20]),
        )
    return serial
