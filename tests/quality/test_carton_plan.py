"""The numbering of the cartons of an order, and the labels that have it."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from quality.carton_contents import packing_of
from quality.carton_plan import carton_of, carton_plan
from quality.cartons import CartonRefused, close_carton, ship
from quality.models import Carton
from quality.verification import verify_shell
from routing.errors import LostRace, NotAllowedNow
from routing.kits import kit_of
from routing.models import DrumModel, Finish, KitLine, KitOrder, OrderState, Shell, ShellState
from routing.release import release_order
from tests.quality.order_in_cartons import PACK, close, reopen, seen_at, the_order
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop


def one_replaced_with_the_other_in_a_carton(shop: SmallShop) -> tuple[Shell, Shell]:
    first, second = shop.released(quantity=2)
    sign_through(shop, second, PACK)
    shop.fill_bags(second)
    close(shop, 2)
    # The plan would now number them the other way round: the one in place of the first comes last.
    first.state = ShellState.SCRAPPED
    first.save()
    instead = Shell.objects.create(
        serial="SS26-09997", order=first.order, line=first.line, model=first.model, finish=first.finish,
        replaces=first, released_at=shop.clock,
    )  # fmt: skip
    spec = first.specs.get()
    spec.pk, spec.shell = None, instead
    spec.save()
    return instead, second


def large_and_small(shop: SmallShop) -> KitOrder:
    """Two drums of which one goes into the other."""
    for code, diameter, depth in (("large", 16, 14), ("small", 10, 4)):
        model = DrumModel.objects.get(code="heron-snare-14x5-5")
        model.pk, model.code, model.nominal_diameter_in, model.nominal_depth_in = None, code, diameter, depth
        model.save()
    order = shop.order()
    order.lines.update(model=DrumModel.objects.get(code="small"))
    KitLine.objects.create(
        order=order, position=2, model=DrumModel.objects.get(code="large"), finish=Finish.objects.get(), quantity=1
    )
    release_order(number="K-1", stamp=shop.stamp(shop.supervisor))
    return order


@pytest.mark.django_db
class TestLabels:
    """Of three cartons two are left when a drum is scrapped and not replaced: “3 of 3” would be waited for."""

    @pytest.fixture
    def fewer(self, shop: SmallShop) -> list[Shell]:
        shells = shop.released(quantity=3)
        for shell in shells[1:]:
            sign_through(shop, shell, PACK)
            shop.fill_bags(shell)
        close(shop, 2)
        assert (seen_at(shop, 3), Carton.objects.get().of) == (f"3 of 3: {shells[2].serial}", 3)
        Shell.objects.filter(pk=shells[0].pk).update(state=ShellState.REMADE)
        KitOrder.objects.update(state=OrderState.COMPLETE)
        return shells

    def test_a_carton_that_was_planned_anew_is_not_closed_by_an_old_page(
        self, shop: SmallShop, fewer: list[Shell]
    ) -> None:
        old = f"3 of 3: {fewer[2].serial}"
        by_worker: dict[str, Any] = {"order": the_order(), "person": shop.worker, "stamp": shop.stamp(shop.worker)}
        with pytest.raises(NotAllowedNow, match="travels in 2 cartons; there is no carton 3"):
            close_carton(number=3, seen=old, **by_worker)
        with pytest.raises(LostRace, match=f"carton 1 of 2 holds {fewer[2].serial}. Look at it again"):
            close_carton(number=1, seen=f"1 of 3: {fewer[0].serial}", **by_worker)
        assert close_carton(number=1, seen=seen_at(shop, 1), **by_worker).carton.of == 2

    def test_a_label_of_the_old_count_is_said_and_does_not_ship(self, shop: SmallShop, fewer: list[Shell]) -> None:
        close(shop, 1)
        packing = packing_of(the_order(), shop.clock)
        assert packing is not None and packing.all_closed and packing.old_labels
        assert [(carton.label, carton.of, bool(carton.old_label)) for carton in packing.cartons] == [
            ("1 of 2", 2, False),
            ("2 of 3", 2, True),
        ]
        plan, there = carton_plan(the_order()), carton_of(fewer[1])
        assert plan is not None and there is not None and there.label == "2 of 3"
        # The kit by itself, which knows of no closed carton, would say “1 of 2” of it.
        assert plan.kit.serials[0] == (fewer[1].serial,)
        sentence = "The label of carton 2 says 2 of 3, but the order travels in 2 now."
        with pytest.raises(CartonRefused) as refusal:
            ship(number="K-1", stamp=shop.stamp(shop.supervisor))
        assert [missing.startswith(sentence) for missing in refusal.value.missing] == [True]
        reopen(shop, 2, "new label")
        assert close(shop, 2).of == 2
        assert ship(number="K-1", stamp=shop.stamp(shop.supervisor)).state == OrderState.SHIPPED
        for shell in fewer:
            assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []


@pytest.mark.django_db
class TestThePlan:
    def test_an_inner_drum_goes_in_first(self, shop: SmallShop) -> None:
        order = large_and_small(shop)
        packing = packing_of(order, shop.clock)
        assert packing is not None
        (carton,) = packing.cartons
        assert [drum.name for drum in carton.drums] == ["16 × 14 in snare", "10 × 4 in snare"]
        assert [drum.name for drum in carton.nesting] == ["10 × 4 in snare", "16 × 14 in snare"]
        assert carton.two_people == (carton.gross_g > 15_000)

    def test_a_closed_carton_keeps_its_number_when_another_drum_is_replaced(self, shop: SmallShop) -> None:
        instead, second = one_replaced_with_the_other_in_a_carton(shop)
        packing = packing_of(the_order(), shop.clock)
        assert packing is not None
        assert [(carton.number, carton.of, carton.serials) for carton in packing.cartons] == [
            (1, 2, (instead.serial,)),
            (2, 2, (second.serial,)),
        ]
        assert [carton.closed is not None for carton in packing.cartons] == [False, True]

    def test_tablet_and_page_number_the_cartons_alike(self, shop: SmallShop) -> None:
        first, second = one_replaced_with_the_other_in_a_carton(shop)
        packing = packing_of(the_order(), shop.clock)
        assert packing is not None
        on_the_page = {serial: carton.label for carton in packing.cartons for serial in carton.serials}
        at_the_tablet = {shell.serial: carton_of(shell) for shell in (first, second)}
        assert {serial: found and found.label for serial, found in at_the_tablet.items()} == on_the_page
        assert on_the_page == {first.serial: "1 of 2", second.serial: "2 of 2"}

    def test_what_the_best_plan_warns_of_is_said(self, shop: SmallShop) -> None:
        large_and_small(shop)
        packing = packing_of(the_order(), shop.clock)
        assert packing is not None and packing.warnings == tuple(
            warning.message
            for warning in kit_of(the_order()).packing.warnings  # type: ignore[union-attr]
        )

    def test_more_drums_take_no_more_queries(self, shop: SmallShop) -> None:
        def queries(number: str) -> int:
            with CaptureQueriesContext(connection) as counted:
                assert packing_of(KitOrder.objects.get(number=number), shop.clock) is not None
            return len(counted)

        shop.released("K-1", 1)
        shop.released("K-9", 9)
        assert queries("K-1") == queries("K-9")
