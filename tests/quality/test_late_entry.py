"""Signatures from paper: whose they are, when they count, and what a supervisor can't enter."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from quality.actions import begin_step, final_check_of, sign_off, withdraw_sign_off
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.glue_batches import use_up
from quality.late_entry import OLDEST, earliest_on_paper, enter_late, late_entries
from quality.lots import receive_lot, set_lot_state
from quality.models import (
    CheckPoint,
    GlueBatch,
    LotKind,
    LotState,
    MaterialUse,
    Person,
    Qualification,
    Reading,
    Role,
    SignOff,
)
from quality.problems import report_problem, settle_problem
from quality.verification import verify_shell
from routing.append_only import protect, unprotect
from routing.errors import LostRace, NotAllowedNow
from routing.models import Glue, OperationState, RouteStep, Shell, ShellRecord, ShellState
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


def enter(
    shop: SmallShop,
    shell: Shell,
    position: int,
    on_paper_at: datetime,
    who: Person | None = None,
    *,
    key: str | None = None,
    **more: Any,
) -> SignOff:
    by = more.pop("entered_by", shop.supervisor)
    return enter_late(
        serial=shell.serial,
        position=position,
        signed_by=who or shop.worker,
        entered_by=by,
        on_paper_at=on_paper_at,
        answers=more.pop("answers", {}),
        stamp=shop.stamp(by, key=key, device="office"),
        **more,
    ).sign_off


def nothing_written(shell: Shell) -> bool:
    shell.refresh_from_db()
    return not SignOff.objects.exists() and shell.chain_length == 1


@pytest.fixture
def shell(shop: SmallShop) -> Shell:
    """Released on 2 November at 09:00 in the shop; it is ten days later now."""
    made = shop.released()[0]
    shop.wait(days=10)
    return made


@pytest.fixture
def released(shell: Shell) -> datetime:
    return shell.released_at


class TestEntering:
    def test_the_signature_is_the_signers_at_the_papers_time(
        self, shop: SmallShop, shell: Shell, released: datetime
    ) -> None:
        at = released + timedelta(hours=2)
        signed = enter(shop, shell, 1, at, note="from the traveler")
        assert (signed.person, signed.at, signed.entered_by) == (shop.worker, at, shop.supervisor)
        record = signed.record
        assert (record.person_name, record.at, record.received_at) == (shop.worker.name, at, shop.clock)
        assert record.device == "paper"
        assert record.body["note"] == "from the traveler"
        late = record.body["late"]
        assert (late["signed_by"], late["entered_by"]) == (shop.worker.name, shop.supervisor.name)
        assert datetime.fromisoformat(late["on_paper_at"]) == at
        assert datetime.fromisoformat(late["entered_at"]) == shop.clock
        assert shop.step(shell, 1).done_at == at

    def test_three_steps_in_order_and_the_dwell_counts_from_paper(
        self, shop: SmallShop, shell: Shell, released: datetime
    ) -> None:
        enter(shop, shell, 1, released + timedelta(hours=1))
        enter(shop, shell, 2, released + timedelta(hours=2))
        edge = shop.step(shell, 3)
        assert edge.state == OperationState.READY
        assert edge.not_before == released + timedelta(hours=50)
        enter(shop, shell, 3, released + timedelta(hours=50))
        assert [each.operation.position for each in late_entries(shell)] == [1, 2, 3]
        assert list(verify_shell(Shell.objects.get())) == []
        assert shop.step(shell, 4).state == OperationState.READY
        # and the tablet goes on from there
        sign_off(serial=shell.serial, position=4, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))

    def test_readings_are_kept_and_judged(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        check = CheckPoint.objects.create(
            code="t", station=shop.stations["cut"], text="Thickness", kind="measured", nominal=3.0, minus=0.2, plus=0.2
        )
        at = released + timedelta(hours=1)
        with pytest.raises(ReadingRefused, match="Still to be checked: Thickness"):
            enter(shop, shell, 1, at)
        with pytest.raises(ReadingRefused, match="does not pass"):
            enter(shop, shell, 1, at, answers={str(check.pk): "3.4"})
        assert nothing_written(shell)
        assert shop.step(shell, 1).ready_at == released
        enter(shop, shell, 1, at, answers={str(check.pk): "3.1"})
        assert Reading.objects.get().value == 3.1
        assert list(verify_shell(Shell.objects.get())) == []

    def test_a_supervisor_may_enter_their_own(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        signed = enter(shop, shell, 1, released + timedelta(hours=1), shop.supervisor)
        assert signed.person == signed.entered_by == shop.supervisor
        assert signed.record.body["late"]["entered_by"] == signed.record.body["late"]["signed_by"]

    @pytest.mark.parametrize("role", [role for role in Role if role != Role.SUPERVISOR])
    def test_nobody_else_may(self, shop: SmallShop, shell: Shell, released: datetime, role: Role) -> None:
        other = person(f"other-{role.value}", role, stations=list(shop.stations.values()))
        with pytest.raises(NotQualified, match="may not enter signatures from paper"):
            enter(shop, shell, 1, released + timedelta(hours=1), entered_by=other)
        assert nothing_written(shell)

    def test_a_form_sent_twice_is_one_signature(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        at = released + timedelta(hours=1)
        first = enter(shop, shell, 1, at, key="form-1")
        assert enter(shop, shell, 1, at, key="form-1") == first
        assert SignOff.objects.count() == 1
        assert ShellRecord.objects.filter(kind="signed").count() == 1

    def test_somebody_signed_meanwhile(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        sign_off(serial=shell.serial, position=1, person=shop.checker, answers={}, stamp=shop.stamp(shop.checker))
        with pytest.raises(LostRace, match="Chris Checker signed"):
            enter(shop, shell, 1, released + timedelta(hours=1), key="form-1")
        assert SignOff.objects.count() == 1

    def test_only_the_next_step(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        with pytest.raises(NotAllowedNow, match="cut.*comes first"):
            enter(shop, shell, 2, released + timedelta(hours=1))
        with pytest.raises(NotAllowedNow, match="no step 99"):
            enter(shop, shell, 99, released + timedelta(hours=1))
        assert nothing_written(shell)

    def test_a_wrong_entry_is_withdrawn_and_entered_again(
        self, shop: SmallShop, shell: Shell, released: datetime
    ) -> None:
        enter(shop, shell, 1, released + timedelta(hours=1), shop.checker)
        withdraw_sign_off(
            serial=shell.serial, position=1, person=shop.supervisor, reason="misread", stamp=shop.stamp(shop.supervisor)
        )
        again = enter(shop, shell, 1, released + timedelta(hours=1))
        assert (again.person, again.attempt) == (shop.worker, 2)
        assert shop.step(shell, 2).ready_at == released + timedelta(hours=1)
        assert list(verify_shell(Shell.objects.get())) == []


class TestTime:
    def refused(self, shop: SmallShop, shell: Shell, position: int, at: datetime, code: str) -> str:
        before = ShellRecord.objects.count()
        with pytest.raises(QualityError) as error:
            enter(shop, shell, position, at)
        assert error.value.code == code
        assert ShellRecord.objects.count() == before
        return error.value.message

    def test_in_the_future(self, shop: SmallShop, shell: Shell) -> None:
        said = self.refused(shop, shell, 1, shop.clock + timedelta(minutes=1), "in_future")
        assert said.startswith("2026-11-12 09:01 is still to come")
        assert enter(shop, shell, 1, shop.clock).at == shop.clock

    def test_before_the_release(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        said = self.refused(shop, shell, 1, released - timedelta(minutes=1), "too_early")
        assert f"{shell.serial} was released" in said
        assert "2026-11-02 09:00" in said
        assert enter(shop, shell, 1, released).at == released

    def test_before_the_step_before(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        enter(shop, shell, 1, released + timedelta(hours=5))
        said = self.refused(shop, shell, 2, released + timedelta(hours=4, minutes=59), "too_early")
        assert "2026-11-02 14:00 cut was signed" in said
        assert enter(shop, shell, 2, released + timedelta(hours=5))

    def test_inside_the_dwell(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        enter(shop, shell, 1, released)
        enter(shop, shell, 2, released + timedelta(hours=1))
        said = self.refused(shop, shell, 3, released + timedelta(hours=48, minutes=59), "too_early")
        assert "2026-11-04 10:00 the curing after press ended" in said
        assert enter(shop, shell, 3, released + timedelta(hours=49))

    def test_while_a_dwell_still_runs(self, shop: SmallShop, shell: Shell) -> None:
        enter(shop, shell, 1, shop.clock)
        enter(shop, shell, 2, shop.clock)
        self.refused(shop, shell, 3, shop.clock, "too_early")

    def test_more_than_sixty_days_ago(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        shop.clock = released + OLDEST + timedelta(minutes=1)
        assert "60 days" in self.refused(shop, shell, 1, released, "too_old")
        shop.clock = released + OLDEST
        assert enter(shop, shell, 1, released)

    def test_paper_knows_no_seconds(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        tapped = released + timedelta(minutes=5, seconds=40)
        shop.clock = tapped
        sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
        shop.wait(hours=1)
        assert enter(shop, shell, 2, released + timedelta(minutes=5)).at == tapped
        assert shop.step(shell, 3).not_before == tapped + timedelta(hours=48)

    def test_before_the_work_was_begun_at_the_tablet(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        begin_step(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            station=shop.stations["cut"],
            stamp=shop.stamp(shop.worker),
        )
        said = self.refused(shop, shell, 1, released + timedelta(hours=1), "too_early")
        assert "Wanda Worker began at the tablet" in said

    def test_around_a_hold(self, shop: SmallShop, shell: Shell) -> None:
        held = shop.clock
        report_problem(serial=shell.serial, position=1, person=shop.worker, text="void", stamp=shop.stamp(shop.worker))
        with pytest.raises(NotAllowedNow, match="on hold"):
            enter(shop, shell, 1, held - timedelta(hours=1))
        shop.wait(hours=3)
        settle_problem(
            serial=shell.serial, person=shop.supervisor, settlement="filled", stamp=shop.stamp(shop.supervisor)
        )
        assert "was on hold from" in self.refused(shop, shell, 1, held + timedelta(hours=1), "was_on_hold")
        signed = enter(shop, shell, 1, held - timedelta(hours=1))
        assert shop.step(shell, 1).done_at == signed.at == held - timedelta(hours=1)

    def test_what_the_screen_says_beforehand(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        assert earliest_on_paper(shell, shop.step(shell, 1)).at == released
        enter(shop, shell, 1, released)
        enter(shop, shell, 2, released)
        assert earliest_on_paper(shell, shop.step(shell, 3)).at == released + timedelta(hours=48)


class TestWho:
    def test_not_qualified_on_that_day(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        Qualification.objects.filter(person=shop.worker, station=shop.stations["cut"]).update(
            valid_from=date(2026, 11, 5)
        )
        with pytest.raises(NotQualified, match="only from 2026-11-05"):
            enter(shop, shell, 1, released + timedelta(days=2))
        assert nothing_written(shell)
        assert enter(shop, shell, 1, released + timedelta(days=3))

    def test_the_day_is_the_shops(self, shop: SmallShop, shell: Shell) -> None:
        """At 23:30 in universal time it is the day after in the shop."""
        Qualification.objects.filter(person=shop.worker, station=shop.stations["cut"]).update(
            valid_from=date(2026, 11, 5)
        )
        at = datetime(2026, 11, 4, 23, 30, tzinfo=UTC)
        assert timezone.localdate(at) == date(2026, 11, 5)
        assert enter(shop, shell, 1, at)

    def test_a_qualification_that_ended_since_was_good_then(
        self, shop: SmallShop, shell: Shell, released: datetime
    ) -> None:
        Qualification.objects.filter(person=shop.worker, station=shop.stations["cut"]).update(
            valid_to=date(2026, 11, 5)
        )
        with pytest.raises(NotQualified, match="ended on 2026-11-05"):
            enter(shop, shell, 1, released + timedelta(days=4))
        assert enter(shop, shell, 1, released + timedelta(days=3))

    def test_somebody_who_never_was_qualified(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        with pytest.raises(NotQualified, match="not qualified for cut"):
            enter(shop, shell, 1, released, person("new-hand"))

    def test_somebody_whose_account_is_closed(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        Person.objects.filter(pk=shop.worker.pk).update(is_active=False)
        shop.worker.refresh_from_db()
        with pytest.raises(NotQualified, match="no longer works here"):
            enter(shop, shell, 1, released)

    def test_the_final_check_by_somebody_who_did_not_assemble(self, shop: SmallShop, shell: Shell) -> None:
        final = RouteStep.objects.get(station=shop.stations["final-check"]).position + 1  # two coats
        for position in range(1, final):
            shop.wait(hours=60)
            enter(shop, shell, position, shop.clock, shop.supervisor if position == final - 1 else shop.worker)
        shop.wait(hours=1)
        with pytest.raises(NotQualified, match="assembled"):
            enter(shop, shell, final, shop.clock, shop.supervisor)
        with pytest.raises(NotQualified, match="not a final checker"):
            enter(shop, shell, final, shop.clock, shop.worker)
        enter(shop, shell, final, shop.clock, shop.checker)
        found = final_check_of(shell)
        assert found is not None
        assert found.person == shop.checker
        shell.refresh_from_db()
        assert shell.state == ShellState.FINISHED
        assert list(verify_shell(shell)) == []


class TestMaterials:
    """What was good when it was used stays good, whatever became of it since."""

    def lot(self, shop: SmallShop, received_on: date) -> Any:
        return receive_lot(
            code="P-1",
            kind=LotKind.PLATE,
            name="Birch 3.0",
            received_on=received_on,
            person=shop.supervisor,
            stamp=shop.stamp(shop.supervisor),
        )

    @pytest.mark.parametrize("state", [LotState.HELD, LotState.EMPTY])
    def test_a_lot_marked_since(self, shop: SmallShop, state: LotState) -> None:
        lot = self.lot(shop, date(2026, 10, 1))
        shell = shop.released()[0]
        shop.wait(hours=5)
        set_lot_state(
            lot=lot, state=state, reason="delaminates", person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
        )
        marked = shop.clock
        shop.wait(hours=5)
        given = {"plate-birch-3-0": "P-1"}
        with pytest.raises(ReadingRefused, match="P-1"):
            enter(shop, shell, 1, marked + timedelta(hours=1), materials=given)
        enter(shop, shell, 1, marked - timedelta(hours=1), materials=given)
        assert MaterialUse.objects.get().lot == lot
        lot.refresh_from_db()
        assert lot.state == state
        assert list(verify_shell(Shell.objects.get())) == []

    def test_a_lot_that_came_later(self, shop: SmallShop, shell: Shell, released: datetime) -> None:
        self.lot(shop, date(2026, 11, 4))
        given = {"plate-birch-3-0": "P-1"}
        with pytest.raises(ReadingRefused, match="came on 2026-11-04"):
            enter(shop, shell, 1, released, materials=given)
        assert enter(shop, shell, 1, released + timedelta(days=2), materials=given)

    def test_a_glue_batch_used_up_since(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        mixed = GlueBatch.objects.create(
            code="G-261102-1",
            glue=Glue.objects.get(),
            mixed_by=shop.worker,
            mixed_at=shop.clock,
            temperature_c=20,
            pot_life_min=180,
            use_until=shop.clock + timedelta(hours=3),
        )
        pressed = shop.clock + timedelta(hours=2)
        shop.wait(days=1)
        use_up(batch=mixed, person=shop.worker, station=shop.stations["press"], stamp=shop.stamp(shop.worker))
        enter(shop, shell, 1, pressed - timedelta(hours=1))
        with pytest.raises(ReadingRefused, match="Which glue batch"):
            enter(shop, shell, 2, pressed)
        with pytest.raises(ReadingRefused, match="could be used until"):
            enter(shop, shell, 2, pressed + timedelta(hours=2), materials={"glue": mixed.code})
        enter(shop, shell, 2, pressed, materials={"glue": mixed.code})
        assert MaterialUse.objects.get().glue_batch == mixed


def test_another_name_under_the_entry_is_found(shop: SmallShop, shell: Shell, released: datetime) -> None:
    enter(shop, shell, 1, released)
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []
    unprotect(connection, ["quality_signoff"])
    with connection.cursor() as cursor:
        cursor.execute("UPDATE quality_signoff SET entered_by_id = %s", [shop.checker.pk])
    protect(connection, ["quality_signoff"])
    assert [broken.what for broken in verify_shell(shell)] == ["who entered it is not who the record says"]
