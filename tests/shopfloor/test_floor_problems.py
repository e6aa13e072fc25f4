"""What is wrong at a station: reported, held, settled; and signatures taken back."""

from __future__ import annotations

import pytest

from quality.models import Defect, Problem, ProblemState, SignOff, Withdrawal
from routing.models import OperationState, Shell, ShellState, Shop
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import PIN, SmallShop

pytestmark = pytest.mark.django_db


@pytest.fixture
def supervisor_at_cut(shop: SmallShop, clock: Clock) -> Tablet:
    tablet = Tablet("cut")
    tablet.sign_in(shop.supervisor)
    return tablet


@pytest.fixture
def held(shop: SmallShop, cut: Tablet) -> Shell:
    (shell,) = shop.released()
    assert cut.tap("problem", shell, text="Split at the scarf").status_code == 302
    return shell


class TestReporting:
    def test_a_reported_problem_holds_the_shell(self, shop: SmallShop, cut: Tablet) -> None:
        Defect.objects.create(code="C1", name="Plate too short", found_at="cut")
        (shell,) = shop.released()
        answer = cut.tap("problem", shell, defect="C1", text="By 2 mm")
        assert (answer.status_code, answer["Location"]) == (302, cut.url("queue"))
        problem = Problem.objects.get()
        assert problem.defect is not None
        assert (problem.defect.code, problem.text, problem.found_by) == ("C1", "By 2 mm", shop.worker)
        shell.refresh_from_db()
        assert shell.state == ShellState.ON_HOLD
        assert f"{shell.serial} is on hold. A supervisor decides" in page(cut.get("queue"))

    def test_nothing_said_is_refused(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        answer = cut.tap("problem", shell, text="  ", defect="none")
        assert answer.status_code == 422
        assert "Say what is wrong" in page(answer)
        assert not Problem.objects.exists()

    def test_a_held_shell_is_not_signed(self, shop: SmallShop, cut: Tablet, held: Shell) -> None:
        answer = cut.tap("sign", held)
        assert answer.status_code == 422
        assert "is on hold" in page(answer)
        shown = page(cut.get("step", held.serial))
        assert "On hold: Split at the scarf" in shown
        assert "Found by Wanda Worker, 2026-11-02 09:00" in shown
        assert "Sign as" not in shown

    def test_a_second_report_is_told_of_the_first(self, shop: SmallShop, cut: Tablet, held: Shell) -> None:
        answer = cut.tap("problem", held, text="Also this")
        assert answer.status_code == 409
        assert "is on hold already" in page(answer)
        assert Problem.objects.count() == 1

    def test_a_report_that_arrives_twice_is_one(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        for _ in range(2):
            assert cut.tap("problem", shell, text="Split", tap_key="same").status_code == 302
        assert Problem.objects.count() == 1

    def test_a_hostile_report_is_shown_as_text(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("problem", shell, text="<script>alert(1)</script>")
        for shown in (page(cut.get("queue")), page(cut.get("step", shell.serial))):
            assert "&lt;script&gt;alert(1)" in shown
            assert "<script>alert" not in shown


class TestSettling:
    def test_a_supervisor_releases_with_the_pin(self, shop: SmallShop, held: Shell, supervisor_at_cut: Tablet) -> None:
        assert "Release from hold" in page(supervisor_at_cut.get("step", held.serial))
        answer = supervisor_at_cut.tap("settle", held, settlement="Glued and clamped", pin=PIN)
        assert (answer.status_code, answer["Location"]) == (302, supervisor_at_cut.url("step", held.serial))
        problem = Problem.objects.get()
        assert (problem.state, problem.settled_by) == (ProblemState.SETTLED, shop.supervisor)
        assert problem.settlement == "Glued and clamped"
        assert shop.step(held, 1).state == OperationState.READY
        assert supervisor_at_cut.tap("sign", held).status_code == 302

    def test_a_wrong_pin_keeps_the_hold_and_what_was_typed(
        self, shop: SmallShop, held: Shell, supervisor_at_cut: Tablet
    ) -> None:
        answer = supervisor_at_cut.tap("settle", held, settlement="Glued and clamped", pin="111222")
        assert answer.status_code == 422
        assert "Wrong PIN" in page(answer)
        assert 'value="Glued and clamped"' in page(answer)
        assert "111222" not in page(answer)
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_how_it_was_settled_has_to_be_said(self, held: Shell, supervisor_at_cut: Tablet) -> None:
        answer = supervisor_at_cut.tap("settle", held, settlement=" ", pin=PIN)
        assert answer.status_code == 422
        assert "Say how the problem was settled" in page(answer)
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_a_worker_does_not_settle(self, cut: Tablet, held: Shell) -> None:
        shown = page(cut.get("step", held.serial))
        assert "A supervisor can release it." in shown
        assert "Release from hold" not in shown
        answer = cut.tap("settle", held, settlement="Looks fine to me", pin=PIN)
        assert answer.status_code == 422
        assert "ask a supervisor" in page(answer)
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_a_shell_that_is_not_held_cannot_be_released_from_hold(
        self, shop: SmallShop, supervisor_at_cut: Tablet
    ) -> None:
        (shell,) = shop.released()
        answer = supervisor_at_cut.tap("settle", shell, settlement="Nothing", pin=PIN)
        assert answer.status_code == 409
        assert "somebody settled it already" in page(answer)


class TestWithdrawing:
    def test_a_worker_takes_back_what_was_signed_just_now(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        answer = cut.tap("withdraw", shell)
        assert (answer.status_code, answer["Location"]) == (302, cut.url("step", shell.serial))
        assert not SignOff.objects.standing().exists()
        assert SignOff.objects.count() == 1, "the signature stays on record"
        assert shop.step(shell, 1).state == OperationState.READY
        assert cut.tap("sign", shell).status_code == 302

    def test_later_only_a_supervisor_does_with_a_reason(self, shop: SmallShop, cut: Tablet, clock: Clock) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        clock.wait(minutes=Shop.current().withdraw_minutes, seconds=1)
        late = cut.tap("withdraw", shell, reason="Wrong drum")
        assert late.status_code == 422
        assert "by a supervisor only" in page(late)
        boss = Tablet("cut")
        boss.sign_in(shop.supervisor)
        without = boss.tap("withdraw", shell)
        assert without.status_code == 422
        assert "Say why the signature is withdrawn" in page(without)
        assert boss.tap("withdraw", shell, reason="Wrong drum").status_code == 302
        assert Withdrawal.objects.get().reason == "Wrong drum"

    def test_somebody_elses_signature_is_not_for_taking_back(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        other = Tablet("cut")
        other.sign_in(shop.checker)
        answer = other.tap("withdraw", shell)
        assert answer.status_code == 422
        assert SignOff.objects.standing().count() == 1

    def test_work_that_went_on_keeps_the_signature(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        press = Tablet("press")
        press.sign_in(shop.worker)
        press.tap("sign", shell, 2)
        answer = cut.tap("withdraw", shell)
        assert answer.status_code == 422
        assert "withdraw that signature first" in page(answer)
        assert SignOff.objects.standing().count() == 2

    def test_nothing_signed_is_nothing_to_take_back(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        answer = cut.tap("withdraw", shell)
        assert answer.status_code == 409
        assert "is not signed off now" in page(answer)

    def test_a_withdrawal_that_arrives_twice_is_one(self, shop: SmallShop, cut: Tablet) -> None:
        (shell,) = shop.released()
        cut.tap("sign", shell)
        for _ in range(2):
            assert cut.tap("withdraw", shell, tap_key="same").status_code == 302
        assert Withdrawal.objects.count() == 1
