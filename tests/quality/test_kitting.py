"""Bags: filled by the frozen list, checked by count or weight, opened again; what is missing, in words."""

from __future__ import annotations

from typing import Any

import pytest

from quality.bags import BagStand, bags_of, bags_of_shells, missing_among
from quality.errors import NotQualified, QualityError
from quality.kitting import count_bag, fill_bag, open_bag, weigh_bag
from quality.models import Bag, BagState, Carton, CartonDrum, Role, StockMove, StockPart
from quality.stock import count_part
from routing.errors import LostRace, NotAllowedNow
from routing.freezing import drum_inputs
from routing.history import broken_records
from routing.models import OrderState, Part, RecordKind, Shell, ShellRecord, ShellState, Shop
from routing.reissue import reissue_spec
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db

ROD_G, RODS = 17.0, 20


def missing_bags(shell: Shell) -> list[str]:
    return missing_among(shell.serial, bags_of(shell))


def with_bags(shop: SmallShop, **fields: object) -> Shell:
    """A released snare with rods that a scale can tell, screws and washers in one bag that it can't, and a loose head."""
    add_parts(shop)
    (shell,) = shop.released(**fields)  # type: ignore[arg-type]
    return shell


def add_parts(shop: SmallShop) -> None:
    rows = [
        ("lug screw", "screws", 20, 3.0, 1.0, 2),
        ("lug washer", "screws", 20, 0.05, 3.0, 2),
        ("batter head", "", 1, 120.0, 4.0, 0),
    ]
    for position, (name, bag, quantity, mass, tolerance, spare) in enumerate(rows, start=10):
        Part.objects.create(
            hardware=shop.model.hardware,
            position=position,
            name=name,
            bag=bag,
            quantity=quantity,
            unit_mass_g=mass,
            mass_tolerance_pct=tolerance,
            spare=spare,
        )


def fill(shop: SmallShop, shell: Shell, name: str = "rods", *, key: str | None = None, who: object = None) -> Bag:
    worker = who or shop.worker
    return fill_bag(serial=shell.serial, name=name, person=worker, stamp=shop.stamp(worker, key=key))  # type: ignore[arg-type]


def count(shop: SmallShop, shell: Shell, name: str, *counts: int, key: str | None = None) -> Bag:
    return count_bag(
        serial=shell.serial, name=name, counts=counts, person=shop.worker, stamp=shop.stamp(shop.worker, key=key)
    )


def weigh(shop: SmallShop, shell: Shell, name: str, weight_g: float, *, key: str | None = None) -> Bag:
    return weigh_bag(
        serial=shell.serial, name=name, weight_g=weight_g, person=shop.worker, stamp=shop.stamp(shop.worker, key=key)
    )


def reopen(shop: SmallShop, shell: Shell, name: str = "rods", *, key: str | None = None, **more: object) -> Bag:
    said: dict[str, object] = {"reason": "one rod is bent", "back": {}} | more
    return open_bag(serial=shell.serial, name=name, person=shop.worker, stamp=shop.stamp(shop.worker, key=key), **said)  # type: ignore[arg-type]


def stock(shop: SmallShop, name: str, counted: int) -> StockPart:
    return count_part(name=name, counted=counted, person=shop.supervisor, stamp=shop.stamp(shop.supervisor)).part


def test_bags_follow_the_frozen_list_and_the_loose_parts_come_last(shop: SmallShop) -> None:
    shell = with_bags(shop)
    assert [(each.place, each.of, each.title, each.state) for each in bags_of(shell)] == [
        (1, 2, "rods", BagStand.TO_FILL),
        (2, 2, "screws", BagStand.TO_FILL),
        (3, 2, "Loose parts", BagStand.TO_FILL),
    ]
    assert missing_bags(shell) == [f"Bags “rods” and “screws” of {shell.serial} are not filled."]
    Part.objects.filter(name="lug screw").update(quantity=99)  # the recipe changes; the frozen list does not
    assert bags_of(shell)[1].contents[0].quantity == 20


