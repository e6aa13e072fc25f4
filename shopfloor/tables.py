"""A list as a file for a spreadsheet: CSV and xlsx. What people typed stays text and never becomes a formula."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from tempfile import TemporaryFile

from django.http import FileResponse, HttpResponse, StreamingHttpResponse

from routing.spreadsheet_guard import guarded

CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LINES_AT_ONCE = 200


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """With a byte order mark, so that a spreadsheet reads it as UTF-8."""
    return _file(b"".join(_csv_parts(head, rows)), CSV, f"{name}.csv")


def xlsx_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    from shopfloor.workbooks import WIDEST, book  # heavy to load: only when somebody takes a workbook

    lines = list(rows)
    columns = zip(head, *lines, strict=True)
    widths = [min(WIDEST, max(len(words) for words in column)) + 2 for column in columns]
    content = io.BytesIO()
    book(head, lines, widths).save(content)
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
    from shopfloor.workbooks import book

    content = TemporaryFile()  # noqa: SIM115 (the response closes it when it is sent)
    book(head, rows).save(content)
    content.seek(0)
    return FileResponse(content, as_attachment=True, filename=f"{name}.xlsx", content_type=XLSX)


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
