"""Order books: what is read, what is refused and how it is said."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from routing.models import DrumModel, Finish, KitLine, KitOrder
from routing.models.orders import MAX_QUANTITY
from routing.order_book import read_order_book
from routing.order_book_text import LONGEST, MAX_BYTES, NEEDED, columns_explained, read_text, text_of
from routing.spreadsheet_guard import guarded, unguarded
from shopfloor.demo.loading import load_demo
from tests.routing.order_books import HEADER, TODAY, file, row
from tests.small_shop import NOW

MISTAKES = Path(__file__).with_name("order_book_with_mistakes.csv")


# What stands in the file, without a shop


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_separators_line_ends_and_byte_order_mark_make_no_difference(newline: str, delimiter: str, mark: bytes) -> None:
    text = file(row(drum="a-drum", finish="Öl, hell", note='"so, ""here"""'.replace(",", "")))
    text = text.replace('"Öl, hell"', "Öl hell").replace(",", delimiter).replace("\n", newline)
    read = read_text(mark + text.encode())
    assert read.errors == []
    (order,) = read.orders
    assert (order.number, order.customer, order.reference, order.due) == (
        "K-1",
        "Tarn Valley Band",
        "PO 77",
        date(2026, 12, 24),
    )
    (line,) = order.lines
    assert (line.line, line.drum, line.finish, line.quantity, line.note) == (2, "a-drum", "Öl hell", 1, 'so "here"')


def test_columns_come_in_any_order_and_spelling_and_rows_of_an_order_need_not_touch() -> None:
    text = "Quantity,DUE_DATE,drum code,Finish,Order Number,customer\n"
    text += "1,2026-12-24,a,F,K-1,Tarn\n2,2026-12-25,b,F,K-2,Mere\n\n,,,,,\n3,2026-12-24,c,F,K-1,Tarn\n"
    read = read_text(text)
    assert read.errors == []
    assert [
        (order.number, [(line.line, line.drum, line.quantity) for line in order.lines]) for order in read.orders
    ] == [
        ("K-1", [(2, "a", 1), (6, "c", 3)]),
        ("K-2", [(3, "b", 2)]),
    ]


def test_a_row_after_a_note_of_two_lines_is_named_by_its_line_in_the_file() -> None:
    text = file(
        row(drum="a", finish="F", note='"two\nlines"'), row(number="K-2", drum="a", finish="F", quantity="many")
    )
    (error,) = read_text(text).errors
    assert (error.line, error.column) == (4, "quantity")


