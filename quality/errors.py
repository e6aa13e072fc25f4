"""How quality refuses: a stable code for programs and a sentence for the person at the station."""

from __future__ import annotations


class QualityError(Exception):
    """Base of everything that quality refuses."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class NotQualified(QualityError):
    """The person may not sign here."""


class PinRefused(QualityError):
    """Wrong PIN, or too many of them."""


class ReadingRefused(QualityError):
    """A check is missing, is no number, or lies outside its limits."""
