"""The QR codes on travelers and cards, held against the worked example of their standard.

The symbol is read here bit by bit from its picture, after the placement rules of the standard, so that the library that
draws it is held to the published codewords and not to itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import segno

from tests.published.checks import Check

_ANNEX = "ISO/IEC 18004 (QR code), annex I, version 1-M of 01234567"
_SIZE = 21  # modules of a version 1 symbol
_MASKS: tuple[Callable[[int, int], bool], ...] = (
    lambda i, j: (i + j) % 2 == 0,
    lambda i, j: i % 2 == 0,
    lambda i, j: j % 3 == 0,
    lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0,
    lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2 == 0,
)


def _places() -> Iterator[tuple[int, int]]:
    """Row and column of every data module: pairs of columns from the right, up and down in turn."""
    upward = True
    for right in (20, 18, 16, 14, 12, 10, 8, 5, 3, 1):  # column 6 is the timing pattern
        rows = range(_SIZE - 1, -1, -1) if upward else range(_SIZE)
        for row in rows:
            for column in (right, right - 1):
                corner = (row < 9 and (column < 9 or column > 12)) or (row > 12 and column < 9)
                if not corner and row != 6:
                    yield row, column
        upward = not upward


def _codewords(text: str) -> list[int]:
    symbol = segno.make(text, version=1, error="m", micro=False, boost_error=False)
    mask = _MASKS[symbol.mask]
    bits = [symbol.matrix[row][column] ^ mask(row, column) for row, column in _places()]
    return [int("".join(str(int(bit)) for bit in bits[n : n + 8]), 2) for n in range(0, 208, 8)]


def _hex(codewords: list[int]) -> str:
    return " ".join(f"{codeword:02X}" for codeword in codewords)


CHECKS = [
    Check(
        "error-correction codewords of 01234567",
        _ANNEX,
        "A5 24 D4 C1 ED 36 C7 87 2C 55",
        lambda: _hex(_codewords("01234567")[16:]),
    ),
]
