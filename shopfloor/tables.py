"""A list as a file for a spreadsheet: CSV and xlsx. What people typed stays text and never becomes a formula."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from tempfile import TemporaryFile
from typing import Any

from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from routing.formula_guard import guarded

CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A spreadsheet takes a CSV cell that begins so for a formula (tab and return: some drop them and look at what follows).
_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_WIDEST = 60
LINES_AT_ONCE = 200


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """With a byte order mark, so that a spreadsheet reads it as UTF-8."""
    return _file(b"".join(_csv_parts(head, rows)), CSV, f"{name}.csv")


def xlsx_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    lines = list(rows)
    columns = zip(head, *lines, strict=True)
    widths = [min(_WIDEST, max(len(words) for words in column)) + 2 for column in columns]
    content = io.BytesIO()
    _book(head, lines, widths).save(content)
    return _file(content.getvalue(), XLSX, f"{name}.xlsx")


def long_csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> StreamingHttpResponse:
    """The same for a list of any length: sent as it is read."""
    response = StreamingHttpResponse(_csv_parts(head, rows), content_type=CSV)
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


def _csv_parts(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[bytes]:
    yield codecs.BOM_UTF8
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(head)
    for number, row in enumerate(rows, start=1):
        writer.writerow([guarded(cell) for cell in row])
        if number % LINES_AT_ONCE == 0:
            yield buffer.getvalue().encode()
            buffer.seek(0)
            buffer.truncate()
    yield buffer.getvalue().encode()


def long_xlsx_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> FileResponse:
    """The same for a list of any length: rows are written to a file on disk as they are read."""
    content = TemporaryFile()  # noqa: SIM115 (the response closes it when it is sent)
    _book(head, rows).save(content)
    content.seek(0)
    return FileResponse(content, as_attachment=True, filename=f"{name}.xlsx", content_type=XLSX)


def _book(head: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[int] = ()) -> Workbook:
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.freeze_panes = "A2"
    for place, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.append([_written(sheet, words, Font(bold=True)) for words in head])
    for row in rows:
        sheet.append([_written(sheet, words) for words in row])
    return book


def _written(sheet: Any, words: str, font: Font | None = None) -> Cell:
    cell = WriteOnlyCell(sheet, ILLEGAL_CHARACTERS_RE.sub("", words))
    cell.data_type = "s"  # else a word that begins with “=” would be a formula
    cell.quotePrefix = words.startswith(_BEGINS_A_FORMULA)  # and stays text when somebody edits it
    if font is not None:
        cell.font = font
    return cell


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
