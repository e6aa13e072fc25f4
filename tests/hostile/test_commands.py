"""Every command, called with words that it did not ask for: it does its work or says in a sentence what to do."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command, get_commands, load_command_class
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from routing.order_book import import_order_book, read_order_book
from routing.order_book_text import COLUMNS
from tests.hostile.forms import WORDS
from tests.hostile.test_every_form import kept
from tests.small_shop import NOW, SmallShop

pytestmark = pytest.mark.django_db

OURS = {"shopfloor", "quality", "routing"}
# Tried by tests of their own: they fill or leave a shop, or run for minutes whatever they are told.
ELSEWHERE = {"demo", "backup", "restore", "simulate_week", "make_papers"}
SOME = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def _ended(name: str, arguments: list[str]) -> int | None:
    """The status a shell would see; None when it says nothing of why."""
    out = io.StringIO()
    try:
        call_command(name, *arguments, stdout=out, stderr=out)
    except CommandError as refused:
        return 1 if str(refused).strip() else None
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


def commands() -> list[str]:
    return sorted(name for name, app in get_commands().items() if app in OURS and name not in ELSEWHERE)


@pytest.mark.parametrize("name", commands())
def test_a_command(shop: SmallShop, name: str, tmp_path: Path) -> None:
    serial = shop.released(quantity=2)[0].serial
    shop.order("K-2")
    book = tmp_path / "book.csv"
    book.write_bytes(b"order number,customer\nK-3\n")
    known = (*WORDS, serial, "K-1", "K-2", str(book), str(tmp_path), str(tmp_path / "out.pdf"), "heron-snare", "A4")
    parser = load_command_class(get_commands()[name], name).create_parser("manage.py", name)
    own = [
        option
        for action in parser._actions
        for option in action.option_strings
        if option.startswith("--")
        and option not in ("--help", "--version", "--settings", "--pythonpath", "--traceback", "--verbosity")
    ]
    before = kept()
    words = st.lists(st.sampled_from(known) | st.sampled_from(own), max_size=5)

    @SOME
    @given(words)
    def called(arguments: list[str]) -> None:
        with transaction.atomic():
            ended = _ended(name, arguments)
            assert ended is not None, f"{arguments}: refused without a sentence"
            assert ended == 0 or kept() == before, arguments
            transaction.set_rollback(True)

    called()


@pytest.mark.parametrize("arguments", [["--idle", "soon"], ["--idle"], ["K-1"], [""]])
def test_the_maker_of_papers_refuses_what_it_did_not_ask_for(arguments: list[str]) -> None:
    with pytest.raises(CommandError, match=r"\w"):
        call_command("make_papers", *arguments)


@given(data=st.data())
@SOME
def test_an_order_book_is_imported_whole_or_not_at_all(data: st.DataObject, shop: SmallShop) -> None:
    good = {
        "order number": "K-9", "customer": "Tarn", "customer reference": "", "due date": "2026-12-24",
        "drum code": shop.model.code, "finish": shop.finish.name, "quantity": "2", "note": "",
    }  # fmt: skip
    lines = [",".join(COLUMNS)]
    for number in range(data.draw(st.integers(1, 4))):
        cells = good | {"order number": f"K-{number}"}
        for name in data.draw(st.sets(st.sampled_from(sorted(good)), max_size=1)):
            cells[name] = data.draw(st.sampled_from(WORDS))
        lines.append(",".join('"' + cells[name].replace('"', '""') + '"' for name in COLUMNS))
    before = kept()
    today = NOW.date()
    with transaction.atomic():
        book = read_order_book("\n".join(lines).encode("utf-8", "replace"), today=today)
        if book.errors:
            assert all(error.message.endswith((".", "?")) for error in book.errors)
            assert kept() == before
        else:
            drums = sum(order.drums for order in book.new)
            assert import_order_book(book, stamp=shop.stamp(shop.supervisor), today=today).drums == drums
            again = read_order_book("\n".join(lines).encode("utf-8", "replace"), today=today)
            assert not again.errors and not again.new
        transaction.set_rollback(True)
