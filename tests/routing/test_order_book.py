"""Order books: what is read, what is refused and how it is said, and that importing is all or nothing and repeatable."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from routing import order_book
from routing.models import DrumModel, Finish, KitLine, KitOrder, OrderState
from routing.models.orders import MAX_QUANTITY
from routing.order_book import OrderBookRefused, import_order_book, read_order_book
from routing.order_book_text import COLUMNS, LONGEST, MAX_BYTES, NEEDED, read_text, text_of
from routing.release import release_order
from routing.spreadsheet_guard import guarded, unguarded
from shopfloor.demo.loading import load_demo
from tests.small_shop import NOW, SmallShop, small_shop

HEADER = "order number,customer,customer reference,due date,drum code,finish,quantity,note"
TODAY = date(2026, 11, 2)
MISTAKES = Path(__file__).with_name("order_book_with_mistakes.csv")


def row(**changes: str) -> str:
    cells = {
        "number": "K-1",
        "customer": "Tarn Valley Band",
        "reference": "PO 77",
        "due": "2026-12-24",
        "drum": "",
        "finish": "",
        "quantity": "1",
        "note": "",
    } | changes
    return ",".join(f'"{cell}"' if "," in cell else cell for cell in cells.values())


def file(*rows: str) -> str:
    return "\n".join([HEADER, *rows]) + "\n"


@pytest.fixture
def make(shop: SmallShop) -> Callable[..., str]:
    """A row for the drum of the small shop."""
    return lambda **changes: row(**{"drum": shop.model.code, "finish": shop.finish.name} | changes)


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
    assert [(name, about) for name, _, about in documented] == list(COLUMNS)
    assert {name for name, needed, _ in documented if needed} == NEEDED


# Against the shop


def test_a_preview_saves_nothing_and_an_import_makes_drafts(shop: SmallShop, make: Callable[..., str]) -> None:
    text = file(make(quantity="2", note="left-handed"), make(number="K-2", customer="Mere Band", reference=""))
    book = read_order_book(text, today=TODAY)
    assert (book.errors, [order.number for order in book.new], book.new_drums) == ((), ["K-1", "K-2"], 3)
    assert not KitOrder.objects.exists()
    imported = import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert (imported.created, imported.unchanged, imported.drums) == (("K-1", "K-2"), (), 3)
    order = KitOrder.objects.get(number="K-1")
    assert (order.state, order.customer, order.customer_reference, order.due, order.created_at) == (
        OrderState.DRAFT,
        "Tarn Valley Band",
        "PO 77",
        date(2026, 12, 24),
        shop.clock,
    )
    line = order.lines.get()
    assert (line.position, line.model, line.finish, line.quantity, line.note) == (
        1,
        shop.model,
        shop.finish,
        2,
        "left-handed",
    )


def test_the_same_file_twice_changes_nothing_even_after_release(shop: SmallShop, make: Callable[..., str]) -> None:
    text = file(make(), make(number="K-2"))
    import_order_book(read_order_book(text, today=TODAY), stamp=shop.stamp(), today=TODAY)
    release_order(number="K-1", stamp=shop.stamp())
    DrumModel.objects.update(is_active=False)
    before = list(KitOrder.objects.values()), list(KitLine.objects.values())
    book = read_order_book(text, today=TODAY)
    assert [order.number for order in book.known] == ["K-1", "K-2"]
    imported = import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert (imported.created, imported.unchanged) == ((), ("K-1", "K-2"))
    assert (list(KitOrder.objects.values()), list(KitLine.objects.values())) == before


def test_a_longer_file_adds_only_what_is_new(shop: SmallShop, make: Callable[..., str]) -> None:
    import_order_book(read_order_book(file(make()), today=TODAY), stamp=shop.stamp(), today=TODAY)
    book = read_order_book(file(make(), make(number="K-2")), today=TODAY)
    imported = import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert (imported.created, imported.unchanged) == (("K-2",), ("K-1",))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"customer": "Mere Band"}, "its customer is"),
        ({"reference": ""}, "its customer reference is"),
        ({"due": "2026-12-25"}, "its due date is"),
        ({"quantity": "2"}, "its drums are others"),
        ({"note": "changed"}, "its drums are others"),
        ({"number": "k-1"}, "capital letters only"),
    ],
)
def test_an_order_that_is_here_with_other_content_is_refused(
    shop: SmallShop, make: Callable[..., str], changes: dict[str, str], says: str
) -> None:
    import_order_book(read_order_book(file(make()), today=TODAY), stamp=shop.stamp(), today=TODAY)
    book = read_order_book(file(make(number="K-2"), make(**changes)), today=TODAY)
    (error,) = book.errors
    assert (error.line, error.column) == (3, "order number")
    assert says in error.message
    with pytest.raises(OrderBookRefused):
        import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert list(KitOrder.objects.values_list("number", flat=True)) == ["K-1"]


def test_the_sentence_says_what_can_be_done_in_each_state(shop: SmallShop, make: Callable[..., str]) -> None:
    import_order_book(read_order_book(file(make()), today=TODAY), stamp=shop.stamp(), today=TODAY)
    changed = file(make(quantity="2"))
    assert "Edit or delete the draft" in read_order_book(changed, today=TODAY).errors[0].message
    release_order(number="K-1", stamp=shop.stamp())
    assert "It is released already" in read_order_book(changed, today=TODAY).errors[0].message


def test_unknown_and_unfit_drums_and_finishes(shop: SmallShop, make: Callable[..., str]) -> None:
    near = read_order_book(file(make(drum=shop.model.code[:-1])), today=TODAY).errors
    assert [(e.line, e.column) for e in near] == [(2, "drum code")]
    assert f"Did you mean “{shop.model.code}”?" in near[0].message
    far = read_order_book(file(make(finish="zzz")), today=TODAY).errors
    assert [(e.line, e.column, "Did you mean" in e.message) for e in far] == [(2, "finish", False)]
    Finish.objects.create(name="Some Oil", kind="oil")
    unfit = read_order_book(file(make(finish="some oil")), today=TODAY).errors
    assert [(e.line, e.column) for e in unfit] == [(2, "finish")]
    assert f"Take one of: {shop.finish}" in unfit[0].message


def test_rows_of_a_faulty_order_are_looked_up_too(shop: SmallShop, make: Callable[..., str]) -> None:
    errors = read_order_book(file(make(due="soon"), make(drum="no-such-drum", number="")), today=TODAY).errors
    assert [(e.line, e.column) for e in errors] == [(2, "due date"), (3, "order number"), (3, "drum code")]


def test_what_is_out_of_use_is_refused_for_new_orders(shop: SmallShop, make: Callable[..., str]) -> None:
    DrumModel.objects.update(is_active=False)
    Finish.objects.update(is_active=False)
    errors = read_order_book(file(make()), today=TODAY).errors
    assert [(e.line, e.column) for e in errors] == [(2, "drum code"), (2, "finish")]
    assert all("out of use" in e.message for e in errors)


def test_a_past_due_date_is_shown_and_imported(shop: SmallShop, make: Callable[..., str]) -> None:
    book = read_order_book(file(make(due="2026-11-01", note="@home"), make(number="K-2")), today=TODAY)
    assert book.errors == ()
    assert [len(order.warnings) for order in book.orders] == [2, 0]
    assert "past" in book.orders[0].warnings[0]
    assert import_order_book(book, stamp=shop.stamp(), today=TODAY).created == ("K-1", "K-2")


def test_what_changed_since_the_preview_is_seen(shop: SmallShop, make: Callable[..., str]) -> None:
    book = read_order_book(file(make(number="K-0"), make()), today=TODAY)
    KitOrder.objects.create(number="K-1", customer="Somebody", due=TODAY, created_at=shop.clock)
    with pytest.raises(OrderBookRefused) as refused:
        import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert [error.line for error in refused.value.errors] == [3]
    assert list(KitOrder.objects.values_list("number", flat=True)) == ["K-1"]


def test_reading_takes_as_many_queries_for_many_orders(
    shop: SmallShop, make: Callable[..., str], django_assert_num_queries: Any
) -> None:
    few, many = (file(*[make(number=f"K-{n}") for n in range(count)]) for count in (2, 60))
    import_order_book(read_order_book(many, today=TODAY), stamp=shop.stamp(), today=TODAY)
    for text in (few, many):
        with django_assert_num_queries(6):
            assert len(read_order_book(text, today=TODAY).known) == (2 if text == few else 60)


def test_a_slip_in_the_middle_of_saving_leaves_nothing(
    shop: SmallShop, make: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    book = read_order_book(file(make(), make(number="K-2")), today=TODAY)
    save, saved = order_book._save, []

    def fails_at_the_second(order: order_book.PreviewOrder, stamp: Any) -> None:
        saved.append(order.number)
        if len(saved) == 2:
            raise OSError("the disk is full")
        save(order, stamp)

    monkeypatch.setattr(order_book, "_save", fails_at_the_second)
    with pytest.raises(OSError, match="disk"):
        import_order_book(book, stamp=shop.stamp(), today=TODAY)
    assert saved == ["K-1", "K-2"]
    assert not KitOrder.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_two_imports_at_once_give_one(transactional_db: None) -> None:
    shop = small_shop()
    text = file(*[row(number=f"K-{n}", drum=shop.model.code, finish=shop.finish.name) for n in range(20)])
    books = [read_order_book(text, today=TODAY) for _ in range(4)]
    start, created = Barrier(len(books)), []

    def run(book: order_book.OrderBook) -> None:
        start.wait()
        try:
            created.append(len(import_order_book(book, stamp=shop.stamp(), today=TODAY).created))
        finally:
            connection.close()

    threads = [Thread(target=run, args=(book,)) for book in books]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert sorted(created) == [0, 0, 0, 20]
    assert (KitOrder.objects.count(), KitLine.objects.count()) == (20, 20)


# The command


def test_the_command_shows_imports_and_repeats(
    shop: SmallShop, make: Callable[..., str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "book.csv"
    path.write_text(file(make(), make(number="K-2", due="2020-01-01")))
    call_command("import_orders", str(path), "--dry-run")
    shown = capsys.readouterr()
    assert "2 new orders with 2 drums" in shown.out and "nothing was saved" in shown.out and "past" in shown.out
    assert not KitOrder.objects.exists()
    call_command("import_orders", str(path))
    assert "Imported 2 orders with 2 drums" in capsys.readouterr().out
    call_command("import_orders", str(path))
    assert "Imported 0 orders with 0 drums as drafts; 2 were here already" in capsys.readouterr().out
    assert KitOrder.objects.count() == 2


def test_the_command_names_mistakes_on_standard_error(
    shop: SmallShop, make: Callable[..., str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "book.csv"
    path.write_text(file(make(), *[make(number=f"L-{n}", quantity="none") for n in range(101)]))
    with pytest.raises(CommandError, match="101 things to put right"):
        call_command("import_orders", str(path))
    shown = capsys.readouterr()
    assert "line 3, quantity: “none”" in shown.err and "… and 1 more" in shown.err
    assert shown.out == ""
    assert not KitOrder.objects.exists()
    with pytest.raises(CommandError, match=r"missing\.csv can't be read"):
        call_command("import_orders", str(tmp_path / "missing.csv"))


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