def test_a_bag_is_filled_counted_and_then_no_longer_missing(shop: SmallShop) -> None:
    shell = with_bags(shop)
    bag = fill(shop, shell, "screws")
    assert bag.contents == [
        {"name": "lug screw", "quantity": 20, "spare": 2},
        {"name": "lug washer", "quantity": 20, "spare": 2},
    ]
    assert f"Bag “screws” of {shell.serial} is filled, but nobody checked it." in missing_bags(shell)
    checked = count(shop, shell, "screws", 20, 20)
    assert (checked.state, checked.checked_how, checked.checked_by, checked.counts) == (
        BagState.CHECKED,
        "count",
        shop.worker,
        [20, 20],
    )
    assert missing_bags(shell) == [f"Bag “rods” of {shell.serial} is not filled."]
    kinds = list(ShellRecord.objects.filter(shell=shell).order_by("sequence").values_list("kind", flat=True))
    assert kinds[-2:] == [RecordKind.BAGGED, RecordKind.BAG_CHECK]
    shell.refresh_from_db()
    assert list(broken_records(shell)) == []


@pytest.mark.parametrize(
    ("counts", "named"), [((19, 20), "lug screw: 19 counted"), ((20, 21), "lug washer: 21 counted")]
)
def test_a_wrong_count_is_refused_and_names_its_line(shop: SmallShop, counts: tuple[int, int], named: str) -> None:
    shell = with_bags(shop)
    fill(shop, shell, "screws")
    with pytest.raises(QualityError, match=named) as refused:
        count(shop, shell, "screws", *counts)
    assert refused.value.code == "wrong_count"
    assert Bag.objects.get().state == BagState.FILLED
    assert not ShellRecord.objects.filter(kind=RecordKind.BAG_CHECK).exists()


def test_a_count_needs_every_line(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell, "screws")
    with pytest.raises(QualityError, match="every line"):
        count(shop, shell, "screws", 20)