@pytest.mark.parametrize(
    ("book", "line", "says"),
    [
        (b"", 1, "empty"),
        (HEADER.encode(), 1, "no order"),
        (b"PK\x03\x04 and more", None, "workbook can't be read"),
        ("\ufeff".encode("utf-16"), None, "not UTF-8"),
        (HEADER.encode() + b"\nK-1,Caf\xe9 Tarn,,2026-12-24,a,F,1,\n", 2, "not UTF-8"),
        (HEADER.encode() + b"\nK-1,Tarn\x00,,2026-12-24,a,F,1,\n", 2, "control character"),
        (HEADER.encode() + b'\nK-1,"Tarn,,2026-12-24,a,F,1,\n', 2, "double quotes"),
        (b"x" * (MAX_BYTES + 1), None, "at most 2"),
        (file(*[row(number=f"K-{n}") for n in range(5001)]).encode(), 5002, "more than 5000 rows"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_as_a_whole(book: bytes, line: int | None, says: str) -> None:
    read = read_text(book)
    (error,) = read.errors
    assert (error.line, error.column) == (line, "file")
    assert says in error.message
    assert read.orders == []


@pytest.mark.parametrize(
    ("header", "column", "says"),
    [
        (HEADER.replace("quantity", "pieces"), "pieces", "not known"),
        (HEADER.replace("quantity", "pieces"), "quantity", "missing"),
        (HEADER + ",finish", "finish", "two columns"),
    ],
)
def test_wrong_column_names_are_refused(header: str, column: str, says: str) -> None:
    errors = read_text(header + "\nK-1,Tarn,,2026-12-24,a,F,1,\n").errors
    assert any(error.line == 1 and error.column == column and says in error.message for error in errors)


@pytest.mark.parametrize(
    ("changes", "column", "says"),
    [
        ({"number": ""}, "order number", "empty"),
        ({"number": "K/1"}, "order number", "no order number"),
        ({"number": "K" * 31}, "order number", "at most 30"),
        ({"customer": ""}, "customer", "empty"),
        ({"customer": "T" * 121}, "customer", "at most 120"),
        ({"reference": "r" * 81}, "customer reference", "at most 80"),
        ({"due": ""}, "due date", "empty"),
        ({"due": "24.12.2026"}, "due date", "2026-12-24"),
        ({"due": "2026-02-30"}, "due date", "no date"),
        ({"due": "20261224"}, "due date", "no date"),
        ({"due": "0026-12-24"}, "due date", "year 26"),
        ({"drum": ""}, "drum code", "empty"),
        ({"finish": ""}, "finish", "empty"),
        ({"quantity": ""}, "quantity", "empty"),
        ({"quantity": "0"}, "quantity", "1 to 50"),
        ({"quantity": "51"}, "quantity", "1 to 50"),
        ({"quantity": "1.5"}, "quantity", "whole number"),
        ({"quantity": "-1"}, "quantity", "whole number"),
        ({"quantity": "٣"}, "quantity", "whole number"),
        ({"quantity": "1e1"}, "quantity", "whole number"),
        ({"note": "n" * 201}, "note", "at most 200"),
        ({"note": "a,b"}, None, ""),
    ],
)
def test_each_cell_is_checked(changes: dict[str, str], column: str | None, says: str) -> None:
    read = read_text(file(row(**{"drum": "a", "finish": "F"} | changes)))
    if column is None:
        assert read.errors == []
        return
    (error,) = read.errors
    assert (error.line, error.column) == (2, column)
    assert says in error.message


@pytest.mark.parametrize(
    ("second", "column"),
    [
        ({"customer": "Mere Band"}, "customer"),
        ({"reference": "PO 78"}, "customer reference"),
        ({"due": "2026-12-25"}, "due date"),
    ],
)
def test_rows_of_one_order_must_agree(second: dict[str, str], column: str) -> None:
    read = read_text(file(row(drum="a", finish="F"), row(**{"drum": "b", "finish": "F"} | second)))
    (error,) = read.errors
    assert (error.line, error.column) == (3, column)
    assert "on line 2" in error.message


def test_other_mistakes_across_rows() -> None:
    capitals = read_text(file(row(drum="a", finish="F"), row(number="k-1", drum="a", finish="F")))
    assert [(e.line, e.column) for e in capitals.errors] == [(3, "order number")]
    long = read_text(file(*[row(drum=f"d{n}", finish="F") for n in range(41)]))
    assert [(e.line, e.column) for e in long.errors] == [(42, "order number")]
    wide = read_text(file(row(drum="a", finish="F") + ",more"))
    assert [(e.line, e.column) for e in wide.errors] == [(2, "row")]


def test_what_is_doubtful_is_said_and_kept() -> None:
    read = read_text(file(row(drum="a", finish="F", note="=1+1"), row(drum="A", finish="f")))
    assert read.errors == []
    assert [(w.line, w.column) for w in read.warnings] == [(2, "note"), (3, "drum code")]
    assert read.orders[0].lines[0].note == "=1+1"


@given(
    st.one_of(st.binary(max_size=400), st.text(max_size=400), st.text(max_size=200).map(lambda t: HEADER + "\n" + t))
)
def test_whatever_is_in_the_file_is_read_or_refused_with_a_sentence(book: bytes | str) -> None:
    read = read_text(book)
    assert read.errors or read.orders
    for error in read.errors:
        assert error.column and error.message.endswith((".", "?"))
    for order in read.orders:
        assert all(1 <= line.quantity <= MAX_QUANTITY for line in order.lines) or read.errors


def test_lengths_are_those_of_the_tables_and_the_page_shows_every_column() -> None:
    fields: dict[str, Any] = {
        "order number": KitOrder._meta.get_field("number"),
        "customer": KitOrder._meta.get_field("customer"),
        "customer reference": KitOrder._meta.get_field("customer_reference"),
        "drum code": DrumModel._meta.get_field("code"),
        "finish": Finish._meta.get_field("name"),
        "note": KitLine._meta.get_field("note"),
    }
    assert {name: field.max_length for name, field in fields.items()} == {name: LONGEST[name] for name in fields}
    page = (Path(__file__).parents[2] / "docs" / "order-book.md").read_text()
    documented = re.findall(r"^\| `([a-z ]+)` \| (yes)? ?\| (.+) \|$", page, re.MULTILINE)
    assert [(name, about) for name, _, about in documented] == columns_explained()
    assert {name for name, needed, _ in documented if needed} == NEEDED


# A file with every kind of mistake, as somebody might send it


EVERY_MISTAKE = [
    (3, "drum code", "Did you mean “heron-snare-14x5-5”?"),
    (4, "customer", "“Mere Valley Band” here and “Tarn Valley Band” on line 2"),
    (5, "customer reference", "“PO 2” here and “PO 1” on line 2"),
    (6, "due date", "“2026-12-25” here and “2026-12-24” on line 2"),
    (7, "due date", "“24/12/2026” is no date"),
    (8, "due date", "“2026-02-30” is no date"),
    (9, "due date", "The year 2126 can't be right"),
    (10, "finish", "Take one of: Alder Oil, Dark Peat Oil, Honey Oil"),
    (11, "finish", "Did you mean “Alder Oil”?"),
    (12, "drum code", "There is no drum code “14 x 5.5 snare”"),
    (13, "quantity", "“0” is no quantity"),
    (14, "quantity", "“51” is no quantity"),
    (15, "quantity", "“two” is no quantity"),
    (16, "quantity", "“1,5” is no quantity"),
    (17, "order number", "empty"),
    (18, "order number", "“=1+1” is no order number"),
    (19, "order number", "“OW 9012” is no order number"),
    (20, "order number", "“ow-9005” and “OW-9005” differ in capital letters only"),
    (21, "customer", "empty"),
    (21, "due date", "empty"),
    (21, "drum code", "empty"),
    (21, "finish", "empty"),
    (21, "quantity", "empty"),
    (22, "row", "The row has 9 cells and there are 8 columns"),
    (23, "note", "at most 200 fit"),
]


def test_a_file_with_every_kind_of_mistake(db: None) -> None:
    load_demo(now=NOW, today=TODAY)
    book = read_order_book(MISTAKES.read_bytes(), today=TODAY)
    assert [(error.line, error.column) for error in book.errors] == [
        (line, column) for line, column, _ in EVERY_MISTAKE
    ]
    for error, (_, _, says) in zip(book.errors, EVERY_MISTAKE, strict=True):
        assert says in error.message
    with pytest.raises(CommandError, match="25 things to put right"):
        call_command("import_orders", str(MISTAKES))
    assert not KitOrder.objects.exists()


def workbook(*rows: tuple[Any, ...]) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for each in rows:
        sheet.append(each)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def test_a_workbook_reads_like_the_csv() -> None:
    head = tuple(HEADER.split(","))
    book = workbook(
        head,
        (1001, "Tarn", None, date(2026, 12, 24), "a", "F", 2, "-5 mm, please"),
        (),
        ("K-2", "Tarn", "'=x", datetime.combine(date(2026, 12, 24), time()), "b", "F", 1.0, None),
    )
    read = read_text(book)
    assert read.errors == []
    first, second = read.orders
    assert (first.number, first.due, first.drums, first.lines[0].note) == (
        "1001",
        date(2026, 12, 24),
        2,
        "-5 mm, please",
    )
    assert (second.line, second.reference, second.drums) == (4, "'=x", 1)
    assert read_text(text_of(book)).orders == read.orders  # what the preview keeps and the import reads again


def test_a_workbook_made_to_burst_the_memory_is_refused() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", b" " * (25 * 2**20))
    assert "too large" in read_text(packed.getvalue()).errors[0].message
    with zipfile.ZipFile(packed := io.BytesIO(), "w") as parts:
        parts.writestr("xl/workbook.xml", b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>')
    assert "declares entities" in read_text(packed.getvalue()).errors[0].message


@given(st.text(st.sampled_from("'=+-@\t\ra"), max_size=6))
def test_the_guard_against_formulas_is_undone_exactly(words: str) -> None:
    assert unguarded(guarded(words)) == words
    assert not guarded(words).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_a_damaged_workbook_is_said_to_be_one() -> None:
    """One byte of the packed sheet is another: unpacking it fails somewhere in the middle."""
    book = bytearray(workbook(tuple(HEADER.split(",")), *[("K-1", "Tarn", None, "2026-12-24", "a", "F", 1, None)] * 50))
    with zipfile.ZipFile(io.BytesIO(bytes(book))) as parts:
        sheet = parts.getinfo("xl/worksheets/sheet1.xml")
    begins = sheet.header_offset + 30 + len(sheet.filename) + 20
    for place in range(begins, begins + sheet.compress_size // 2):
        book[place] ^= 0xFF
    (error,) = read_text(bytes(book)).errors
    assert "can't be read" in error.message
