"""A list as a file for a spreadsheet: CSV and xlsx. What people typed stays text and never becomes a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A spreadsheet takes a CSV cell that begins so for a formula (tab and return: some drop them and look at what follows).
_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_WIDEST = 60


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """With a byte order mark, so that a spreadsheet reads it as UTF-8."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows([_as_text(cell) for cell in row] for row in rows)
    return _file(text.getvalue().encode("utf-8-sig"), "text/csv; charset=utf-8", f"{name}.csv")


def xlsx_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.freeze_panes = "A2"
    widths = [len(word) for word in head]
    for y, row in enumerate([head, *rows], start=1):
        for x, words in enumerate(row, start=1):
            cell = sheet.cell(y, x, ILLEGAL_CHARACTERS_RE.sub("", words))
            cell.data_type = "s"  # else a word that begins with “=” would be a formula
            cell.quotePrefix = words.startswith(_BEGINS_A_FORMULA)  # and stays text when somebody edits it
            widths[x - 1] = min(_WIDEST, max(widths[x - 1], len(words)))
            if y == 1:
                cell.font = Font(bold=True)
    for x, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(x)].width = width + 2
    content = io.BytesIO()
    book.save(content)
    return _file(content.getvalue(), XLSX, f"{name}.xlsx")


def _as_text(words: str) -> str:
    return f"'{words}" if words.startswith(_BEGINS_A_FORMULA) else words


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
