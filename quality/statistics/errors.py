"""What can't be computed, with a sentence that says what is missing."""

from __future__ import annotations


class StatisticsError(ValueError):
    """``message`` is for people: “A chart needs two readings; there is one.”"""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message
