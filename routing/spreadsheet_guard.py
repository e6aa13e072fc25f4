"""Text that a spreadsheet would take for a formula gets an apostrophe in CSV, and loses it when it is read again."""

from __future__ import annotations

import re

# What a spreadsheet takes for a formula, behind any apostrophes of its own: so that taking one off gives back exactly
# what was there. Tab and return: some programs drop them and look at what follows.
_GUARDED = re.compile(r"'*[=+\-@\t\r]")
_GUARD = re.compile(r"'(?='*[=+\-@\t\r])")


def guarded(words: str) -> str:
    return f"'{words}" if _GUARDED.match(words) else words


def unguarded(cell: str) -> str:
    return _GUARD.sub("", cell, count=1) if _GUARD.match(cell) else cell
