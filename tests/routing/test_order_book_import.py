"""An order book against the shop: previewed, imported, told what changed; and its command."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from routing import order_book
from routing.models import DrumModel, Finish, KitLine, KitOrder, OrderState
from routing.order_book import OrderBookRefused, import_order_book, read_order_book
from routing.release import release_order
from tests.routing.order_books import TODAY, file, row
from tests.small_shop import SmallShop, small_shop


@pytest.fixture
def make(shop: SmallShop) -> Callable[..., str]:
    """A row for the drum of the small shop."""
    return lambda **changes: row(**{"drum": shop.model.code, "finish": shop.finish.name} | changes)


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
