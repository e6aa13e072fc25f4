"""Signing at a tablet: with and without readings, once, by one person, when it is time."""

from __future__ import annotations

import pytest

from quality.models import CheckPoint, Reading, SignOff
from routing.models import OperationState, ShellRecord, ShellSpec, ShellState
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import PIN, SmallShop, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def seam(shop: SmallShop) -> CheckPoint:
    return CheckPoint.objects.create(code="seam", station=shop.stations["cut"], text="Seams closed", position=2)


class TestSigning:
    def test_one_tap_signs_by_name_and_leads_back_to_the_queue(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        answer = cut.tap("sign", shell, note="First of the batch")
        assert (answer.status_code, answer["Location"]) == (302, cut.url("queue"))
        signed = SignOff.objects.get()
        assert (signed.person, signed.operation.position) == (shop.worker, 1)
        assert signed.record.body["note"] == "First of the batch"
        assert signed.record.device == "Tablet 1"
        assert f"of {shell.serial} is signed by Wanda Worker." in page(cut.get("queue"))
        assert shop.step(shell, 2).state == OperationState.READY

    def test_readings_are_kept_with_the_signature(
        self, shop: SmallShop, cut: Tablet, depth: CheckPoint, seam: CheckPoint
    ) -> None:
        (shell,) = shop.released()
        answer = cut.tap("sign", shell, **{f"check-{depth.pk}": "139,8", f"check-{seam.pk}": "yes"})
        assert answer.status_code == 302
        kept = Reading.objects.order_by("check_point__position").values_list("value", "passed")
        assert list(kept) == [(139.8, True), (None, True)]

    def test_out_of_limits_is_refused_and_keeps_what_was_typed(
        self, shop: SmallShop, cut: Tablet, depth: CheckPoint, seam: CheckPoint
    ) -> None:
        (shell,) = shop.released()
        answer = cut.tap(
            "sign", shell, **{f"check-{depth.pk}": "141.3", f"check-{seam.pk}": "yes", "note": "Knife was dull"}
        )
        assert answer.status_code == 422
        shown = page(answer)
        assert "Not signed, this does not pass: Depth over the edges: 141.3 mm (allowed 139.2 … 140.2 mm)" in shown
        assert 'value="141.3"' in shown
        assert f'name="check-{seam.pk}" value="yes" checked' in shown
        assert 'value="Knife was dull"' in shown
        assert not SignOff.objects.exists()
        assert shop.step(shell, 1).state == OperationState.READY

    @pytest.mark.parametrize(
        ("typed", "says"), [("", "Still to be checked"), ("about 140", "is not a number"), ("1e999", "is not a number")]
    )
    def test_a_missing_or_unreadable_reading_is_named(
        self, shop: SmallShop, cut: Tablet, depth: CheckPoint, typed: str, says: str
    ) -> None:
        (shell,) = shop.released()
        answer = cut.tap("sign", shell, **{f"check-{depth.pk}": typed})
        assert answer.status_code == 422
        assert says in page(answer)
        assert not SignOff.objects.exists()

    def test_an_unqualified_worker_is_told_whom_to_ask(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        cut = Tablet("cut")
        cut.sign_in(person("new-hand"))
        answer = cut.tap("sign", shell)
        assert answer.status_code == 422
        assert "New Hand is not qualified for cut; ask somebody who is" in page(answer)
        assert not SignOff.objects.exists()

    def test_a_step_is_not_signed_while_the_glue_cures(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 2)
        clock.wait(hours=47, minutes=59)
        edge = Tablet("edge")
        edge.sign_in(shop.worker)
        early = edge.tap("sign", shell, 3)
        assert early.status_code == 422
        assert "is still curing until" in page(early)
        clock.wait(minutes=1)
        assert edge.tap("sign", shell, 3).status_code == 302

    @pytest.mark.parametrize("position", ["", "0", "99", "x", "-1", "9" * 5000])
    def test_a_step_that_is_none_is_refused(self, shop: SmallShop, cut: Tablet, position: str) -> None:
        (shell,) = shop.released()
        answer = cut.client.post(cut.url("sign", shell.serial), {"position": position})
        assert answer.status_code == 422
        assert "has no step" in page(answer)

    @pytest.mark.parametrize("name", ["sign", "start", "thickness"])
    def test_a_step_of_another_station_is_refused(self, shop: SmallShop, clock: Clock, name: str) -> None:
        (shell,) = shop.released()
        pack = Tablet("pack")
        pack.sign_in(shop.worker)
        answer = pack.tap(name, shell, 1, **{"plate-1": "3.1"})
        assert answer.status_code == 422
        assert "not at pack" in page(answer)
        assert not ShellRecord.objects.exclude(kind="released").exists()

    @pytest.mark.parametrize("name", ["start", "thickness"])
    def test_only_the_qualified_begin_or_measure(self, shop: SmallShop, clock: Clock, name: str) -> None:
        (shell,) = shop.released()
        cut = Tablet("cut")
        cut.sign_in(person("new-hand"))
        answer = cut.tap(name, shell, 1, **{"plate-1": "3.1"})
        assert answer.status_code == 422
        assert "New Hand is not qualified for cut" in page(answer)
        assert not ShellRecord.objects.exclude(kind="released").exists()


class TestTaps:
    def test_a_tap_that_arrives_twice_is_one_record(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        first = cut.tap("sign", shell, tap_key="same")
        again = cut.tap("sign", shell, tap_key="same")
        assert (first.status_code, again.status_code) == (302, 302)
        assert SignOff.objects.count() == 1
        assert ShellRecord.objects.filter(kind="signed").count() == 1

    def test_the_second_of_two_tablets_is_told_who_signed(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        other = Tablet("cut")
        other.sign_in(shop.checker)
        assert cut.tap("sign", shell).status_code == 302
        late = other.tap("sign", shell)
        assert late.status_code == 409
        assert "Wanda Worker signed cut" in page(late)
        assert "nothing was changed" in page(late)
        assert SignOff.objects.count() == 1

    @pytest.mark.parametrize("name", ["start", "problem", "withdraw", "settle", "thickness"])
    def test_a_key_that_stands_for_something_else_is_refused(self, shop: SmallShop, clock: Clock, name: str) -> None:
        shell, other = shop.released(quantity=2)
        cut = Tablet("cut")
        cut.sign_in(shop.supervisor)
        cut.tap("sign", shell, tap_key="same")
        before = ShellRecord.objects.count()
        typed = {"text": "Split", "settlement": "Fine", "pin": PIN, "reason": "Mistake", "plate-1": "3.1"}
        for which in (shell, other):
            answer = cut.tap(name, which, tap_key="same", **typed)
            assert answer.status_code == 409
            assert "used for something else" in page(answer)
        assert ShellRecord.objects.count() == before

    def test_a_page_that_was_open_too_long_gets_a_new_key(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        shown = [page(cut.get("step", shell.serial)).partition('name="tap_key" value="')[2][:22] for _ in range(2)]
        assert len(shown[0]) == 22
        assert shown[0] != shown[1]


class TestStarting:
    def test_who_begins_is_shown(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        answer = cut.tap("start", shell)
        assert (answer.status_code, answer["Location"]) == (302, cut.url("step", shell.serial))
        assert "Wanda Worker works on it since 09:00" in page(cut.get("step", shell.serial))
        assert shop.step(shell, 1).state == OperationState.IN_WORK
        assert cut.tap("sign", shell).status_code == 302

    def test_a_second_who_begins_is_told_of_the_first(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("start", shell)
        other = Tablet("cut")
        other.sign_in(shop.checker)
        answer = other.tap("start", shell)
        assert answer.status_code == 409
        assert "Wanda Worker works on cut" in page(answer)
        assert shop.step(shell, 1).started_by_name == "Wanda Worker"


class TestFinalCheck:
    def test_it_is_signed_with_the_pin_and_leads_to_the_card(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 6)
        clock.wait(minutes=1)
        desk = Tablet("final-check")
        desk.sign_in(shop.checker)
        for pin in ({}, {"pin": ""}, {"pin": "111222"}):
            answer = desk.tap("sign", shell, 7, **pin)
            assert answer.status_code == 422
            assert "Wrong PIN" in page(answer)
        shell.refresh_from_db()
        assert shell.state == ShellState.IN_PRODUCTION
        clock.wait(minutes=1)  # three wrong ones cost half a minute
        answer = desk.tap("sign", shell, 7, pin=PIN)
        assert (answer.status_code, answer["Location"]) == (302, desk.url("step", shell.serial))
        shell.refresh_from_db()
        assert shell.state == ShellState.FINISHED
        assert "Print the card" in page(desk.get("step", shell.serial))

    def test_the_pin_is_never_on_the_page_that_comes_back(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 6)
        CheckPoint.objects.create(code="look", station=shop.stations["final-check"], text="Looks right")
        clock.wait(minutes=1)
        desk = Tablet("final-check")
        desk.sign_in(shop.checker)
        answer = desk.tap("sign", shell, 7, pin=PIN)
        assert answer.status_code == 422
        assert PIN not in page(answer)

    def test_whoever_assembled_the_drum_does_not_check_it(self, shop: SmallShop, clock: Clock) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 5)
        clock.wait(hours=60)
        bench = Tablet("assemble")
        bench.sign_in(shop.supervisor)
        assert bench.tap("sign", shell, 6).status_code == 302
        desk = Tablet("final-check")
        desk.sign_in(shop.supervisor)
        answer = desk.tap("sign", shell, 7, pin=PIN)
        assert answer.status_code == 422
        assert "assembled" in page(answer) and "somebody else has to sign its final check" in page(answer)
        shell.refresh_from_db()
        assert shell.state == ShellState.IN_PRODUCTION

    def test_a_worker_is_no_checker_and_another_station_is_no_way_around_the_pin(
        self, shop: SmallShop, clock: Clock
    ) -> None:
        (shell,) = shop.released()
        sign_through(shop, shell, 6)
        clock.wait(minutes=1)
        desk = Tablet("final-check")
        desk.sign_in(shop.worker)
        assert "is not a final checker" in page(desk.tap("sign", shell, 7, pin=PIN))
        pack = Tablet("pack")
        pack.sign_in(shop.checker)
        answer = pack.tap("sign", shell, 7)
        assert answer.status_code == 422
        assert "belongs to final check; sign it there, not at pack." in page(answer)
        assert not SignOff.objects.filter(operation__position=7).exists()


class TestMeasuredPlates:
    def test_the_lengths_follow_the_measured_plates(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        before = ShellSpec.objects.get(shell=shell).results["cutting"]["blanks"]
        answer = cut.tap("thickness", shell, **{"plate-1": "3,2", "plate-2": "", "plate-3": " "})
        assert (answer.status_code, answer["Location"]) == (302, cut.url("step", shell.serial))
        spec = ShellSpec.objects.get(shell=shell, revision=2)
        assert [plate["measured_thickness_mm"] for plate in spec.inputs["plates"]] == [3.2, None, None]
        after = spec.results["cutting"]["blanks"]
        # The outside diameter stands, so every plate inside a thicker one is shorter.
        assert after[1]["length_mm"] < before[1]["length_mm"]
        shown = page(cut.get("step", shell.serial))
        assert f"{after[1]['length_mm']:.1f}" in shown
        assert "measured 3.2 mm" in shown
        assert "spec revision 2" in shown

    @pytest.mark.parametrize(
        ("typed", "says"),
        [
            ({}, "Enter the thickness of at least one plate"),
            ({"plate-1": "three"}, "“three” is not a thickness"),
            ({"plate-1": "nan"}, ""),
            ({"plate-1": "inf"}, ""),
            ({"plate-1": "0"}, ""),
            ({"plate-1": "-3"}, ""),
            ({"plate-1": "300"}, ""),
            ({"plate-9": "3.1"}, "there is no plate 9"),
            ({"plate-" + "9" * 60: "3.1"}, "there is no plate 9"),
        ],
    )
    def test_a_thickness_that_cannot_be_is_refused(
        self, shop: SmallShop, cut: Tablet, typed: dict[str, str], says: str
    ) -> None:
        (shell,) = shop.released()
        answer = cut.tap("thickness", shell, **typed)
        assert answer.status_code == 422
        assert 'id="error"' in page(answer) and says in page(answer)
        shell.refresh_from_db()
        assert shell.spec_revision == 1

    def test_a_cut_that_is_signed_is_not_measured_again(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        answer = cut.tap("thickness", shell, **{"plate-1": "3.1"})
        assert answer.status_code == 422
        assert "are not at the cut station now" in page(answer)
