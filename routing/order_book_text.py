"""From the text of an order book to its orders: no database, only what stands in the file.

Nothing here stops at the first mistake: each is named by line and column with what to do about it.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from routing.languages import numeral
from routing.models.orders import MAX_QUANTITY
from routing.order_book_sheet import NotASheet, csv_of, is_workbook
from routing.spreadsheet_guard import unguarded

MAX_BYTES = 2 * 1024 * 1024
MAX_ROWS = 5000
MAX_LINES_PER_ORDER = 40
# name, longest text, needed, what goes in
_COLUMNS: tuple[tuple[str, int, bool, str], ...] = (
    (
        "order number",
        30,
        True,
        gettext_noop("Letters, digits, dot, dash and underscore. Rows with the same number are one kit order."),
    ),
    ("customer", 120, True, gettext_noop("The same on every row of an order.")),
    (
        "customer reference",
        80,
        False,
        gettext_noop("The customer's own number. The same on every row of an order; may be empty."),
    ),
    ("due date", 10, True, gettext_noop("Year-month-day, for example 2026-12-24. The same on every row of an order.")),
    ("drum code", 40, True, gettext_noop("Code of a drum model, for example heron-snare-14x5-5.")),
    ("finish", 80, True, gettext_noop("Name of a finish of the kind that the drum's line is made with.")),
    ("quantity", 6, True, gettext_noop("How many of this drum, 1 to {most}.")),
    ("note", 200, False, gettext_noop("Anything the shop should know about this row; may be empty.")),
)
COLUMNS = tuple(name for name, _, _, _ in _COLUMNS)
LONGEST = {name: longest for name, longest, _, _ in _COLUMNS}
NEEDED = frozenset(name for name, _, needed, _ in _COLUMNS if needed)
_ORDER_NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_WHOLE_NUMBER = re.compile(r"[0-9]{1,6}")
_FORMULA_SIGNS = ("=", "+", "-", "@")
_FREE_TEXT = ("customer", "customer reference", "note")


def columns_explained() -> list[tuple[str, str]]:
    """Each column and what goes in, in the language that is spoken; the names are those of the file."""
    return [(name, _(about).format(most=MAX_QUANTITY)) for name, _longest, _needed, about in _COLUMNS]


@dataclass(frozen=True, slots=True)
class BookError:
    """One thing in the file to put right, or to look at. ``line`` is None for the file as a whole."""

    line: int | None
    column: str
    message: str

    def __str__(self) -> str:
        place = "" if self.line is None else _("line {line}").format(line=self.line) + ", "
        return f"{place}{self.column}: {self.message}"


@dataclass(frozen=True, slots=True)
class BookLine:
    """One row: so many of one drum."""

    line: int
    drum: str
    finish: str
    quantity: int
    note: str


@dataclass(frozen=True, slots=True)
class BookOrder:
    number: str
    customer: str
    reference: str
    due: date
    lines: tuple[BookLine, ...]

    @property
    def line(self) -> int:
        """Where the order begins in the file."""
        return self.lines[0].line

    @property
    def drums(self) -> int:
        return sum(line.quantity for line in self.lines)


@dataclass(slots=True)
class BookText:
    """What was read, with everything to put right (``errors``) and to look at (``warnings``)."""

    orders: list[BookOrder] = field(default_factory=list)
    loose: list[BookLine] = field(default_factory=list)  # rows whose order is at fault
    errors: list[BookError] = field(default_factory=list)
    warnings: list[BookError] = field(default_factory=list)


def read_text(book: bytes | str) -> BookText:
    """The orders of an order book: a workbook (xlsx), or CSV in UTF-8 with or without a byte-order mark, comma or
    semicolon between cells.

    At most 2 MiB and 5,000 rows. Orders are complete only when there are no errors.
    """
    found = BookText()
    try:
        text = _decoded(book)
        rows = list(_rows(text))
    except _Unreadable as unreadable:
        found.errors.append(unreadable.error)
        return found
    if not rows:
        empty = _("The file is empty. Its first line must name the columns: {columns}.")
        found.errors.append(BookError(1, _("file"), empty.format(columns=", ".join(COLUMNS))))
        return found
    header = _header(rows[0], found)
    if found.errors:
        return found
    if len(rows) == 1:
        none = _("There is no order below the column names; add at least one.")
        found.errors.append(BookError(rows[0][0], _("file"), none))
    by_number: dict[str, list[_Row]] = {}
    for line, cells in rows[1:]:
        row = _row(line, cells, header, found)
        if row["order number"]:
            by_number.setdefault(row["order number"], []).append(row)
        else:
            quantity = _quantity(row["quantity"], line, found)
            found.loose.append(BookLine(line, row["drum code"], row["finish"], quantity or 0, row["note"]))
    _same_but_for_capitals(by_number, found)
    for number, order_rows in by_number.items():
        order = _order(number, order_rows, found)
        if order is not None:
            found.orders.append(order)
    found.errors.sort(key=lambda error: error.line or 0)
    found.warnings.sort(key=lambda warning: warning.line or 0)
    return found


def text_of(book: bytes | str) -> str:
    """The CSV text of an order book that ``read_text`` found no errors in."""
    return _decoded(book)


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells[column]


class _Unreadable(Exception):
    def __init__(self, line: int | None, message: str) -> None:
        super().__init__(message)
        self.error = BookError(line, _("file"), message)


def _decoded(book: bytes | str) -> str:
    size = len(book if isinstance(book, bytes) else book.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        large = _("The file has {size} MiB; at most 2 are read. Split it into several.")
        raise _Unreadable(None, large.format(size=numeral(size / 2**20, ".1f")))
    if isinstance(book, str):
        text = book
    else:
        if is_workbook(book):
            try:
                return _decoded(csv_of(book))
            except NotASheet as error:
                raise _Unreadable(None, str(error)) from error
        try:
            text = book.decode("utf-8")
        except UnicodeDecodeError as error:
            wide = book.startswith((b"\xff\xfe", b"\xfe\xff"))
            line = None if wide else book[: error.start].count(b"\n") + 1
            raise _Unreadable(
                line, _("The file is not UTF-8, so its letters can't be trusted. Save it again as “CSV UTF-8”.")
            ) from error
    text = text.removeprefix("\ufeff")
    for number, line_text in enumerate(text.split("\n"), start=1):
        if any(_is_control(character) for character in line_text):
            raise _Unreadable(
                number,
                _("There is an invisible control character in this line. Type the line again, or save as “CSV UTF-8”."),
            )
    return text


def _is_control(character: str) -> bool:
    return unicodedata.category(character) in {"Cc", "Cs"} and character not in "\t\r\n"


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Rows with the line on which each begins; empty ones are left out."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins, count = 1, 0
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                count += 1
                if count > MAX_ROWS + 1:
                    many = _("There are more than {rows} rows. Split the file into several.")
                    raise _Unreadable(begins, many.format(rows=MAX_ROWS))
                yield begins, [plain(unguarded(cell)) for cell in cells]
            begins = reader.line_num + 1
    except csv.Error as error:
        broken = _(
            "The row that begins here can't be read ({why}). A cell with commas or line breaks stands in double quotes; "
            "a quote inside it is doubled."
        )
        raise _Unreadable(begins, broken.format(why=error)) from error


def plain(words: str) -> str:
    """One spelling for what looks the same: composed letters, single spaces."""
    return " ".join(unicodedata.normalize("NFC", words).split())


def _header(row: tuple[int, list[str]], found: BookText) -> list[str]:
    line, cells = row
    names = [" ".join(cell.lower().replace("_", " ").split()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    for place, name in enumerate(names):
        if name not in COLUMNS:
            unknown = _("This column is not known. Remove it, or name it one of: {columns}.")
            column = cells[place] or _("column {number}").format(number=place + 1)
            found.errors.append(BookError(line, column, unknown.format(columns=", ".join(COLUMNS))))
        elif name in names[:place]:
            found.errors.append(BookError(line, name, _("There are two columns of this name; remove one.")))
    for name in COLUMNS:
        if name in NEEDED and name not in names:
            missing = _("This column is missing. Add it; the first line of the file names the columns.")
            found.errors.append(BookError(line, name, missing))
    return names


def _row(line: int, cells: list[str], header: list[str], found: BookText) -> _Row:
    row = dict.fromkeys(COLUMNS, "") | dict(zip(header, cells, strict=False))
    if any(cells[len(header) :]):
        wide = _(
            "The row has {cells} cells and there are {columns} columns. Put a text with a comma in double quotes, or "
            "remove what is too much."
        )
        found.errors.append(BookError(line, _("row"), wide.format(cells=len(cells), columns=len(header))))
    for name, longest in LONGEST.items():
        if not row[name]:
            if name in NEEDED:
                found.errors.append(BookError(line, name, _("This cell is empty; fill it in.")))
        elif len(row[name]) > longest and name not in ("due date", "quantity"):
            long = _("The text has {characters} characters; at most {most} fit. Shorten it.")
            found.errors.append(BookError(line, name, long.format(characters=len(row[name]), most=longest)))
        elif name in _FREE_TEXT and row[name].startswith(_FORMULA_SIGNS):
            formula = _("“{text}” begins like a formula; it is kept as plain text.")
            found.warnings.append(BookError(line, name, formula.format(text=_short(row[name]))))
    if row["order number"] and not _ORDER_NUMBER.fullmatch(row["order number"]):
        unfit = _(
            "“{text}” is no order number; use letters, digits, dot, dash or underscore, beginning with a letter or digit."
        )
        found.errors.append(BookError(line, "order number", unfit.format(text=_short(row["order number"]))))
        row["order number"] = ""
    return _Row(line, row)


def _same_but_for_capitals(by_number: dict[str, list[_Row]], found: BookText) -> None:
    spelled: dict[str, str] = {}
    for number, rows in by_number.items():
        other = spelled.setdefault(number.lower(), number)
        if other != number:
            alike = _("“{number}” and “{other}” differ in capital letters only; spell one order in one way.")
            found.errors.append(BookError(rows[0].line, "order number", alike.format(number=number, other=other)))


def _order(number: str, rows: list[_Row], found: BookText) -> BookOrder | None:
    """The rows of one order as one; None when one of them is at fault."""
    first = rows[0]
    before = len(found.errors)
    for row in rows[1:]:
        for name in ("customer", "customer reference", "due date"):
            if row[name] != first[name] and (row[name] or name not in NEEDED):
                differs = _(
                    "Order {number} has “{here}” here and “{there}” on line {line}. Make them equal, or give this row its "
                    "own order number."
                ).format(number=number, here=_short(row[name]), there=_short(first[name]), line=first.line)
                found.errors.append(BookError(row.line, name, differs))
    if len(rows) > MAX_LINES_PER_ORDER:
        long = _("Order {number} has {rows} rows; at most {most} fit. Add up equal drums or split it.")
        long = long.format(number=number, rows=len(rows), most=MAX_LINES_PER_ORDER)
        found.errors.append(BookError(rows[MAX_LINES_PER_ORDER].line, "order number", long))
    due = _due(first["due date"], first.line, found)
    lines: list[BookLine] = []
    seen: dict[tuple[str, str], int] = {}
    for row in rows:
        quantity = _quantity(row["quantity"], row.line, found)
        same = (row["drum code"].lower(), row["finish"].lower())
        if same in seen:
            twice = _("Order {number} has this drum in this finish on line {line} too. If that is a slip, remove one.")
            found.warnings.append(BookError(row.line, "drum code", twice.format(number=number, line=seen[same])))
        seen.setdefault(same, row.line)
        lines.append(BookLine(row.line, row["drum code"], row["finish"], quantity or 0, row["note"]))
    if due is None or len(found.errors) > before:
        found.loose.extend(lines)
        return None
    return BookOrder(number, first["customer"], first["customer reference"], due, tuple(lines))


def _due(text: str, line: int, found: BookText) -> date | None:
    if not text:
        return None  # said already
    try:
        if not _ISO_DATE.fullmatch(text):
            raise ValueError(text)
        due = date.fromisoformat(text)
    except ValueError:
        message = _("“{text}” is no date; write year-month-day, for example 2026-12-24.")
        found.errors.append(BookError(line, "due date", message.format(text=_short(text))))
        return None
    if not 2000 <= due.year <= 2099:
        message = _("The year {year} can't be right; write it as 2026-12-24.")
        found.errors.append(BookError(line, "due date", message.format(year=due.year)))
        return None
    return due


def _quantity(text: str, line: int, found: BookText) -> int | None:
    if not text:
        return None  # said already
    if not _WHOLE_NUMBER.fullmatch(text) or not 1 <= int(text) <= MAX_QUANTITY:
        message = _("“{text}” is no quantity; write a whole number from 1 to {most}.")
        found.errors.append(BookError(line, "quantity", message.format(text=_short(text), most=MAX_QUANTITY)))
        return None
    return int(text)


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
