"""A bad lot or glue batch: every shell it is in is held, what left is named, and release is one sentence."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from quality.cartons import ship
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.lot_hold import hold_glue_batch, hold_lot, only_for, release_shells, rows_of
from quality.lots import set_lot_state
from quality.models import (
    GlueBatch,
    HeldShell,
    HoldOutcome,
    LotHold,
    LotKind,
    LotState,
    MaterialLot,
    Person,
    Problem,
    ProblemState,
    Role,
)
from quality.problems import report_problem, settle_problem
from quality.trace import story_of
from quality.verification import verify_shell
from routing.errors import LostRace
from routing.models import KitOrder, Operation, OperationState, OrderState, RecordKind, Shell, ShellRecord, ShellState
from tests.quality.test_glue_batches import at_press, mix
from tests.quality.test_materials import lot, sign
from tests.quality.test_races import at_once
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, person, small_shop

WHY = "delaminates at the seam"


def hold(shop: SmallShop, bad: MaterialLot, *, key: str | None = None, who: Person | None = None) -> LotHold:
    who = who or shop.supervisor
    return hold_lot(lot=bad, reason=WHY, person=who, stamp=shop.stamp(who, key=key, device="office"))


def release(shop: SmallShop, held: LotHold, *, key: str | None = None, who: Person | None = None) -> Any:
    who = who or shop.supervisor
    return release_shells(hold=held, settlement="pulled apart, good", person=who, stamp=shop.stamp(who, key=key))


def outcomes(held: LotHold) -> dict[str, str]:
    return {row.shell.serial: row.outcome for row in rows_of(held)}


def cut_from(shop: SmallShop, quantity: int = 1, number: str = "K-1") -> tuple[MaterialLot, list[Shell]]:
    bad = MaterialLot.objects.filter(code="P-1").first() or lot(shop)
    shells = shop.released(number, quantity)
    for shell in shells:
        sign(shop, shell, plate_birch_3_0="P-1")
    return bad, shells


def holds(*shells: Shell) -> list[str]:
    """Their states now; each chain must be whole."""
    for shell in shells:
        shell.refresh_from_db()
        assert list(verify_shell(shell)) == []
    return [shell.state for shell in shells]


@pytest.mark.django_db
class TestHolding:
    def test_every_shell_of_the_lot_is_held_with_its_name(self, shop: SmallShop) -> None:
        bad, (first, second) = cut_from(shop, 2)
        other = shop.released("K-2")[0]
        held = hold(shop, bad)
        assert outcomes(held) == {first.serial: HoldOutcome.HELD, second.serial: HoldOutcome.HELD}
        assert holds(first, second, other) == [ShellState.ON_HOLD, ShellState.ON_HOLD, ShellState.PLANNED]
        problem = Problem.objects.get(shell=first)
        assert problem.text == f"Lot P-1 Birch 3.0 is on hold: {WHY}"
        assert problem.operation == shop.step(first, 2)
        record = ShellRecord.objects.get(shell=first, kind=RecordKind.HELD)
        assert (record.body["lot"], record.body["problem"]) == ("P-1", problem.pk)
        assert "P-1" in story_of(first).events[-1].detail
        bad.refresh_from_db()
        assert bad.state == LotState.HELD
        assert bad.changes.last().reason == WHY  # type: ignore[union-attr]

    def test_glue_mixed_from_the_lot_counts_and_is_closed(self, shop: SmallShop) -> None:
        resin = lot(shop, "RES-7", LotKind.GLUE, "powder")
        glued, plain = at_press(shop, 2)
        batch = mix(shop, lots={1: "RES-7"})
        sign(shop, glued, 2, glue=batch.code)
        held = hold(shop, resin)
        assert outcomes(held) == {glued.serial: HoldOutcome.HELD}
        with pytest.raises(ReadingRefused) as refused:
            sign(shop, plain, 2, glue=batch.code)
        assert refused.value.code == "batch_empty"
        with pytest.raises(ReadingRefused):
            mix(shop, lots={1: "RES-7"})
        assert holds(glued, plain) == [ShellState.ON_HOLD, ShellState.IN_PRODUCTION]

    def test_a_glue_batch_alone(self, shop: SmallShop) -> None:
        glued, plain = at_press(shop, 2)
        bad, good = mix(shop), mix(shop)
        sign(shop, glued, 2, glue=bad.code)
        sign(shop, plain, 2, glue=good.code)
        held = hold_glue_batch(batch=bad, reason=WHY, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
        assert outcomes(held) == {glued.serial: HoldOutcome.HELD}
        assert bad.code in Problem.objects.get().text
        assert list(GlueBatch.objects.filter(is_empty=True)) == [bad]
        assert holds(plain) == [ShellState.IN_PRODUCTION]

    def test_a_held_shell_gets_the_finding_in_its_story_and_stays_held(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        report_problem(serial=shell.serial, position=2, person=shop.worker, text="dent", stamp=shop.stamp(shop.worker))
        held = hold(shop, bad)
        assert outcomes(held) == {shell.serial: HoldOutcome.ADDED}
        assert holds(shell) == [ShellState.ON_HOLD]
        assert Problem.objects.get().text == f"dent; Lot P-1 Birch 3.0 is on hold: {WHY}"
        added = story_of(shell).events[-1]
        assert (added.kind, added.detail) == ("found", f"Lot P-1 Birch 3.0 is on hold: {WHY}")
        settle_problem(serial=shell.serial, person=shop.supervisor, settlement="filled", stamp=shop.stamp())
        assert holds(shell) == [ShellState.IN_PRODUCTION]

    def test_what_left_is_the_recall_list_and_comes_first(self, shop: SmallShop) -> None:
        bad, (packed,) = cut_from(shop, number="K-1")
        _, (shipped,) = cut_from(shop, number="K-2")
        _, (scrapped, here) = cut_from(shop, 2, number="K-3")
        for shell in (packed, shipped):
            sign_through(shop, shell, 8, first=2)
        shop.close_cartons("K-2")
        ship(number="K-2", stamp=shop.stamp(shop.supervisor))
        Shell.objects.filter(pk=scrapped.pk).update(state=ShellState.SCRAPPED)
        held = hold(shop, bad)
        assert [(row.shell.serial, row.outcome, row.state_then) for row in rows_of(held)] == [
            (packed.serial, "left", "packed"),
            (shipped.serial, "left", "shipped"),
            (here.serial, "held", "in production"),
            (scrapped.serial, "scrapped", "scrapped"),
        ]
        assert holds(packed, shipped, here) == [ShellState.PACKED, ShellState.PACKED, ShellState.ON_HOLD]

    def test_a_scrapped_drum_of_an_order_that_left_did_not_leave_with_it(self, shop: SmallShop) -> None:
        bad, (packed, scrapped) = cut_from(shop, 2)
        Shell.objects.filter(pk=packed.pk).update(state=ShellState.PACKED)
        Shell.objects.filter(pk=scrapped.pk).update(state=ShellState.SCRAPPED)
        KitOrder.objects.update(state=OrderState.SHIPPED)
        then = {row.shell.serial: row.state_then for row in rows_of(hold(shop, bad))}
        assert then == {packed.serial: "shipped", scrapped.serial: "scrapped"}

    def test_a_shell_without_an_open_step_is_named_and_stops_nobody(self, shop: SmallShop) -> None:
        bad, (odd, plain) = cut_from(shop, 2)
        Operation.objects.filter(shell=odd, state=OperationState.READY).update(state=OperationState.WAITING)
        assert outcomes(hold(shop, bad)) == {odd.serial: HoldOutcome.STUCK, plain.serial: HoldOutcome.HELD}

    def test_the_same_tap_twice_is_once(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        assert hold(shop, bad, key="tap") == hold(shop, bad, key="tap")
        assert ShellRecord.objects.filter(shell=shell, kind=RecordKind.HELD).count() == 1
        with pytest.raises(LostRace) as refused:
            hold(shop, lot(shop, "P-2"), key="tap")
        assert refused.value.code == "key_used"
        assert MaterialLot.objects.get(code="P-2").state == LotState.RECEIVED

    def test_a_tap_that_stopped_half_way_is_finished_by_its_repetition(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        stamp = shop.stamp(shop.supervisor, key="tap")
        set_lot_state(lot=bad, state=LotState.HELD, reason=WHY, person=shop.supervisor, stamp=stamp)
        assert outcomes(hold(shop, bad, key="tap")) == {shell.serial: HoldOutcome.HELD}

    def test_again_takes_only_what_is_new(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        first = hold(shop, bad)
        release(shop, first)
        with pytest.raises(LostRace) as refused:
            hold(shop, bad)
        assert refused.value.code == "held_already"
        MaterialLot.objects.update(state=LotState.OPEN)  # entered late from paper: the lot was good then
        late = shop.released("K-2")[0]
        sign(shop, late, plate_birch_3_0="P-1")
        MaterialLot.objects.update(state=LotState.HELD)
        assert outcomes(hold(shop, bad)) == {late.serial: HoldOutcome.HELD}
        assert holds(shell, late) == [ShellState.IN_PRODUCTION, ShellState.ON_HOLD]

    def test_a_lot_that_is_freed_and_held_anew_holds_everything_again(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        release(shop, hold(shop, bad))
        set_lot_state(lot=bad, state=LotState.OPEN, reason="good", person=shop.supervisor, stamp=shop.stamp())
        assert outcomes(hold(shop, bad)) == {shell.serial: HoldOutcome.HELD}

    def test_an_unused_lot_has_an_empty_list(self, shop: SmallShop) -> None:
        assert outcomes(hold(shop, lot(shop))) == {}

    def test_who_may_and_what_must_be_said(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        office = person("olive-office", Role.OFFICE)
        with pytest.raises(NotQualified):
            hold(shop, bad, who=shop.worker)
        with pytest.raises(QualityError) as silent:
            hold_lot(lot=bad, reason=" ", person=shop.supervisor, stamp=shop.stamp())
        assert silent.value.code == "nothing_said"
        assert holds(shell) == [ShellState.IN_PRODUCTION]
        held = hold(shop, bad, who=office)
        with pytest.raises(NotQualified):
            release(shop, held, who=office)
        assert holds(shell) == [ShellState.ON_HOLD]

    def test_the_list_cannot_be_changed(self, shop: SmallShop) -> None:
        bad, _ = cut_from(shop)
        hold(shop, bad)
        for rows in (LotHold.objects, HeldShell.objects):
            with pytest.raises(DatabaseError), transaction.atomic():
                rows.all().delete()
        with pytest.raises(DatabaseError), transaction.atomic():
            HeldShell.objects.update(outcome=HoldOutcome.LEFT)


@pytest.mark.django_db
class TestReleasing:
    def test_freeing_the_lot_releases_no_shell(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        hold(shop, bad)
        set_lot_state(lot=bad, state=LotState.OPEN, reason="good", person=shop.supervisor, stamp=shop.stamp())
        assert holds(shell) == [ShellState.ON_HOLD]

    def test_those_held_for_this_lot_alone_are_released_with_one_sentence(self, shop: SmallShop) -> None:
        bad, (alone, dented, twice) = cut_from(shop, 3)
        report_problem(serial=dented.serial, position=2, person=shop.worker, text="dent", stamp=shop.stamp(shop.worker))
        batch = mix(shop)
        sign(shop, twice, 2, glue=batch.code)
        held = hold(shop, bad)
        hold_glue_batch(batch=batch, reason="too cold", person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
        assert [row.shell for row in only_for(held)] == [alone]
        done = release(shop, held, key="tap")
        assert (done.released, done.still_held) == ((alone.serial,), tuple(sorted([dented.serial, twice.serial])))
        assert holds(alone, dented, twice) == [ShellState.IN_PRODUCTION, ShellState.ON_HOLD, ShellState.ON_HOLD]
        problem = Problem.objects.get(shell=alone)
        assert (problem.state, problem.settlement) == (ProblemState.SETTLED, "pulled apart, good")
        assert release(shop, held, key="tap") == done
        assert ShellRecord.objects.filter(kind=RecordKind.RESUMED).count() == 1
        with pytest.raises(LostRace) as refused:
            release(shop, held, key="another")
        assert refused.value.code == "nothing_held"

    def test_a_shell_that_was_settled_and_found_again_is_not_released(self, shop: SmallShop) -> None:
        bad, (shell,) = cut_from(shop)
        held = hold(shop, bad)
        settle_problem(serial=shell.serial, person=shop.supervisor, settlement="looked at", stamp=shop.stamp())
        report_problem(serial=shell.serial, position=2, person=shop.worker, text="dent", stamp=shop.stamp(shop.worker))
        with pytest.raises(LostRace):
            release(shop, held)
        assert holds(shell) == [ShellState.ON_HOLD]

    def test_a_reason_is_needed(self, shop: SmallShop) -> None:
        held = hold(shop, cut_from(shop)[0])
        with pytest.raises(QualityError) as refused:
            release_shells(hold=held, settlement="", person=shop.supervisor, stamp=shop.stamp())
        assert refused.value.code == "nothing_said"


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_the_same_tap_from_two_hands(self, transactional_db: None) -> None:
        shop = small_shop()
        bad, shells = cut_from(shop, 3)
        assert at_once(*[lambda: hold(shop, bad, key="tap")] * 3) == Counter(done=3)
        assert LotHold.objects.count() == 1
        assert holds(*shells) == [ShellState.ON_HOLD] * 3

    def test_no_shell_slips_through_while_the_lot_is_held(self, transactional_db: None) -> None:
        """The second coat is signed with the lot at the moment it is held: it is held with it, or the lot is refused."""
        shop = small_shop()
        clear = lot(shop, "CL-1", LotKind.COATING, "clear")
        shells = shop.released(quantity=4)
        for shell in shells:
            sign_through(shop, shell, 3)
        shop.wait(hours=60)
        sign(shop, shells[0], 4, coating="CL-1")
        shop.wait(hours=60)
        deeds: list[Any] = [lambda: hold(shop, clear)]
        deeds.append(lambda: sign(shop, shells[0], 5, coating="CL-1"))
        deeds += [lambda shell=shell: sign(shop, shell, 4, coating="CL-1") for shell in shells[1:]]
        ended = at_once(*deeds)
        assert set(ended) <= {"done", "lot_held", "on_hold"}
        used = Shell.objects.filter(operations__sign_offs__materials__lot=clear).distinct()
        assert shells[0] in used
        assert holds(*used) == [ShellState.ON_HOLD] * len(used)
