"""From the shop's rows to a plan and back, held against what can be worked out by hand."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from itertools import pairwise
from unittest.mock import patch

import pytest
from django.utils import timezone, translation

from quality.actions import sign_off
from quality.plan_people import ending_soon, people_to_plan
from quality.problems import report_problem
from routing.actions import start_operation
from routing.errors import NotAllowedNow, NotReleasable
from routing.languages import spoken_in
from routing.models import (
    Absence,
    Closure,
    DryingRoom,
    KitOrder,
    Mould,
    OperationState,
    Outage,
    Plan,
    PlannedStep,
    PlanState,
    RouteTemplate,
)
from routing.plan_jobs import ask_for_plan, kits_in, make_plan, present_problem, quick_plan, stop_plan
from routing.plan_problem import ShopProblem, problem_of
from routing.promise import Change, Promise, Wanted, promise, set_weight, what_if, with_margin
from routing.scheduling.check import faults
from routing.shop_hours import USUAL, ShopHours
from tests.small_shop import NOW, SmallShop

pytestmark = pytest.mark.django_db
TODAY = NOW.date()  # a Monday


def present(shop: SmallShop, **changes: object) -> ShopProblem:
    return problem_of(now=shop.clock, people=people_to_plan(shop.clock.date()), **changes)  # type: ignore[arg-type]


def sign(shop: SmallShop, serial: str, position: int) -> None:
    sign_off(serial=serial, position=position, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))


class TestProblem:
    def test_every_open_step_of_released_shells_is_there(self, shop: SmallShop) -> None:
        shop.released(quantity=2)
        shop.order("K-2")
        problem = present(shop).problem
        assert [(job.kit, len(job.tasks)) for job in problem.jobs] == [("K-1", 8), ("K-1", 8)]
        assert [kit.key for kit in problem.kits] == ["K-1"]
        press = problem.jobs[0].tasks[1]
        assert (press.station, press.dwell_min, press.campaign, press.mould) == ("press", 48 * 60, "14 in", "")

    def test_the_present_state_is_where_it_begins(self, shop: SmallShop) -> None:
        first, second = shop.released(quantity=2)
        sign(shop, first.serial, 1)
        sign(shop, first.serial, 2)
        start_operation(serial=second.serial, position=1, stamp=shop.stamp(shop.worker))
        shop.wait(minutes=5)
        problem = present(shop).problem
        assert problem.jobs[0].tasks[0].station == "edge"
        assert problem.jobs[0].tasks[0].earliest_min == 48 * 60 - 5
        begun = problem.jobs[1].tasks[0]
        assert (begun.in_work_by, begun.work_min) == (str(shop.worker.pk), 15 - 5)

    def test_a_paused_step_is_in_nobodys_hands(self, shop: SmallShop) -> None:
        (shell,) = shop.released()
        start_operation(serial=shell.serial, position=1, stamp=shop.stamp(shop.worker))
        shell.operations.filter(position=1).update(paused_at=shop.clock)
        assert present(shop).problem.jobs[0].tasks[0].in_work_by == ""

    def test_what_is_on_hold_is_named_and_not_planned(self, shop: SmallShop) -> None:
        first, second = shop.released(quantity=2)
        report_problem(
            serial=first.serial, position=1, person=shop.checker, text="split", stamp=shop.stamp(shop.checker)
        )
        found = present(shop)
        assert [job.key for job in found.problem.jobs] == [second.serial]
        assert found.on_hold == (first.serial,)
        assert found.notes == (f"1 shell is on hold and not planned until somebody decides: {first.serial}.",)

    def test_what_a_plan_keeps_is_in_english_whoever_asks_for_it(self, shop: SmallShop) -> None:
        first, _ = shop.released(quantity=2)
        report_problem(
            serial=first.serial, position=1, person=shop.checker, text="split", stamp=shop.stamp(shop.checker)
        )
        plan, _ = ask_for_plan(time_limit_s=0, seed=1, stamp=shop.stamp(shop.supervisor))
        said = patch("routing.plan_problem.ngettext", side_effect=lambda *_: translation.get_language() or "")
        with said, spoken_in("de"):
            make_plan(pk=plan.pk, people=people_to_plan(TODAY), clock=lambda: shop.clock)
        plan.refresh_from_db()
        assert plan.summary["notes"] == ["en-gb"]

    def test_hours_closures_absences_and_outages(self, shop: SmallShop) -> None:
        shop.released()
        Closure.objects.create(first=TODAY + timedelta(days=1), last=TODAY + timedelta(days=1), reason="stock-taking")
        Absence.objects.create(person=shop.worker, first=TODAY, last=TODAY)
        local = timezone.get_current_timezone()
        eight = datetime.combine(TODAY, time(8), local)
        Outage.objects.create(
            station=shop.stations["press"], starts_at=eight, ends_at=eight + timedelta(days=3), reason="pump"
        )
        found = present(shop)
        hours = ShopHours(week=USUAL)
        opens, closes = (found.minute(at) for at in hours.on(TODAY)[0])
        stations = {station.code: station for station in found.problem.stations}
        assert stations["cut"].windows[0] == (max(0, opens), closes)
        tuesday = found.minute(datetime.combine(TODAY + timedelta(days=1), time(0), local))
        wednesday = tuesday + 1440
        assert not [w for w in stations["cut"].windows if tuesday <= w[0] < wednesday]
        assert stations["press"].windows[0][0] == found.minute(eight + timedelta(days=3))
        workers = {worker.key: worker for worker in found.problem.workers}
        assert workers[str(shop.worker.pk)].windows[0][0] >= wednesday
        assert workers[str(shop.checker.pk)].windows[0] == (max(0, opens), closes)

    def test_moulds_and_rooms_count_what_is_in_them(self, shop: SmallShop) -> None:
        first, _ = shop.released(quantity=2)
        Mould.objects.create(diameter_in=14, count=1)
        room = DryingRoom.objects.create(name="warm room", places=3)
        room.stations.add(shop.stations["press"])
        sign(shop, first.serial, 1)
        sign(shop, first.serial, 2)
        shop.wait(minutes=2)
        problem = present(shop).problem
        held = problem.jobs[1].tasks[1].mould_min
        assert held > 2
        assert problem.mould_taken == {"14 in": (held - 2,)}
        assert problem.room_taken == {"warm room": (48 * 60 - 2,)}
        assert problem.jobs[1].tasks[1].room == "warm room"

    def test_only_a_final_checker_is_planned_for_the_final_check(self, shop: SmallShop) -> None:
        able = [person.name for person in people_to_plan(TODAY) if "final-check" in person.stations]
        assert shop.checker.name in able
        assert shop.worker.name not in able

    def test_nobody_qualified_is_said(self, shop: SmallShop) -> None:
        shop.released()
        shop.stations["edge"].qualifications.all().delete()
        found, plan = present_problem(shop.clock, people_to_plan(TODAY))
        assert any("Nobody is qualified at edge: 1 shell that still need" in note for note in found.notes)
        assert len(plan.left_out) == 1

    def test_a_qualification_that_ends_soon_is_said(self, shop: SmallShop) -> None:
        qualification = shop.worker.qualifications.get(station__code="press")
        qualification.valid_to = TODAY + timedelta(days=3)
        qualification.save()
        assert [shop.worker.name in line and "press" in line for line in ending_soon(TODAY)] == [True]

    def test_queries_do_not_grow(self, shop: SmallShop, django_assert_max_num_queries) -> None:
        for number in range(6):
            shop.released(f"K-{number}", quantity=3)
        people = people_to_plan(TODAY)
        with django_assert_max_num_queries(14):
            assert len(problem_of(now=shop.clock, people=people).problem.jobs) == 18


class TestPlan:
    def asked(self, shop: SmallShop, limit: float = 0.0) -> Plan:
        plan, is_new = ask_for_plan(time_limit_s=limit, seed=1, stamp=shop.stamp(shop.supervisor))
        assert is_new
        make_plan(pk=plan.pk, people=people_to_plan(TODAY), clock=lambda: shop.clock)
        plan.refresh_from_db()
        return plan

    def test_a_plan_by_rule_stands_at_once(self, shop: SmallShop) -> None:
        shop.released(quantity=3)
        plan = self.asked(shop)
        assert (plan.state, plan.is_current, plan.steps.count()) == (PlanState.READY, True, 24)
        first = plan.steps.select_related("operation", "person").first()
        assert first is not None
        assert (first.operation.position, first.person is not None) == (1, True)
        (kit,) = plan.summary["kits"]
        assert (kit["order"], kit["late"]) == ("K-1", False)

    def test_the_solver_betters_it_in_the_same_row_and_repeats_itself(self, shop: SmallShop) -> None:
        shop.released(quantity=2, due=TODAY)
        plans = [self.asked(shop, 2.0) for _ in range(2)]
        assert [plan.state for plan in plans] == [PlanState.READY] * 2
        assert plans[0].input_hash == plans[1].input_hash
        times = [list(plan.steps.values_list("operation_id", "starts_at", "person_id")) for plan in plans]
        assert times[0] == times[1]
        assert plans[1].objective is not None
        assert plans[1].bound is not None
        assert 0 < plans[1].bound <= plans[1].objective
        assert [plan.pk for plan in Plan.objects.filter(is_current=True)] == [plans[1].pk]

    def test_what_is_written_down_breaks_no_rule(self, shop: SmallShop) -> None:
        shop.released(quantity=4)
        found, quick = present_problem(shop.clock, people_to_plan(TODAY))
        assert faults(found.problem, quick) == []
        (kit,) = kits_in(found, quick)
        assert found.minute(kit.ready_at) == max(placed.end_min for placed in quick.placed)

    def test_asked_twice_it_is_made_once(self, shop: SmallShop) -> None:
        shop.released()
        first, is_new = ask_for_plan(time_limit_s=5, seed=1, stamp=shop.stamp(shop.supervisor))
        again, is_new_again = ask_for_plan(time_limit_s=5, seed=1, stamp=shop.stamp(shop.supervisor))
        assert (first.pk, is_new, is_new_again) == (again.pk, True, False)

    def test_a_silent_maker_is_given_up(self, shop: SmallShop) -> None:
        shop.released()
        first, _ = ask_for_plan(time_limit_s=5, seed=1, stamp=shop.stamp(shop.supervisor))
        shop.wait(minutes=2)
        second, is_new = ask_for_plan(time_limit_s=5, seed=1, stamp=shop.stamp(shop.supervisor))
        assert is_new
        first.refresh_from_db()
        assert (first.state, "interrupted" in first.message) == (PlanState.FAILED, True)
        assert second.pk != first.pk

    def test_stopped_it_keeps_the_best_so_far(self, shop: SmallShop) -> None:
        shop.released(quantity=2, due=TODAY)
        plan, _ = ask_for_plan(time_limit_s=5, seed=1, stamp=shop.stamp(shop.supervisor))
        assert stop_plan(pk=plan.pk)
        make_plan(pk=plan.pk, people=people_to_plan(TODAY), clock=lambda: shop.clock)
        plan.refresh_from_db()
        assert (plan.state, plan.steps.count(), plan.is_current) == (PlanState.STOPPED, 16, True)
        assert not stop_plan(pk=plan.pk)

    def test_nothing_to_plan_is_said_and_the_old_plan_stays(self, shop: SmallShop) -> None:
        plan = self.asked(shop)
        assert (plan.state, plan.is_current) == (PlanState.FAILED, False)
        assert "nothing to plan" in plan.message

    def test_campaigns_are_numbered_where_the_colour_changes(self, shop: SmallShop) -> None:
        shop.released(quantity=2)
        plan = self.asked(shop)
        coats = plan.steps.filter(station=shop.stations["finish"]).order_by("starts_at")
        numbers = [step.campaign_number for step in coats]
        names = [step.campaign for step in coats]
        assert len(set(names)) == 2
        for (name, number), (after, following) in pairwise(zip(names, numbers, strict=True)):
            assert (following == number) == (after == name)

    def test_only_so_many_old_plans_are_kept(self, shop: SmallShop) -> None:
        shop.released()
        with patch("routing.plan_jobs.KEPT", 2):
            for _ in range(5):
                self.asked(shop)
        assert Plan.objects.count() <= 4
        assert PlannedStep.objects.values("plan").distinct().count() <= 4


class TestPromise:
    def asked(self, shop: SmallShop, *, due: date | None = None, quantity: int = 1) -> Promise:
        wanted = [Wanted(shop.model, shop.finish, quantity)]
        return promise(wanted=wanted, due=due, now=shop.clock, people=people_to_plan(TODAY))

    def test_a_date_behind_all_work_with_a_margin(self, shop: SmallShop) -> None:
        alone = self.asked(shop)
        shop.released("K-1", quantity=30)
        given = self.asked(shop, due=TODAY + timedelta(days=60))
        assert given.ready_at > alone.ready_at
        # 48 h in the press and the coats' dwells are behind it at least.
        assert alone.ready_at - shop.clock > timedelta(hours=48)
        assert given.day > timezone.localdate(given.ready_at)
        assert (given.due_is_kept, given.shells, given.if_taken) == (True, 1, ())
        assert KitOrder.objects.count() == 1

    def test_a_day_that_cannot_be_kept_is_said_and_whom_it_would_make_late(self, shop: SmallShop) -> None:
        found, plan = present_problem(shop.clock, people_to_plan(TODAY))
        assert plan.placed == ()
        shop.released("K-1", quantity=8)
        found, plan = present_problem(shop.clock, people_to_plan(TODAY))
        (kit,) = kits_in(found, plan)
        KitOrder.objects.update(due=timezone.localdate(kit.ready_at))
        given = self.asked(shop, due=TODAY, quantity=12)
        assert not given.due_is_kept
        assert [late.order for late in given.if_taken] == ["K-1"]
        assert self.asked(shop).if_taken == ()

    def test_the_margin_is_a_fifth_of_the_working_days(self) -> None:
        hours = ShopHours(week=USUAL)
        # Monday 2 November to Friday 13 November 2026: ten working days, two more end on Tuesday.
        now = datetime.combine(date(2026, 11, 2), time(8), timezone.get_current_timezone())
        ready = datetime.combine(date(2026, 11, 13), time(14), timezone.get_current_timezone())
        assert with_margin(hours, now, ready) == (date(2026, 11, 17), 2)

    def test_what_cannot_be_made_or_placed_gets_no_date(self, shop: SmallShop) -> None:
        with pytest.raises(NotAllowedNow, match="at least one drum"):
            promise(wanted=[], due=None, now=shop.clock, people=people_to_plan(TODAY))
        shop.stations["edge"].qualifications.all().delete()
        with pytest.raises(NotAllowedNow, match="No date within"):
            self.asked(shop)
        RouteTemplate.objects.update(is_current=False)
        with pytest.raises(NotReleasable, match="no route"):
            self.asked(shop)


class TestWhatIf:
    def test_a_worker_away_moves_what_only_they_can_do(self, shop: SmallShop) -> None:
        shop.stations["edge"].qualifications.exclude(person=shop.worker).delete()
        shop.released(quantity=2)
        people = people_to_plan(TODAY)
        change = Change(away=((shop.worker.pk, TODAY, TODAY + timedelta(days=13)),))
        answer = what_if(change=change, now=shop.clock, people=people)
        (moved,) = answer.moved
        assert moved.order == "K-1"
        assert moved.moved_h > 24
        assert Absence.objects.count() == 0
        # The same asked with the absence entered: nothing moves any more.
        Absence.objects.create(person=shop.worker, first=TODAY, last=TODAY + timedelta(days=13))
        assert what_if(change=change, now=shop.clock, people=people).moved == ()

    def test_a_press_down_makes_a_kit_late(self, shop: SmallShop) -> None:
        shop.released(due=TODAY + timedelta(days=16))
        begins = shop.clock
        change = Change(down=(("press", begins, begins + timedelta(days=20)),))
        answer = what_if(change=change, now=shop.clock, people=people_to_plan(TODAY))
        assert (answer.late_before, answer.late_after) == (0, 1)
        assert answer.moved[0].is_late
        assert not answer.moved[0].was_late

    def test_a_rush_order_goes_first(self, shop: SmallShop) -> None:
        for number in range(6):
            shop.released(f"K-{number}", quantity=4, due=TODAY + timedelta(days=20 + number))
        people = people_to_plan(TODAY)
        answer = what_if(change=Change(rush=("K-5",)), now=shop.clock, people=people)
        by_order = {kit.order: kit for kit in answer.moved}
        assert by_order["K-5"].moved_h < 0

    def test_a_draft_as_a_rush_order_is_planned_too(self, shop: SmallShop) -> None:
        shop.released()
        shop.order("K-9", due=TODAY + timedelta(days=30))
        answer = what_if(change=Change(rush=("K-9",)), now=shop.clock, people=people_to_plan(TODAY))
        rushed = next(kit for kit in answer.moved if kit.order == "K-9")
        assert rushed.before is None
        assert rushed.after is not None

    def test_the_weight_of_an_order(self, shop: SmallShop) -> None:
        shop.released()
        assert set_weight(number="K-1", weight=10).weight == 10
        found = present(shop)
        assert found.problem.kits[0].weight == 10
        KitOrder.objects.update(state="shipped")
        with pytest.raises(NotAllowedNow, match="left the house"):
            set_weight(number="K-1", weight=1)


def test_a_finished_step_is_not_planned_again(shop: SmallShop) -> None:
    (shell,) = shop.released()
    sign(shop, shell.serial, 1)
    assert shell.operations.get(position=1).state == OperationState.DONE
    assert [task.key for task in present(shop).problem.jobs[0].tasks] == list(
        shell.operations.filter(position__gt=1).values_list("pk", flat=True)
    )
    assert quick_plan(present(shop)).placed[0].task == shell.operations.get(position=2).pk