def test_a_bag_is_weighed_inside_its_window_and_one_missing_rod_is_found(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    for wrong in (ROD_G * (RODS - 1), ROD_G * (RODS + 1)):
        with pytest.raises(QualityError, match="tension rod") as refused:
            weigh(shop, shell, "rods", wrong)
        assert refused.value.code == "wrong_weight"
    bag = weigh(shop, shell, "rods", ROD_G * RODS)
    assert bag.low_g is not None and bag.high_g is not None
    assert (bag.checked_how, bag.weight_g) == ("weight", 340.0)
    assert bag.low_g < 340.0 < bag.high_g
    body = ShellRecord.objects.get(kind=RecordKind.BAG_CHECK).body
    assert (body["weight_g"], body["low_g"], body["high_g"]) == (340.0, bag.low_g, bag.high_g)


@pytest.mark.parametrize("weight", [0.0, -3.0, float("nan"), float("inf")])
def test_a_weight_that_no_scale_shows_is_refused(shop: SmallShop, weight: float) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    with pytest.raises(QualityError, match="Enter what the scale shows"):
        weigh(shop, shell, "rods", weight)


def test_a_bag_that_a_scale_cannot_tell_must_be_counted(shop: SmallShop) -> None:
    shell = with_bags(shop)
    assert [each.may_weigh for each in bags_of(shell)] == [True, False, False]
    fill(shop, shell, "screws")
    with pytest.raises(QualityError, match="can't find one missing lug washer"):
        weigh(shop, shell, "screws", 61.0)
    fill(shop, shell, "")
    with pytest.raises(QualityError, match="Loose parts are counted"):
        weigh(shop, shell, "", 120.0)


def test_filling_takes_parts_and_spares_off_the_shelf_where_somebody_counted_them(shop: SmallShop) -> None:
    shell = with_bags(shop)
    screws = stock(shop, "lug screw", 30)
    bag = fill(shop, shell, "screws")
    screws.refresh_from_db()
    assert screws.on_hand == 8
    move = StockMove.objects.get(bag=bag)
    assert (move.change, move.on_hand_after, move.person) == (-22, 8, shop.worker)
    assert not StockPart.objects.filter(name="lug washer").exists()
    assert ShellRecord.objects.get(kind=RecordKind.BAGGED).body["taken"] == {"lug screw": 22}


def test_a_count_that_was_too_low_does_not_stop_the_work(shop: SmallShop) -> None:
    shell = with_bags(shop)
    screws = stock(shop, "lug screw", 10)
    fill(shop, shell, "screws")
    screws.refresh_from_db()
    assert screws.on_hand == -12


def test_opened_again_it_is_filled_as_the_next_attempt_and_the_shelf_gets_what_the_person_says(shop: SmallShop) -> None:
    shell = with_bags(shop)
    screws = stock(shop, "lug screw", 30)
    fill(shop, shell, "screws")
    count(shop, shell, "screws", 20, 20)
    reopen(shop, shell, "screws", back={0: 19, 1: 22})
    screws.refresh_from_db()
    assert screws.on_hand == 27
    assert missing_bags(shell) == [f"Bags “rods” and “screws” of {shell.serial} are not filled."]
    assert bags_of(shell)[1].stood_before
    body = ShellRecord.objects.get(kind=RecordKind.UNBAGGED).body
    assert (body["reason"], body["back"], body["shelved"]) == (
        "one rod is bent",
        {"lug screw": 19, "lug washer": 22},
        {"lug screw": 19},
    )
    again = fill(shop, shell, "screws")
    assert again.attempt == 2
    assert list(Bag.objects.order_by("attempt").values_list("state", flat=True)) == ["opened", "filled"]


def test_opening_needs_a_reason_and_no_more_goes_back_than_was_in_it(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    with pytest.raises(QualityError, match="Say why"):
        reopen(shop, shell, reason="  ")
    for wrong in (21, -1):
        with pytest.raises(QualityError, match="between 0 and 20"):
            reopen(shop, shell, back={0: wrong})
    assert Bag.objects.get().state == BagState.FILLED


def test_a_bag_in_a_closed_carton_stays_shut(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    carton = Carton.objects.create(
        order=shell.order, number=1, of=1, gross_g=1.0, closed_by=shop.worker, closed_at=shop.clock
    )
    CartonDrum.objects.create(carton=carton, shell=shell, place=1, record=ShellRecord.objects.latest("pk"))
    with pytest.raises(NotAllowedNow, match="Open carton 1 first, then open the bag"):
        reopen(shop, shell)
    carton.opened_at, carton.opened_by = shop.clock, shop.worker
    carton.save()
    assert reopen(shop, shell).state == BagState.OPENED


def test_a_new_revision_makes_a_filled_bag_stale_until_it_is_filled_by_the_new_list(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    weigh(shop, shell, "rods", 340.0)
    reissue_spec(
        serial=shell.serial,
        inputs=drum_inputs(shop.model, shop.finish, Shop.current()),
        reason="parts list changed",
        stamp=shop.stamp(shop.supervisor),
    )
    shell.refresh_from_db()
    assert bags_of(shell)[0].state == BagStand.STALE
    assert any("spec revision 1; the drum has revision 2" in sentence for sentence in missing_bags(shell))
    for act in (lambda: fill(shop, shell), lambda: count(shop, shell, "rods", 20)):
        with pytest.raises(NotAllowedNow, match="Open it again"):
            act()
    reopen(shop, shell, back={0: 20})
    assert fill(shop, shell).spec_revision == 2


def test_the_second_of_two_people_is_told_who_was_first(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    with pytest.raises(LostRace, match="Wanda Worker filled bag “rods”"):
        fill(shop, shell, who=shop.checker)
    weigh(shop, shell, "rods", 340.0)
    with pytest.raises(LostRace, match="Wanda Worker checked bag “rods”"):
        count(shop, shell, "rods", 20)
    reopen(shop, shell)
    with pytest.raises(LostRace, match="not filled now"):
        reopen(shop, shell)


def test_the_same_tap_twice_is_one_tap(shop: SmallShop) -> None:
    shell = with_bags(shop)
    rods = stock(shop, "tension rod", 100)
    assert fill(shop, shell, key="a") == fill(shop, shell, key="a")
    assert weigh(shop, shell, "rods", 340.0, key="b") == weigh(shop, shell, "rods", 340.0, key="b")
    assert reopen(shop, shell, key="c", back={0: 5}) == reopen(shop, shell, key="c", back={0: 5})
    rods.refresh_from_db()
    assert (Bag.objects.count(), rods.on_hand) == (1, 85)
    fill(shop, shell, key="d")
    assert count(shop, shell, "rods", 20, key="e") == count(shop, shell, "rods", 20, key="e")
    with pytest.raises(LostRace, match="something else"):
        count(shop, shell, "rods", 20, key="a")


def test_who_may_not_fill_bags_is_refused_everything(shop: SmallShop) -> None:
    shell = with_bags(shop)
    clerk = person("olga-office", Role.OFFICE)
    stamp = shop.stamp(clerk)
    where = {"serial": shell.serial, "name": "rods", "person": clerk, "stamp": stamp}
    acts = [
        lambda: fill_bag(**where),  # type: ignore[arg-type]
        lambda: count_bag(counts=[20], **where),  # type: ignore[arg-type]
        lambda: weigh_bag(weight_g=340.0, **where),  # type: ignore[arg-type]
        lambda: open_bag(reason="why", back={}, **where),  # type: ignore[arg-type]
    ]
    for act in acts:
        with pytest.raises(NotQualified, match="may not fill"):
            act()
    assert not Bag.objects.exists()


def test_nothing_is_filled_for_a_drum_that_is_scrapped_or_shipped(shop: SmallShop) -> None:
    shell = with_bags(shop)
    fill(shop, shell)
    Shell.objects.update(state=ShellState.SCRAPPED)
    with pytest.raises(NotAllowedNow, match="is scrapped"):
        fill(shop, shell, "screws")
    with pytest.raises(NotAllowedNow, match="is scrapped"):
        count(shop, shell, "rods", 20)
    assert reopen(shop, shell, back={0: 20}).state == BagState.OPENED  # its parts go back to the shelf
    Shell.objects.update(state=ShellState.PACKED)
    fill(shop, shell)
    shell.order.state = OrderState.SHIPPED
    shell.order.save()
    for act in (
        lambda: fill(shop, shell, "screws"),
        lambda: count(shop, shell, "rods", 20),
        lambda: reopen(shop, shell),
    ):
        with pytest.raises(NotAllowedNow, match="was shipped"):
            act()


def test_a_bag_that_the_list_does_not_have_and_one_that_is_not_filled(shop: SmallShop) -> None:
    shell = with_bags(shop)
    with pytest.raises(NotAllowedNow, match="has no bag “claws”"):
        fill(shop, shell, "claws")
    with pytest.raises(NotAllowedNow, match="not filled yet"):
        count(shop, shell, "rods", 20)
    with pytest.raises(Shell.DoesNotExist):
        fill_bag(serial="SS0000000X", name="rods", person=shop.worker, stamp=shop.stamp(shop.worker))


def test_the_bags_of_many_drums_cost_two_queries(shop: SmallShop, django_assert_num_queries: object) -> None:
    add_parts(shop)
    shells = shop.released(quantity=6)
    fill(shop, shells[0])
    with django_assert_num_queries(2):  # type: ignore[operator]
        found = bags_of_shells(shells)
        assert [each.state for each in found[shells[0].pk]][:2] == [BagStand.TO_CHECK, BagStand.TO_FILL]
        assert found[shells[0].pk][0].bag.filled_by.name == "Wanda Worker"  # type: ignore[union-attr]


def test_a_page_of_another_list_or_filling_fills_and_checks_nothing(shop: SmallShop) -> None:
    shell = with_bags(shop)
    page = bags_of(shell)[0]
    by: dict[str, Any] = {"serial": shell.serial, "name": page.name, "person": shop.worker}
    with pytest.raises(LostRace, match="changed since this page"):
        fill_bag(**by, seen="7-0", stamp=shop.stamp(shop.worker))
    fill_bag(**by, seen=page.seen, stamp=shop.stamp(shop.worker))
    filled = bags_of(shell)[0]
    assert filled.seen != page.seen
    with pytest.raises(LostRace, match="changed since this page"):
        count_bag(**by, counts=[line.quantity for line in page.contents], seen=page.seen, stamp=shop.stamp(shop.worker))
    with pytest.raises(LostRace, match="changed since this page"):
        open_bag(**by, reason="torn", back={}, seen=page.seen, stamp=shop.stamp(shop.worker))
    count_bag(**by, counts=[line.quantity for line in page.contents], seen=filled.seen, stamp=shop.stamp(shop.worker))
    assert bags_of(shell)[0].state == BagStand.CHECKED
