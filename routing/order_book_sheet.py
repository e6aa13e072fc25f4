"""An order book that comes as a workbook (xlsx): its first sheet as the CSV text that the reader takes."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from routing.spreadsheet_guard import guarded

# Unpacked; 5,000 rows of an order book have about 3 MB. A file made to burst the memory is refused before it is read.
_LARGEST_BYTES = 24 * 1024 * 1024
_MOST_COLUMNS = 60
_MOST_LINES = 20_000
_DECLARES = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)


class NotASheet(Exception):
    """The sentence says what to do."""


def is_workbook(book: bytes | str) -> bool:
    """Whether a file begins like a zip archive, as every xlsx does."""
    return isinstance(book, bytes) and book.startswith(b"PK\x03\x04")


def csv_of(book: bytes) -> str:
    """The first sheet as CSV, line by line: row 7 of the sheet stands on line 7. Raises NotASheet.

    Of a formula its last result counts. What would be a formula in CSV is guarded, as in every file of the shop.
    """
    from openpyxl import load_workbook  # heavy to load: only when a workbook comes

    try:
        _require_harmless(book)
        workbook = load_workbook(io.BytesIO(book), read_only=True, data_only=True)
        lines = list(_lines(workbook.worksheets[0]))
    except NotASheet:
        raise
    except Exception as error:
        raise NotASheet(
            _("This workbook can't be read. Save it again as “Excel workbook (xlsx)” or as “CSV UTF-8”.")
        ) from error
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for cells in lines:
        if any(cells):
            writer.writerow([guarded(cell) for cell in cells])
        else:
            text.write("\n")
    return text.getvalue()


def _lines(sheet: Any) -> Iterator[list[str]]:
    sheet.reset_dimensions()  # some programs write wrong ones
    empty = 0
    for number, row in enumerate(sheet.iter_rows(max_col=_MOST_COLUMNS, values_only=True), start=1):
        cells = [_words(value) for value in row]
        while cells and not cells[-1]:
            cells.pop()
        if not cells:
            empty += 1  # told only when something follows: a sheet may end in thousands of empty rows
            continue
        if number > _MOST_LINES:
            many = _("The sheet has more than {lines} lines. Split it into several.")
            raise NotASheet(many.format(lines=_MOST_LINES))
        yield from ([] for _ in range(empty))
        empty = 0
        yield cells


def _words(value: Any) -> str:
    """A cell as it would stand in CSV: a date as year-month-day, a whole number without a decimal point."""
    match value:
        case None:
            return ""
        case datetime():
            return value.date().isoformat()
        case date():
            return value.isoformat()
        case float() if value.is_integer():
            return str(int(value))
        case _:
            return " ".join(str(value).split())


def _require_harmless(book: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(book)) as parts:
        if sum(part.file_size for part in parts.infolist()) > _LARGEST_BYTES:
            raise NotASheet(_("Unpacked, this workbook is too large for an order book. Split it into several."))
        for part in parts.infolist():
            if part.filename.endswith((".xml", ".rels")) and _DECLARES.search(parts.read(part)):
                raise NotASheet(_("This workbook declares entities, which no order book needs. Save it again."))
