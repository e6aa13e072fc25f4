"""Parts on the shelf of the demo shop, all invented: plenty of most, few of some, and one that nobody counted."""

from __future__ import annotations

PLENTY = 400
REORDER_AT = 40
FEW = {
    "strainer": 1,
    "butt plate": 2,
    "tom bracket": 0,
    "batter head, coated": 1,
    "rod washer, nylon": 60,
    "claw": 12,
}
NOT_COUNTED = {"memory lock"}


def place_of(name: str) -> str:
    """A drawer by the first letter of the part."""
    return f"Drawer {name[0].upper()}"
