"""What people say about shells, and what is refused."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from quality.actions import begin_step, measure_plates, print_card, sign_off, withdraw_sign_off
from quality.cartons import ship
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.models import CheckPoint, Person, Qualification, Reading, Role, SignOff
from quality.trace import story_of
from quality.verification import verify_shell
from routing.errors import LostRace, NotAllowedNow
from routing.models import KitOrder, Operation, OperationState, OrderState, RouteStep, Shell, ShellRecord, ShellState
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


def sign(
    shop: SmallShop, shell: Shell, position: int, who: Person, *, key: str | None = None, **more: object
) -> SignOff:
    return sign_off(
        serial=shell.serial,
        position=position,
        person=who,
        answers=more.pop("answers", {}),  # type: ignore[arg-type]
        stamp=shop.stamp(who, key=key),
        **more,  # type: ignore[arg-type]
    ).sign_off


class TestSigning:
    def test_a_signature_moves_the_shell_to_the_next_step(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        signed = sign(shop, shell, 1, shop.worker)
        assert signed.person == shop.worker
        assert shop.step(shell, 1).state == OperationState.DONE
        assert shop.step(shell, 2).state == OperationState.READY
        shell.refresh_from_db()
        assert shell.state == ShellState.IN_PRODUCTION
        assert KitOrder.objects.get().state == OrderState.IN_PRODUCTION

    def test_a_later_step_is_refused_and_the_first_named(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        with pytest.raises(NotAllowedNow, match="cut.*comes first"):
            sign(shop, shell, 3, shop.worker)

    def test_a_step_is_refused_while_the_glue_cures(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 2)
        shop.wait(hours=47, minutes=59)
        with pytest.raises(NotAllowedNow, match="curing until"):
            sign(shop, shell, 3, shop.worker)
        shop.wait(minutes=1)
        assert sign(shop, shell, 3, shop.worker).operation.position == 3

    def test_two_tablets_give_one_record_and_one_clear_message(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign(shop, shell, 1, shop.worker, key="tap-a")
        with pytest.raises(LostRace, match="Wanda Worker signed"):
            sign(shop, shell, 1, shop.supervisor, key="tap-b")
        assert SignOff.objects.count() == 1

    def test_a_tap_sent_twice_gives_one_record(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        first = sign_off(
            serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker, key="k")
        )
        again = sign_off(
            serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker, key="k")
        )
        assert (first.repeated, again.repeated) == (False, True)
        assert first.sign_off == again.sign_off
        assert ShellRecord.objects.filter(kind="signed").count() == 1

    def test_a_key_used_for_another_shell_is_refused(self, shop: SmallShop) -> None:
        one, two = shop.released(quantity=2)
        sign(shop, one, 1, shop.worker, key="k")
        with pytest.raises(LostRace, match="used for something else"):
            sign(shop, two, 1, shop.worker, key="k")

    def test_an_unqualified_worker_is_refused(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        stranger = person("new-hand", stations=[shop.stations["pack"]])
        with pytest.raises(NotQualified, match="not qualified for cut"):
            sign(shop, shell, 1, stranger)

    def test_an_expired_qualification_is_refused_with_its_last_day(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        Qualification.objects.filter(person=shop.worker).update(valid_to=date(2026, 11, 1))
        with pytest.raises(NotQualified, match="ended on 2026-11-01"):
            sign(shop, shell, 1, shop.worker)

    def test_somebody_from_the_office_does_not_sign(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        clerk = person("olive-office", Role.OFFICE, stations=list(shop.stations.values()))
        with pytest.raises(NotQualified, match="does not sign"):
            sign(shop, shell, 1, clerk)


class TestReadings:
    @pytest.fixture
    def depth(self, shop: SmallShop) -> CheckPoint:
        return CheckPoint.objects.create(
            code="depth",
            station=shop.stations["cut"],
            text="Depth",
            kind="measured",
            unit="mm",
            spec_key="shell.depth_mm",
            minus=0.5,
            plus=0.5,
        )

    def test_a_reading_within_limits_is_kept(self, shop: SmallShop, depth: CheckPoint) -> None:
        shell = shop.released()[0]
        signed = sign(shop, shell, 1, shop.worker, answers={str(depth.pk): "139,9"})
        reading = Reading.objects.get(sign_off=signed)
        assert (reading.value, reading.passed) == (139.9, True)
        body = signed.record.body["readings"][0]
        assert (body["low"], body["high"]) == pytest.approx((139.2, 140.2))  # 5.5 in = 139.7 mm

    @pytest.mark.parametrize("value", ["139.1", "140.3"])
    def test_a_reading_out_of_limits_stops_the_signature(self, shop: SmallShop, depth: CheckPoint, value: str) -> None:
        shell = shop.released()[0]
        with pytest.raises(ReadingRefused, match="139.2 … 140.2 mm"):
            sign(shop, shell, 1, shop.worker, answers={str(depth.pk): value})
        assert not SignOff.objects.exists()
        assert shop.step(shell, 1).state == OperationState.READY

    def test_a_reading_on_the_limit_passes(self, shop: SmallShop, depth: CheckPoint) -> None:
        shell = shop.released()[0]
        assert sign(shop, shell, 1, shop.worker, answers={str(depth.pk): "140.2"})

    @pytest.mark.parametrize(
        ("value", "why"), [("", "Still to be checked"), ("x", "not a number"), ("nan", "not a number")]
    )
    def test_a_missing_or_unreadable_reading_is_named(
        self, shop: SmallShop, depth: CheckPoint, value: str, why: str
    ) -> None:
        shell = shop.released()[0]
        with pytest.raises(ReadingRefused, match=why):
            sign(shop, shell, 1, shop.worker, answers={str(depth.pk): value})

    def test_a_no_stops_the_signature(self, shop: SmallShop) -> None:
        seam = CheckPoint.objects.create(code="seam", station=shop.stations["cut"], text="Seams closed")
        shell = shop.released()[0]
        with pytest.raises(ReadingRefused, match="Seams closed: no"):
            sign(shop, shell, 1, shop.worker, answers={str(seam.pk): "no"})

    def test_a_check_for_another_role_or_finish_is_not_asked(self, shop: SmallShop) -> None:
        CheckPoint.objects.create(code="a", station=shop.stations["cut"], text="Bass only", role="bass")
        CheckPoint.objects.create(code="b", station=shop.stations["cut"], text="Wrap only", finish_kind="wrap")
        CheckPoint.objects.create(code="c", station=shop.stations["cut"], text="Retired", is_current=False)
        shell = shop.released()[0]
        assert sign(shop, shell, 1, shop.worker)


class TestFinalCheck:
    def test_it_needs_a_checker_who_did_not_assemble_and_the_pin(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 5)
        shop.wait(hours=60)
        sign(shop, shell, 6, shop.supervisor)  # assembles
        with pytest.raises(NotQualified, match="assembled"):
            sign(shop, shell, 7, shop.supervisor, pin_confirmed=True)
        with pytest.raises(NotQualified, match="not a final checker"):
            sign(shop, shell, 7, shop.worker, pin_confirmed=True)
        with pytest.raises(NotQualified, match="PIN"):
            sign(shop, shell, 7, shop.checker)
        sign(shop, shell, 7, shop.checker, pin_confirmed=True)
        shell.refresh_from_db()
        assert shell.state == ShellState.FINISHED

    def test_a_withdrawn_assembly_does_not_count(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 5)
        shop.wait(hours=60)
        sign(shop, shell, 6, shop.supervisor)
        withdraw_sign_off(serial=shell.serial, position=6, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
        sign(shop, shell, 6, shop.worker)
        assert sign(shop, shell, 7, shop.supervisor, pin_confirmed=True).person == shop.supervisor

    def test_nothing_is_packed_before_it(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 6)
        with pytest.raises(NotAllowedNow, match="final check"):
            sign(shop, shell, 8, shop.worker)

    def test_the_order_is_complete_when_all_is_packed(self, shop: SmallShop) -> None:
        shells = shop.released(quantity=2)
        sign_through(shop, shells[0], 8)
        assert KitOrder.objects.get().state == OrderState.IN_PRODUCTION
        sign_through(shop, shells[1], 8)
        assert KitOrder.objects.get().state == OrderState.COMPLETE

    def test_the_card_names_the_checker_and_counts_its_copies(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 6)
        with pytest.raises(NotAllowedNow, match="no final check"):
            print_card(serial=shell.serial, person=shop.checker, stamp=shop.stamp(shop.checker))
        sign(shop, shell, 7, shop.checker, pin_confirmed=True)
        final, copy = print_card(serial=shell.serial, person=shop.checker, stamp=shop.stamp(shop.checker))
        assert (final.person, copy) == (shop.checker, 1)
        assert print_card(serial=shell.serial, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))[1] == 2
        with pytest.raises(NotQualified):
            print_card(serial=shell.serial, person=shop.worker, stamp=shop.stamp(shop.worker))


class TestWithdrawing:
    def test_both_records_stay_and_the_step_is_open_again(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign(shop, shell, 1, shop.worker)
        shop.wait(minutes=9)
        withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
        step = shop.step(shell, 1)
        assert (step.state, step.attempt) == (OperationState.READY, 2)
        assert shop.step(shell, 2).state == OperationState.WAITING
        sign(shop, shell, 1, shop.supervisor)
        assert SignOff.objects.count() == 2
        kinds = list(ShellRecord.objects.filter(shell=shell).values_list("kind", flat=True))
        assert kinds == ["released", "signed", "withdrawn", "signed"]
        story = story_of(shell)
        assert [event.standing for event in story.events] == [True, False, True, True]
        assert story.steps[0].signed_by == shop.supervisor.name

    def test_later_it_takes_a_supervisor_and_a_reason(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign(shop, shell, 1, shop.worker)
        shop.wait(minutes=11)
        with pytest.raises(NotQualified, match="by a supervisor only"):
            withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=shop.stamp(shop.worker))
        with pytest.raises(QualityError, match="why"):
            withdraw_sign_off(
                serial=shell.serial, position=1, person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
            )
        taken = withdraw_sign_off(
            serial=shell.serial,
            position=1,
            person=shop.supervisor,
            reason="wrong shell",
            stamp=shop.stamp(shop.supervisor),
        )
        assert taken.reason == "wrong shell"

    def test_nobody_elses_signature_without_the_right(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign(shop, shell, 1, shop.worker)
        with pytest.raises(NotQualified, match="Wanda Worker's"):
            withdraw_sign_off(serial=shell.serial, position=1, person=shop.checker, stamp=shop.stamp(shop.checker))

    def test_later_signatures_prevent_it(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 2)
        with pytest.raises(NotAllowedNow, match="withdraw that signature first"):
            withdraw_sign_off(
                serial=shell.serial, position=1, person=shop.supervisor, reason="x", stamp=shop.stamp(shop.supervisor)
            )

    def test_a_withdrawn_packing_takes_the_drum_back_into_the_shop(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 8)
        withdraw_sign_off(serial=shell.serial, position=8, person=shop.worker, stamp=shop.stamp(shop.worker))
        shell.refresh_from_db()
        assert shell.state == ShellState.FINISHED
        assert KitOrder.objects.get().state == OrderState.IN_PRODUCTION
        withdraw_sign_off(
            serial=shell.serial, position=7, person=shop.supervisor, reason="x", stamp=shop.stamp(shop.supervisor)
        )
        shell.refresh_from_db()
        assert shell.state == ShellState.IN_PRODUCTION


class TestTheWholeWay:
    def test_a_snare_from_release_to_carton_leaves_a_whole_record(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 8)
        shell.refresh_from_db()
        assert shell.state == ShellState.PACKED
        assert not Operation.objects.filter(shell=shell).exclude(state=OperationState.DONE).exists()
        story = story_of(shell)
        assert story.final_check_by == shop.checker.name
        assert [step.signed_by for step in story.steps].count(shop.worker.name) == 7
        assert list(verify_shell(shell)) == []


def test_nothing_is_packed_before_the_finish_has_cured(shop: SmallShop) -> None:
    """48 h before assembly, 120 h before the carton, both counted from the last coat."""
    shell = shop.released()[0]
    sign_through(shop, shell, 5)
    last_coat = shop.clock
    shop.wait(hours=49)
    sign(shop, shell, 6, shop.worker)
    sign(shop, shell, 7, shop.checker, pin_confirmed=True)
    with pytest.raises(NotAllowedNow, match="still curing until"):
        sign(shop, shell, 8, shop.worker)
    assert shop.step(shell, 8).not_before == last_coat + timedelta(hours=120)
    shop.wait(hours=71)
    sign(shop, shell, 8, shop.worker)
    shell.refresh_from_db()
    assert shell.state == ShellState.PACKED


class TestStationAndPlace:
    def test_a_step_is_signed_at_its_own_station(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        with pytest.raises(NotAllowedNow, match="belongs to cut"):
            sign(shop, shell, 1, shop.worker, station=shop.stations["pack"])
        assert sign(shop, shell, 1, shop.worker, station=shop.stations["cut"])

    def test_only_the_qualified_begin_a_step_or_measure_plates(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        packer = person("new-packer", stations=[shop.stations["pack"]])
        cut, pack = shop.stations["cut"], shop.stations["pack"]
        with pytest.raises(NotQualified):
            begin_step(serial=shell.serial, position=1, person=packer, station=cut, stamp=shop.stamp(packer))
        with pytest.raises(NotAllowedNow, match="belongs to cut"):
            begin_step(serial=shell.serial, position=1, person=packer, station=pack, stamp=shop.stamp(packer))
        with pytest.raises(NotQualified):
            measure_plates(
                serial=shell.serial, measured_mm={1: 3.1}, person=packer, station=cut, stamp=shop.stamp(packer)
            )
        with pytest.raises(NotAllowedNow, match="measured at the cut station"):
            measure_plates(
                serial=shell.serial, measured_mm={1: 3.1}, person=packer, station=pack, stamp=shop.stamp(packer)
            )

    def test_a_check_without_limits_stops_the_signature(self, shop: SmallShop) -> None:
        point = CheckPoint.objects.create(
            code="typo", station=shop.stations["cut"], text="Depth", kind="measured", spec_key="shell.dpeth_mm", plus=1
        )
        shell = shop.released()[0]
        with pytest.raises(ReadingRefused, match="no limits"):
            sign(shop, shell, 1, shop.worker, answers={str(point.pk): "1"})

    def test_nothing_is_packed_without_a_final_check_whatever_the_route_says(self, shop: SmallShop) -> None:
        RouteStep.objects.filter(station__kind="final_check").delete()
        shell = shop.released()[0]
        sign_through(shop, shell, 6)
        shop.wait(hours=200)
        with pytest.raises(NotAllowedNow, match="no final check"):
            sign(shop, shell, 7, shop.worker)

    def test_what_has_left_the_shop_is_not_taken_back(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 8)
        shop.close_cartons()
        ship(number="K-1", stamp=shop.stamp(shop.supervisor))
        with pytest.raises(NotAllowedNow, match="has left the shop"):
            withdraw_sign_off(
                serial=shell.serial, position=8, person=shop.supervisor, reason="x", stamp=shop.stamp(shop.supervisor)
            )

    def test_the_record_keeps_the_name_of_the_day(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_through(shop, shell, 7)
        signed_as = shop.checker.name
        Person.objects.filter(pk=shop.checker.pk).update(name="Married Name")
        assert story_of(shell).final_check_by == signed_as
