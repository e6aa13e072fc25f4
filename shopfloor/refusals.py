"""How a screen answers what an action refused."""

from __future__ import annotations

from quality.errors import NotQualified
from routing.errors import LostRace


def status_of(refused: Exception) -> int:
    """409 when somebody else was first, 422 for what the person can correct."""
    return 409 if isinstance(refused, LostRace) else 422


def status_with_rights(refused: Exception) -> int:
    """As ``status_of``; 403 where the person may not do this at all."""
    return 403 if isinstance(refused, NotQualified) else status_of(refused)
