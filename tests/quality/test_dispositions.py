"""What is decided about a shell on hold: worked again, used as it is; every decision; and a story without gaps afterwards."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection

from quality.actions import sign_off, withdraw_sign_off
from quality.dispositions import concessions_of, regrade, rework, scrap, use_as_is
from quality.errors import NotQualified, QualityError
from quality.late_entry import enter_late
from quality.models import Disposition, Person, Problem, ProblemState, SignOff, Voiding
from quality.problems import settle_problem
from quality.trace import story_of
from quality.verification import verify_shell
from routing.append_only import protect, unprotect
from routing.errors import LostRace, NotAllowedNow
from routing.history import broken_records
from routing.models import (
    Finish,
    Operation,
    OperationState,
    RecordKind,
    Shell,
    ShellRecord,
    ShellState,
)
from routing.rework import rework_places
from tests.quality.on_hold import (
    ASSEMBLE,
    COAT_1,
    COAT_2,
    CUT,
    EDGE,
    FINAL,
    PACK,
    PRESS,
    hold,
    other_finish,
    regraded,
    scrap_it,
    send_back,
    sign,
    sign_up_to,
    states,
    whole,
)
from tests.small_shop import SmallShop, person

pytestmark = pytest.mark.django_db


class TestRework:
    def test_the_route_opens_again_from_the_named_step(self, shop: SmallShop, assembled: Shell) -> None:
        problem = send_back(shop, assembled, EDGE)
        assert states(assembled) == ["done", "done", "ready", "waiting", "waiting", "waiting", "waiting", "waiting"]
        attempts = Operation.objects.filter(shell=assembled).order_by("position").values_list("attempt", flat=True)
        assert list(attempts) == [1, 1, 2, 2, 2, 2, 2, 2]
        later = Operation.objects.filter(shell=assembled, position__gt=EDGE)
        assert not later.exclude(not_before=None, done_at=None, ready_at=None, started_at=None).exists()
        assembled.refresh_from_db()
        assert assembled.state == ShellState.IN_PRODUCTION
        assert (problem.state, problem.disposition, problem.settled_by, problem.settlement) == (
            ProblemState.SETTLED,
            Disposition.REWORK,
            shop.supervisor,
            "sand it out",
        )
        assert problem.settled_at == shop.clock

    def test_signatures_from_there_on_are_void_and_stay_on_record(self, shop: SmallShop, assembled: Shell) -> None:
        send_back(shop, assembled, EDGE)
        standing = SignOff.objects.standing().filter(operation__shell=assembled)
        assert sorted(standing.values_list("operation__position", flat=True)) == [CUT, PRESS]
        assert SignOff.objects.filter(operation__shell=assembled).count() == 6
        void = [event for event in story_of(assembled).events if event.void]
        assert [event.void for event in void] == ["sent back for rework"] * 4
        assert [event.kind for event in void] == ["signed"] * 4
        sent_back = story_of(assembled).events[-1]
        assert "sand it out" in sent_back.detail and "Void since then: edge, " in sent_back.detail
        assert whole(assembled)

    def test_its_steps_are_signed_again(self, shop: SmallShop, assembled: Shell) -> None:
        send_back(shop, assembled, EDGE)
        sign_up_to(shop, assembled, PACK)
        assembled.refresh_from_db()
        assert assembled.state == ShellState.PACKED
        assert SignOff.objects.standing().filter(operation__shell=assembled).count() == PACK

    def test_at_the_step_where_it_is_held_nothing_else_moves(self, shop: SmallShop, assembled: Shell) -> None:
        send_back(shop, assembled, FINAL)
        assert states(assembled)[FINAL - 1] == "ready"
        assert not Voiding.objects.exists()

    def test_glue_goes_on_curing_when_the_step_after_it_is_worked_again(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, PRESS)
        until = shop.step(shell, EDGE).not_before
        hold(shop, shell)
        send_back(shop, shell, EDGE)
        assert until is not None and shop.step(shell, EDGE).not_before == until

    def test_a_wet_coat_goes_on_drying_and_cured_glue_does_not(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, COAT_1)
        until = shop.step(shell, COAT_2).not_before
        hold(shop, shell, "run")
        send_back(shop, shell, EDGE)
        assert until is not None and until > shop.clock
        assert shop.step(shell, EDGE).not_before == until
        with pytest.raises(NotAllowedNow) as refused:
            sign_off(serial=shell.serial, position=EDGE, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
        assert refused.value.code == "dwell"
        other = shop.released("K-2")[0]
        sign_up_to(shop, other, PRESS)
        hold(shop, other, "layers come apart")
        send_back(shop, other, PRESS)
        assert shop.step(other, PRESS).not_before is None

    def test_a_late_tap_of_a_void_step_is_refused(self, shop: SmallShop, assembled: Shell) -> None:
        old = shop.stamp(shop.worker, key="kept on a tablet")
        send_back(shop, assembled, COAT_1)
        sign(shop, assembled, COAT_1)
        shop.clock = shop.step(assembled, COAT_2).not_before or shop.clock
        late = type(old)(old.person_id, old.person_name, old.at, shop.clock, old.device, old.tap_key)
        with pytest.raises(NotAllowedNow) as refused:
            sign_off(serial=assembled.serial, position=COAT_2, person=shop.worker, answers={}, stamp=late)
        assert refused.value.code == "older_tap"

    def test_a_late_tap_of_the_step_it_was_held_at_is_refused(self, shop: SmallShop, edged: Shell) -> None:
        old = shop.stamp(shop.worker, key="kept on a tablet")
        send_back(shop, edged, COAT_1)
        late = type(old)(old.person_id, old.person_name, old.at, shop.clock, old.device, old.tap_key)
        with pytest.raises(NotAllowedNow) as refused:
            sign_off(serial=edged.serial, position=COAT_1, person=shop.worker, answers={}, stamp=late)
        assert refused.value.code == "older_tap"

    def test_paper_from_before_is_void_too(self, shop: SmallShop, assembled: Shell) -> None:
        before = shop.clock
        send_back(shop, assembled, EDGE)
        shop.wait(hours=1)
        with pytest.raises(QualityError) as refused:
            enter_late(
                serial=assembled.serial,
                position=EDGE,
                signed_by=shop.worker,
                entered_by=shop.supervisor,
                on_paper_at=before,
                answers={},
                stamp=shop.stamp(shop.supervisor),
            )
        assert refused.value.code == "too_early" and "sent back for rework" in refused.value.message
        entered = enter_late(
            serial=assembled.serial,
            position=EDGE,
            signed_by=shop.worker,
            entered_by=shop.supervisor,
            on_paper_at=shop.clock,
            answers={},
            stamp=shop.stamp(shop.supervisor),
        )
        assert entered.sign_off.at == shop.clock

    def test_plates_of_a_glued_shell_are_not_cut_again(self, shop: SmallShop, assembled: Shell) -> None:
        assert [step.position for step in rework_places(assembled)] == [PRESS, EDGE, COAT_1, COAT_2, ASSEMBLE, FINAL]
        with pytest.raises(NotAllowedNow) as refused:
            send_back(shop, assembled, CUT)
        assert refused.value.code == "glued_already"

    @pytest.mark.parametrize(("position", "code"), [(PACK, "not_there_yet"), (40, "no_such_step")])
    def test_only_to_a_step_it_came_to(self, shop: SmallShop, assembled: Shell, position: int, code: str) -> None:
        with pytest.raises(NotAllowedNow) as refused:
            send_back(shop, assembled, position)
        assert refused.value.code == code
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_a_void_signature_can_not_be_withdrawn(self, shop: SmallShop, assembled: Shell) -> None:
        send_back(shop, assembled, EDGE)
        with pytest.raises(LostRace):
            withdraw_sign_off(
                serial=assembled.serial,
                position=COAT_1,
                person=shop.supervisor,
                reason="mistake",
                stamp=shop.stamp(shop.supervisor),
            )

    def test_who_assembled_it_the_first_time_may_check_it_now(self, shop: SmallShop) -> None:
        """Only the signature that stands under the assembly counts."""
        everywhere = list(shop.stations.values())
        second = person("second-checker", shop.checker.role, stations=everywhere)  # type: ignore[arg-type]
        shell = shop.released()[0]
        sign_up_to(shop, shell, COAT_2)
        sign(shop, shell, ASSEMBLE, by=second)
        with pytest.raises(NotQualified) as refused:
            sign(shop, shell, FINAL, by=second)
        assert refused.value.code == "assembled_it"
        hold(shop, shell, "lug crooked")
        send_back(shop, shell, ASSEMBLE)
        sign(shop, shell, ASSEMBLE, by=shop.checker)
        with pytest.raises(NotQualified) as refused:
            sign(shop, shell, FINAL, by=shop.checker)
        assert refused.value.code == "assembled_it"
        assert sign(shop, shell, FINAL, by=second).person == second

    def test_a_checked_drum_is_checked_again(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, FINAL)
        hold(shop, shell, "scratch found at packing")
        send_back(shop, shell, COAT_2)
        shell.refresh_from_db()
        assert shell.state == ShellState.IN_PRODUCTION
        assert story_of(shell).final_check_by is None


class TestUseAsIs:
    def test_it_goes_on_where_it_was_held(self, shop: SmallShop, edged: Shell) -> None:
        problem = use_as_is(
            serial=edged.serial,
            person=shop.supervisor,
            allowed_by="the customer, by letter of 2 November",
            reason="inside only, not seen",
            stamp=shop.stamp(shop.supervisor),
        )
        edged.refresh_from_db()
        assert edged.state == ShellState.IN_PRODUCTION
        assert shop.step(edged, COAT_1).state == OperationState.READY
        assert problem.disposition == Disposition.AS_IS
        assert list(concessions_of(edged)) == [problem]
        story = story_of(edged)
        assert story.concessions[0].allowed_by == "the customer, by letter of 2 November"
        assert "Allowed by the customer" in story.events[-1].detail
        assert not story.events[-2].void and whole(edged)

    @pytest.mark.parametrize(("allowed", "why", "code"), [(" ", "x", "nobody_allowed"), ("x", " ", "nothing_said")])
    def test_who_and_why_are_needed(self, shop: SmallShop, edged: Shell, allowed: str, why: str, code: str) -> None:
        with pytest.raises(QualityError) as refused:
            use_as_is(
                serial=edged.serial,
                person=shop.supervisor,
                allowed_by=allowed,
                reason=why,
                stamp=shop.stamp(shop.supervisor),
            )
        assert refused.value.code == code
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_a_plain_release_is_no_concession(self, shop: SmallShop, edged: Shell) -> None:
        settle_problem(
            serial=edged.serial, person=shop.supervisor, settlement="dust", stamp=shop.stamp(shop.supervisor)
        )
        assert not concessions_of(edged).exists()
        assert Problem.objects.get().disposition == Disposition.RELEASED


def decide(shop: SmallShop, shell: Shell, which: str, who: Person, key: str | None = None) -> object:
    stamp = shop.stamp(who, key=key)
    common: dict[str, Any] = {"serial": shell.serial, "person": who, "reason": "as agreed", "stamp": stamp}
    match which:
        case "rework":
            return rework(position=EDGE, **common)
        case "as is":
            return use_as_is(allowed_by="the customer", **common)
        case "regrade":
            finish = Finish.objects.filter(name="Heron gloss").first() or other_finish()
            return regrade(model=shop.model, finish=finish, **common)
        case _:
            return scrap(**common)


WAYS = ["rework", "as is", "regrade", "scrap"]


@pytest.mark.parametrize("which", WAYS)
class TestEveryDecision:
    def test_a_double_tap_decides_once(self, shop: SmallShop, edged: Shell, which: str) -> None:
        first = decide(shop, edged, which, shop.supervisor, "one tap")
        records = ShellRecord.objects.count()
        assert decide(shop, edged, which, shop.supervisor, "one tap") == first
        assert ShellRecord.objects.count() == records

    def test_it_writes_one_record(self, shop: SmallShop, edged: Shell, which: str) -> None:
        before = ShellRecord.objects.filter(shell=edged).count()
        decide(shop, edged, which, shop.supervisor)
        assert ShellRecord.objects.filter(shell=edged).count() == before + 1
        last = ShellRecord.objects.filter(shell=edged).order_by("sequence").last()
        assert last is not None
        assert last.person == shop.supervisor and last.body["problem"] == Problem.objects.get().pk
        assert last.body["disposition"] == Problem.objects.get().disposition
        assert list(broken_records(Shell.objects.get(pk=edged.pk))) == []

    def test_the_second_supervisor_is_told(self, shop: SmallShop, edged: Shell, which: str) -> None:
        decide(shop, edged, "as is", shop.supervisor)
        with pytest.raises(LostRace) as refused:
            decide(shop, edged, which, person("second-supervisor", shop.supervisor.role))  # type: ignore[arg-type]
        assert refused.value.code == "not_on_hold"

    @pytest.mark.parametrize("who", ["worker", "checker"])
    def test_only_who_may_settle_decides(self, shop: SmallShop, edged: Shell, which: str, who: str) -> None:
        with pytest.raises(NotQualified) as refused:
            decide(shop, edged, which, getattr(shop, who))
        assert refused.value.code == "no_right"
        assert Problem.objects.get().state == ProblemState.OPEN

    @pytest.mark.parametrize("state", [ShellState.PACKED, ShellState.SCRAPPED])
    def test_not_on_a_shell_that_is_gone(self, shop: SmallShop, edged: Shell, which: str, state: ShellState) -> None:
        gone = edged
        if state == ShellState.SCRAPPED:
            scrap_it(shop, edged)
        else:
            gone = shop.released("K-2")[0]
            sign_up_to(shop, gone, PACK)
        with pytest.raises(NotAllowedNow) as refused:
            decide(shop, gone, which, shop.supervisor)
        assert refused.value.code == "shell_gone"


def test_nothing_with_an_open_problem_is_packed(shop: SmallShop) -> None:
    shell = shop.released()[0]
    sign_up_to(shop, shell, FINAL)
    problem = hold(shop, shell, "card missing")
    with pytest.raises(NotAllowedNow) as refused:
        sign(shop, shell, PACK)
    assert refused.value.code == "on_hold"
    # Even if the state of the shell had been lost somehow.
    Shell.objects.filter(pk=shell.pk).update(state=ShellState.FINISHED)
    Operation.objects.filter(shell=shell, position=PACK).update(state=OperationState.READY)
    with pytest.raises(NotAllowedNow) as refused:
        sign(shop, shell, PACK)
    assert refused.value.code == "on_hold"
    Problem.objects.filter(pk=problem.pk).update(state=ProblemState.SETTLED)
    sign(shop, shell, PACK)


def test_three_reworks_a_regrade_and_a_scrap_leave_a_story_without_gaps(shop: SmallShop) -> None:
    shell = shop.released()[0]
    for back_to in (EDGE, EDGE, COAT_2):
        sign_up_to(shop, shell, ASSEMBLE)
        hold(shop, shell)
        send_back(shop, shell, back_to)
    hold(shop, shell)
    send_back(shop, shell, EDGE)
    sign_up_to(shop, shell, EDGE)
    hold(shop, shell)
    regraded(shop, shell, other_finish())
    sign_up_to(shop, shell, 6)
    hold(shop, shell)
    made = scrap_it(shop, shell).replacement
    shell.refresh_from_db()
    for each in (shell, made):
        assert list(broken_records(each)) == []
        assert whole(each)
    story = story_of(shell)
    assert [event.sequence for event in story.events] == list(range(1, len(story.events) + 1))
    kinds = [event.kind for event in story.events]
    assert kinds.count(RecordKind.REWORK) == 4 and kinds.count(RecordKind.HELD) == 6
    assert kinds[-1] == RecordKind.SCRAPPED
    void = [event for event in story.events if event.void]
    assert len(void) == Voiding.objects.count() == 4 + 4 + 2 + 2
    assert [problem.disposition for problem in Problem.objects.filter(shell=shell).order_by("found_at")] == [
        "rework",
        "rework",
        "rework",
        "rework",
        "regrade",
        "scrap",
    ]


def test_a_missing_voiding_is_found(shop: SmallShop, assembled: Shell) -> None:
    send_back(shop, assembled, ASSEMBLE)
    unprotect(connection, ["quality_voiding"])
    Voiding.objects.all().delete()
    protect(connection, ["quality_voiding"])
    assembled.refresh_from_db()
    found = [broken.what for broken in verify_shell(assembled)]
    assert "other signatures void" in found[0]
    assert any("is signed, but counts as open" in what for what in found[1:])
