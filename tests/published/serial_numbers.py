"""Check characters of serial numbers, held against published examples of ISO 7064 MOD 37-2."""

from __future__ import annotations

from routing.specs.check_character import ALPHABET, check_character, is_valid
from tests.published.checks import Check, Mark


def _undetected_substitutions(serial: str) -> float:
    return float(
        sum(
            is_valid(serial[:place] + other + serial[place + 1 :])
            for place in range(len(serial) - 1)
            for other in ALPHABET[:-1]
            if other != serial[place]
        )
    )


def _undetected_swaps(serial: str) -> float:
    swapped = [serial[:i] + serial[i + 1] + serial[i] + serial[i + 2 :] for i in range(len(serial) - 2)]
    return float(sum(is_valid(other) for other in swapped if other != serial))


CHECKS = [
    Check(
        "check character of G123489654321",
        "ISO 7064 MOD 37-2, published example",
        "Y",
        lambda: check_character("G123489654321"),
    ),
    Check(
        "check character of G123498654321",
        "UK blood services' guidelines, annex on ISBT 128 check characters",
        "H",
        lambda: check_character("G123498654321"),
        trap="Y",  # that of the number with 9 and 8 swapped
    ),
    Check(
        "single wrong characters that go unnoticed",
        "ISO 7064, property of a pure system with a prime modulus",
        0.0,
        lambda: _undetected_substitutions("G123498654321H"),
        mark=Mark.COMPUTED,
    ),
    Check(
        "swaps of neighbours that go unnoticed",
        "ISO 7064, property of a pure system with a prime modulus",
        0.0,
        lambda: _undetected_swaps("G123498654321H"),
        mark=Mark.COMPUTED,
    ),
]
