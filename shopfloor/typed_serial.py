"""A serial number as it comes in: typed, read out by a customer, or the whole address that a scanner types."""

from __future__ import annotations

from django.utils.translation import gettext

from routing.models import Shell
from routing.spec_words import spoken
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError


def parts_of(words: str) -> tuple[str, str]:
    """What may be the serial number, and the revision of the paper that was scanned, "" when none is told."""
    before, _, revision = words.strip().partition("?r=")
    return before.partition("?")[0].rstrip("/").rpartition("/")[2], revision if revision.isdecimal() else ""


def serial_made_here(words: str) -> str:
    """The serial number of a drum of this shop. Raises SpecError with a sentence when it is misread or unknown."""
    serial = clean_serial(words)
    if not Shell.objects.filter(serial=serial).exists():
        raise SpecError("unknown", "serial", unknown_serial(serial))
    return serial


def clean_serial(words: str) -> str:
    """As ``read_serial``, with a sentence in the language that is spoken."""
    try:
        return read_serial(words)
    except SpecError as error:
        raise SpecError(error.code, error.field, spoken(error.message)) from error


def unknown_serial(serial: str) -> str:
    return gettext("No drum with the serial number {serial} was made here.").format(serial=serial)
