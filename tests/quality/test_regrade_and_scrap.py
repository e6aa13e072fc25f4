"""A shell on hold becomes another drum, or another shell takes its place."""

from __future__ import annotations

import pytest

from quality.actions import sign_off
from quality.models import Problem, ProblemState
from quality.trace import story_of
from routing.errors import NotAllowedNow
from routing.kits import in_kit_order, kit_of
from routing.models import (
    DrumModel,
    Finish,
    FinishCoat,
    KitOrder,
    Operation,
    OperationState,
    OrderState,
    ProductLine,
    RouteStep,
    RouteTemplate,
    Shell,
    ShellState,
)
from routing.rework import regrade_choices
from tests.quality.on_hold import (
    COAT_1,
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
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


class TestRegrade:
    def test_spec_and_steps_are_those_of_the_other_finish(self, shop: SmallShop, edged: Shell) -> None:
        spec = regraded(shop, edged, other_finish())
        edged.refresh_from_db()
        assert (edged.spec_revision, spec.revision, edged.finish.name) == (2, 2, "Heron gloss")
        assert len(spec.inputs["finish"]["coats"]) == 3
        steps = list(Operation.objects.filter(shell=edged).order_by("position"))
        assert [step.position for step in steps] == list(range(1, len(steps) + 1))
        assert [(step.title, step.state) for step in steps] == [
            ("cut", "done"),
            ("press", "done"),
            ("edge", "done"),
            ("finish 1 of 2: clear 1", "skipped"),  # it was held there
            ("finish 1 of 3: clear 1", "ready"),
            ("finish 2 of 3: clear 2", "waiting"),
            ("finish 3 of 3: clear 3", "waiting"),
            ("assemble", "waiting"),
            ("final check", "waiting"),
            ("pack", "waiting"),
        ]
        story = story_of(edged)
        assert story.finish == "Heron gloss" and "Heron satin" in story.ordered_as
        assert "Heron satin becomes" in story.events[-1].detail and "Heron gloss" in story.events[-1].detail
        assert whole(edged)

    def test_it_can_be_made_to_the_end(self, shop: SmallShop, edged: Shell) -> None:
        regraded(shop, edged, other_finish())
        sign_up_to(shop, edged, 10)
        edged.refresh_from_db()
        assert edged.state == ShellState.PACKED
        assert whole(edged)

    def test_a_coated_shell_first_goes_back_before_its_coats(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, COAT_1)
        hold(shop, shell)
        finish = other_finish()
        with pytest.raises(NotAllowedNow) as refused:
            regraded(shop, shell, finish)
        assert refused.value.code == "finish_begun"
        send_back(shop, shell, EDGE)
        sign_up_to(shop, shell, EDGE)
        hold(shop, shell)
        regraded(shop, shell, finish)
        titles = dict(Operation.objects.filter(shell=shell).values_list("title", "state"))
        assert titles["finish 1 of 2: clear 1"] == "skipped"  # its void signature stays on record
        assert titles["finish 2 of 2: clear 2"] == "skipped"  # it was held there once
        sign_up_to(shop, shell, 20)
        shell.refresh_from_db()
        assert shell.state == ShellState.PACKED
        assert whole(shell)

    def test_twice(self, shop: SmallShop, edged: Shell) -> None:
        regraded(shop, edged, other_finish())
        hold(shop, edged)
        regraded(shop, edged, shop.finish)
        steps = list(Operation.objects.filter(shell=edged).order_by("position"))
        assert [step.position for step in steps] == list(range(1, len(steps) + 1))
        assert [step.title for step in steps if step.state == "skipped"] == [
            "finish 1 of 2: clear 1",
            "finish 1 of 3: clear 1",
        ]
        sign_up_to(shop, edged, 20)
        assert whole(edged)
        assert story_of(edged).ordered_as == ""

    def test_glue_goes_on_curing(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, PRESS)
        until = shop.step(shell, EDGE).not_before
        hold(shop, shell)
        regraded(shop, shell, other_finish())
        edge = Operation.objects.get(shell=shell, state=OperationState.READY)
        assert edge.title == "edge" and edge.not_before == until and edge.position == EDGE

    def test_a_late_tap_of_the_old_plan_is_refused(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        sign_up_to(shop, shell, PRESS)
        shop.clock = shop.step(shell, EDGE).not_before or shop.clock
        shop.wait(minutes=1)
        old = shop.stamp(shop.worker, key="kept on a tablet")
        hold(shop, shell)
        regraded(shop, shell, other_finish())
        late = type(old)(old.person_id, old.person_name, old.at, shop.clock, old.device, old.tap_key)
        with pytest.raises(NotAllowedNow) as refused:
            sign_off(serial=shell.serial, position=EDGE, person=shop.worker, answers={}, stamp=late)
        assert refused.value.code == "older_tap"

    def test_another_model_of_its_size_whose_signed_steps_are_the_same(self, shop: SmallShop, edged: Shell) -> None:
        line = ProductLine.objects.create(name="Wren", finish_kind="oil")
        oil = Finish.objects.create(name="Wren oil", kind="oil", gloss_target_gu=10)
        FinishCoat.objects.create(
            finish=oil, position=1, name="oil 1", stage="oil", wet_film_um=40, volume_solids_pct=60, base_dwell_h=12
        )
        template = RouteTemplate.objects.create(role="snare", finish_kind="oil", created_at=shop.clock)
        for n, code in enumerate(["cut", "press", "edge", "finish", "assemble", "final-check", "pack"], start=1):
            RouteStep.objects.create(
                template=template,
                position=n,
                station=shop.stations[code],
                repeat="finish_coats" if code == "finish" else "once",
                dwell_kind={"press": "cure", "finish": "dry"}.get(code, ""),
            )
        model = DrumModel.objects.get(pk=shop.model.pk)
        model.pk, model.code, model.line = None, "wren-snare-14x5-5", line
        model._state.adding = True
        model.save()
        assert (model, oil) in regrade_choices(edged)
        regraded(shop, edged, oil, model)
        edged.refresh_from_db()
        assert (edged.model, edged.finish) == (model, oil)
        assert "finish 1 of 1: oil 1" in [step.title for step in edged.operations.all()]

    def test_refused_when_a_signed_step_would_have_been_another(self, shop: SmallShop, edged: Shell) -> None:
        line = ProductLine.objects.create(name="Bittern", finish_kind="lacquer")
        model = DrumModel.objects.get(pk=shop.model.pk)
        model.pk, model.code, model.line = None, "bittern-snare-14x5-5", line
        model.snare_bed_depth_mm = 2.0
        model._state.adding = True
        model.save()
        with pytest.raises(NotAllowedNow) as refused:
            regraded(shop, edged, shop.finish, model)
        assert refused.value.code == "other_numbers" and "edge" in refused.value.message
        edged.refresh_from_db()
        assert (edged.spec_revision, edged.state) == (1, ShellState.ON_HOLD)
        assert Problem.objects.get().state == ProblemState.OPEN

    def test_refused_for_another_size_and_for_what_it_is(self, shop: SmallShop, edged: Shell) -> None:
        with pytest.raises(NotAllowedNow) as refused:
            regraded(shop, edged, shop.finish)
        assert refused.value.code == "same_drum"
        model = DrumModel.objects.get(pk=shop.model.pk)
        model.pk, model.code, model.nominal_depth_in = None, "heron-snare-14x6-5", 6.5
        model._state.adding = True
        model.save()
        with pytest.raises(NotAllowedNow) as refused:
            regraded(shop, edged, shop.finish, model)
        assert refused.value.code == "other_size"
        assert model not in [each for each, _ in regrade_choices(edged)]


class TestScrap:
    def test_a_new_shell_takes_its_place(self, shop: SmallShop) -> None:
        first, second = shop.released(quantity=2)
        sign_up_to(shop, first, EDGE)
        hold(shop, first)
        done = scrap_it(shop, first)
        first.refresh_from_db()
        made = done.replacement
        assert first.state == ShellState.SCRAPPED
        assert states(first) == ["done"] * 3 + ["skipped"] * 5
        assert made.serial not in (first.serial, second.serial)
        assert (made.replaces, made.order, made.line, made.state) == (first, first.order, first.line, "planned")
        assert states(made) == ["ready"] + ["waiting"] * 7
        order = KitOrder.objects.get()
        assert order.state == OrderState.IN_PRODUCTION
        every = Shell.objects.filter(order=order)
        assert [shell.serial for shell in in_kit_order(every)] == [made.serial, second.serial]
        kit = kit_of(order)
        assert kit is not None
        drums = [name for nest in kit.packing.nests for name in nest.drums]
        assert len(drums) == 2 and all(first.serial not in name for name in drums)
        assert story_of(first).replaced_by == made.serial and story_of(made).replaces == first.serial
        assert f"in place of {first.serial}" in story_of(made).events[0].detail
        assert made.serial in story_of(first).events[-1].detail
        for shell in Shell.objects.all():
            assert whole(shell)

    def test_a_replacement_that_is_scrapped_in_turn_keeps_the_place(self, shop: SmallShop) -> None:
        first, second = shop.released(quantity=2)
        hold(shop, first)
        made = scrap_it(shop, first).replacement
        hold(shop, made)
        again = scrap_it(shop, made).replacement
        assert [shell.serial for shell in in_kit_order(Shell.objects.all())] == [again.serial, second.serial]

    def test_the_order_is_complete_with_the_replacement(self, shop: SmallShop, edged: Shell) -> None:
        made = scrap_it(shop, edged).replacement
        sign_up_to(shop, made, FINAL)
        assert KitOrder.objects.get().state == OrderState.IN_PRODUCTION
        sign_up_to(shop, made, PACK)
        assert KitOrder.objects.get().state == OrderState.COMPLETE

    def test_a_regraded_shell_is_replaced_by_what_was_ordered(self, shop: SmallShop, edged: Shell) -> None:
        regraded(shop, edged, other_finish())
        hold(shop, edged)
        assert scrap_it(shop, edged).replacement.finish == shop.finish

    def test_nothing_more_is_signed_on_a_scrapped_shell(self, shop: SmallShop, edged: Shell) -> None:
        scrap_it(shop, edged)
        with pytest.raises(NotAllowedNow) as refused:
            sign(shop, edged, COAT_1)
        assert refused.value.code == "shell_gone"
        assert not Operation.objects.current().filter(shell=edged).exists()
