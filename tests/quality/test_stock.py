"""The shelf: counted, received, taken from; and what is short for which orders."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from quality.bags import bags_of
from quality.errors import NotQualified, QualityError
from quality.lots import set_lot_state
from quality.models import LotKind, LotState, Role, StockMove, StockPart
from quality.requests import pick_request, take_request
from quality.shelf_lots import on_shelf
from quality.shortages import needs, parts_on_shelf, shortages, still_to_take
from quality.stock import NOT_COUNTED, count_part, receive_parts
from routing.errors import LostRace
from routing.freezing import drum_inputs
from routing.models import Operation, OperationState, Part, Shell, ShellState, Shop, StationKind
from routing.reissue import reissue_spec
from tests.quality.test_kitting import add_parts, fill, reopen, stock, with_bags
from tests.quality.test_materials import lot
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


def count(shop: SmallShop, name: str, counted: int, *, key: str | None = None, **more: object) -> StockMove:
    return count_part(
        name=name,
        counted=counted,
        person=shop.supervisor,
        stamp=shop.stamp(shop.supervisor, key=key),
        **more,  # type: ignore[arg-type]
    )


def receive(shop: SmallShop, name: str, quantity: int, *, key: str | None = None, **more: object) -> StockMove:
    return receive_parts(
        name=name,
        quantity=quantity,
        person=shop.supervisor,
        stamp=shop.stamp(shop.supervisor, key=key),
        **more,  # type: ignore[arg-type]
    )


def on_hand(name: str) -> int:
    return StockPart.objects.get(name=name).on_hand


def part(name: str) -> object:
    return next(each for each in parts_on_shelf() if each.name == name)


def test_a_first_count_makes_the_row_and_a_delivery_adds_to_it(shop: SmallShop) -> None:
    first = count(shop, " tension rod ", 40, reorder_at=100, place="B 3")
    assert (first.change, first.on_hand_after, first.reason, first.person_name) == (
        40,
        40,
        "first count",
        "Sam Supervisor",
    )
    assert (first.part.reorder_at, first.part.place) == (100, "B 3")
    came = receive(shop, "tension rod", 200, note="note 5512")
    assert (came.change, came.on_hand_after, came.reason) == (200, 240, "note 5512")
    assert (on_hand("tension rod"), StockPart.objects.get().place) == (240, "B 3")


def test_a_delivery_of_a_part_that_nobody_counted_asks_for_a_count(shop: SmallShop) -> None:
    with pytest.raises(QualityError, match="count the shelf with this delivery"):
        receive(shop, "tension rod", 200)
    assert not StockPart.objects.exists()


def test_a_corrected_count_needs_a_reason_and_says_the_difference(shop: SmallShop) -> None:
    count(shop, "tension rod", 40)
    with pytest.raises(QualityError, match="Say why"):
        count(shop, "tension rod", 38)
    assert count(shop, "tension rod", 38, reason="two bent").change == -2
    assert [(move.change, move.on_hand_after) for move in StockMove.objects.all()] == [(40, 40), (-2, 38)]


def test_a_count_of_a_shelf_that_moved_meanwhile_is_refused(shop: SmallShop) -> None:
    shell = with_bags(shop)
    count(shop, "tension rod", 40)
    fill(shop, shell)
    with pytest.raises(LostRace, match="stood at 40 when you began; it is 20 now"):
        count(shop, "tension rod", 39, reason="counted", expected=40)
    assert on_hand("tension rod") == 20


def test_a_delivery_of_a_lot_is_traced_to_bags_and_to_customers(shop: SmallShop) -> None:
    first, second = shop.released(quantity=2)
    count(shop, "tension rod", 20)
    fill(shop, first)
    rods = lot(shop, "R-7", LotKind.HARDWARE, "tension rod")
    with pytest.raises(QualityError, match="No lot has the code R-8"):
        receive(shop, "tension rod", 60, lot_code="R-8")
    assert on_hand("tension rod") == 0
    assert receive(shop, "tension rod", 60, lot_code=" r-7 ").lot == rods
    fill(shop, second)
    request = take_request(
        serial=first.serial, kind="spare", said="two rods", ship_to="Mill Road 3", parts={("rods", "tension rod"): 2},
        person=shop.supervisor, stamp=shop.stamp(shop.supervisor),
    )  # fmt: skip
    pick_request(number=request.number, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
    with CaptureQueriesContext(connection) as counted:
        (shelf,) = on_shelf(rods)
        assert [(move.change, move.of_serial) for move in shelf.taken] == [(-2, first.serial), (-20, second.serial)]
    assert len(counted) == 2
    assert shelf.receipt.change == 60
    assert on_shelf(lot(shop, "R-9", LotKind.HARDWARE, "tension rod")) == []


def test_a_lot_on_hold_stays_off_the_shelf(shop: SmallShop) -> None:
    with_bags(shop)
    count(shop, "tension rod", 20)
    held = lot(shop, "R-7", LotKind.HARDWARE, "tension rod")
    set_lot_state(lot=held, state=LotState.HELD, reason="bent", person=shop.supervisor, stamp=shop.stamp())
    with pytest.raises(QualityError, match="Lot R-7 is on hold"):
        receive(shop, "tension rod", 60, lot_code="R-7")
    assert on_hand("tension rod") == 20


def test_a_part_that_the_page_called_not_counted_is_not_counted_over(shop: SmallShop) -> None:
    with_bags(shop)
    assert count(shop, "tension rod", 40, expected=NOT_COUNTED).on_hand_after == 40
    with pytest.raises(LostRace, match=r"Somebody else counted tension rod \(40\) just now"):
        count(shop, "tension rod", 44, reason="counted", expected=NOT_COUNTED)
    assert on_hand("tension rod") == 40


@pytest.mark.parametrize("wrong", [-1, 1_000_001])
def test_counts_that_cannot_be_are_refused(shop: SmallShop, wrong: int) -> None:
    with pytest.raises(QualityError, match="whole number"):
        count(shop, "tension rod", wrong)
    with pytest.raises(QualityError, match="whole number"):
        count(shop, "tension rod", 1, reorder_at=wrong)
    count(shop, "tension rod", 1)
    with pytest.raises(QualityError, match="more than 0"):
        receive(shop, "tension rod", wrong)
    with pytest.raises(QualityError, match="more than 0"):
        receive(shop, "tension rod", 0)


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "tension road"])
def test_a_name_that_no_parts_list_has_is_refused(shop: SmallShop, name: str) -> None:
    with pytest.raises(QualityError):
        count(shop, name, 4)
    assert not StockPart.objects.exists()


def test_a_part_renamed_in_the_recipe_book_is_still_counted_while_a_drum_needs_it(shop: SmallShop) -> None:
    shop.released()
    Part.objects.filter(name="tension rod").update(name="tension rod, long")
    assert count(shop, "tension rod", 5).on_hand_after == 5
    assert count(shop, "tension rod, long", 6).on_hand_after == 6


def test_the_same_tap_twice_is_one_move(shop: SmallShop) -> None:
    assert count(shop, "tension rod", 40, key="a") == count(shop, "tension rod", 40, key="a")
    assert receive(shop, "tension rod", 5, key="b") == receive(shop, "tension rod", 5, key="b")
    assert on_hand("tension rod") == 45
    add_parts(shop)
    with pytest.raises(LostRace, match="sent already"):
        count(shop, "lug screw", 5, key="a")


def test_moves_are_kept_for_good(shop: SmallShop) -> None:
    move = count(shop, "tension rod", 40)
    for change in (lambda: StockMove.objects.update(change=1), move.delete):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_who_does_not_keep_materials_counts_and_receives_nothing(shop: SmallShop) -> None:
    for who in (shop.worker, shop.checker):
        with pytest.raises(NotQualified, match="may not receive"):
            count_part(name="tension rod", counted=4, person=who, stamp=shop.stamp(who))
        with pytest.raises(NotQualified, match="may not receive"):
            receive_parts(name="tension rod", quantity=4, person=who, stamp=shop.stamp(who))
    clerk = person("olga-office", Role.OFFICE)
    assert count_part(name="tension rod", counted=4, person=clerk, stamp=shop.stamp(clerk)).on_hand_after == 4


def test_the_shelf_serves_the_orders_by_their_due_days(shop: SmallShop) -> None:
    shop.released("K-late", quantity=2, due=date(2026, 12, 24))
    shop.released("K-soon", due=date(2026, 12, 1))
    count(shop, "tension rod", 30, reorder_at=10)
    (short,) = shortages().short
    assert (short.needed, short.on_hand, short.missing, short.to_buy) == (60, 30, 30, 40)
    assert [(each.need.order, each.missing) for each in short.short] == [("K-late", 30)]
    assert short.by == date(2026, 12, 24)
    count(shop, "tension rod", 15, reason="counted again")
    (short,) = shortages().short
    assert [(each.need.order, each.missing) for each in short.short] == [("K-soon", 5), ("K-late", 40)]
    assert short.by == date(2026, 12, 1)
    assert len(short.short[1].need.drums) == 2


def test_a_part_that_nobody_counted_is_not_counted_and_not_zero(shop: SmallShop) -> None:
    with_bags(shop)
    found = shortages()
    assert found.short == ()
    assert {each.name for each in found.not_counted} == {"tension rod", "lug screw", "lug washer", "batter head"}
    assert all(each.missing == 0 and not each.is_counted for each in found.not_counted)
    stock(shop, "batter head", 0)  # counted, and there are none: that is a shortage
    found = shortages()
    assert [each.name for each in found.short] == ["batter head"]
    assert "batter head" not in {each.name for each in found.not_counted}


def test_a_shelf_that_runs_low_is_asked_for_before_anything_is_missing(shop: SmallShop) -> None:
    shop.released()
    count(shop, "tension rod", 50, reorder_at=40)
    found = shortages()
    assert (found.short, [(each.name, each.left, each.to_buy) for each in found.low]) == ((), [("tension rod", 30, 10)])


def test_spares_are_needed_too_and_what_is_in_a_bag_is_needed_no_more(shop: SmallShop) -> None:
    shell = with_bags(shop)
    assert {need.part: need.pieces for need in needs()} == {
        "tension rod": 20,
        "lug screw": 22,
        "lug washer": 22,
        "batter head": 1,
    }
    fill(shop, shell, "screws")
    assert {need.part for need in needs()} == {"tension rod", "batter head"}
    reopen(shop, shell, "screws")
    assert "lug screw" in {need.part for need in needs()}


def test_of_a_stale_bag_only_the_difference_is_needed(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell, "screws")
    Part.objects.filter(name="lug screw").update(quantity=24)
    reissue_spec(
        serial=shell.serial,
        inputs=drum_inputs(shop.model, shop.finish, Shop.current()),
        reason="two lugs more",
        stamp=shop.stamp(shop.supervisor),
    )
    shell.refresh_from_db()
    assert still_to_take(bags_of(shell)[1:2]) == {"lug screw": 4}


@pytest.mark.parametrize("state", [ShellState.SCRAPPED, ShellState.REMADE, ShellState.FINISHED, ShellState.PACKED])
def test_a_drum_that_is_made_or_given_up_needs_nothing(shop: SmallShop, state: ShellState) -> None:
    shop.released()
    assert needs()
    Shell.objects.update(state=state)
    assert needs() == []


def test_once_its_assembly_is_signed_a_drum_needs_nothing_more(shop: SmallShop) -> None:
    shop.released()
    Operation.objects.filter(station__kind=StationKind.ASSEMBLE).update(state=OperationState.DONE)
    assert needs() == []


def test_a_count_below_zero_is_said_and_not_relied_on(shop: SmallShop) -> None:
    shells = shop.released(quantity=2)
    count(shop, "tension rod", 10)
    fill(shop, shells[0])
    (short,) = shortages().short
    assert (short.is_below_zero, short.on_hand, short.missing) == (True, 0, 20)


def test_shortages_cost_the_same_queries_for_many_drums(shop: SmallShop, django_assert_num_queries: object) -> None:
    add_parts(shop)
    shop.released("K-1", quantity=1)
    with django_assert_num_queries(4):  # type: ignore[operator]
        shortages()
    shop.released("K-2", quantity=8)
    with django_assert_num_queries(4):  # type: ignore[operator]
        assert len(shortages().not_counted) == 4
