"""Glue batches: masses, clock, codes, and what a shell may be signed with at the press."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from quality.actions import sign_off
from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.glue_batches import mix_glue_batch, suggest_batch, use_up
from quality.lots import receive_lot
from quality.models import GlueBatch, LotKind, LotState, MaterialLot, Qualification
from quality.verification import verify_shell
from routing.errors import NotAllowedNow
from routing.models import Glue, Shell, ShellSpec
from routing.specs.errors import SpecError
from tests.quality.test_materials import sign
from tests.quality.test_races import at_once
from tests.shopfloor.tablets import sign_through
from tests.small_shop import SmallShop, small_shop

RIGHT = {1: 500.0, 2: 300.0}  # grams of powder and water, 100 to 60


def mix(shop: SmallShop, *, key: str | None = None, glue: Glue | None = None, **more: Any) -> GlueBatch:
    said: dict[str, Any] = {
        "glue": glue or Glue.objects.get(name="Urea"),
        "masses_g": RIGHT,
        "temperature_c": 20.0,
        "person": shop.worker,
        "station": shop.stations["press"],
        "stamp": shop.stamp(shop.worker, key=key),
    } | more
    return mix_glue_batch(**said)


def at_press(shop: SmallShop, quantity: int = 1, number: str = "K-1") -> list[Shell]:
    shells = shop.released(number, quantity)
    for shell in shells:
        sign_through(shop, shell, 1)
    return shells


@pytest.mark.django_db
class TestMixing:
    def test_a_batch_has_a_code_a_clock_and_its_parts(self, shop: SmallShop) -> None:
        receive_lot(
            code="RES-7",
            kind=LotKind.GLUE,
            name="Resin",
            received_on=shop.clock.date(),
            person=shop.supervisor,
            stamp=shop.stamp(),
        )
        batch = mix(shop, lots={1: "res-7", 2: ""}, temperature_c=29.0)
        assert batch.code == "G-261102-1"
        # 180 min at 20 °C; 9 °C above that is one halving.
        assert batch.use_until - batch.mixed_at == timedelta(minutes=90)
        assert [(part.name, part.mass_g, part.lot and part.lot.code) for part in batch.parts.all()] == [
            ("powder", 500.0, "RES-7"),
            ("water", 300.0, None),
        ]
        assert MaterialLot.objects.get().state == LotState.OPEN

    def test_codes_run_on_within_a_day_of_the_shops_clock(self, shop: SmallShop, settings: Any) -> None:
        codes = [mix(shop).code for _ in range(11)]
        assert codes[0] == "G-261102-1"
        assert codes[-1] == "G-261102-11"
        settings.TIME_ZONE = "Asia/Tokyo"
        shop.clock = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)  # past midnight in Tokyo
        assert mix(shop).code == "G-261103-1"

    def test_the_same_tap_gives_the_same_batch(self, shop: SmallShop) -> None:
        assert mix(shop, key="tap").pk == mix(shop, key="tap").pk
        assert GlueBatch.objects.count() == 1

    @pytest.mark.parametrize(("temperature", "word"), [(9.0, "too cold"), (36.0, "too warm")])
    def test_outside_the_glues_limits_nothing_is_mixed(self, shop: SmallShop, temperature: float, word: str) -> None:
        with pytest.raises(QualityError, match=word):
            mix(shop, temperature_c=temperature)
        assert not GlueBatch.objects.exists()

    @pytest.mark.parametrize(
        ("masses", "code"),
        [
            ({1: 500.0}, "bad_mass"),
            ({1: 500.0, 2: 0.0}, "bad_mass"),
            ({1: float("nan"), 2: 300.0}, "bad_mass"),
            ({1: 500.0, 2: 30.0}, "bad_proportion"),
            ({1: 300.0, 2: 500.0}, "bad_proportion"),
        ],
    )
    def test_a_wrong_mix_is_refused(self, shop: SmallShop, masses: dict[int, float], code: str) -> None:
        with pytest.raises(QualityError) as refused:
            mix(shop, masses_g=masses)
        assert refused.value.code == code
        assert not GlueBatch.objects.exists()

    def test_a_little_off_the_recipe_is_weighing(self, shop: SmallShop) -> None:
        assert mix(shop, masses_g={1: 505.0, 2: 296.0}).parts.count() == 2

    @pytest.mark.parametrize(("lot", "code"), [("NOPE", "unknown_code"), ("P-1", "wrong_kind"), ("OLD", "lot_expired")])
    def test_a_component_that_may_not_be_used_stops_the_mix(self, shop: SmallShop, lot: str, code: str) -> None:
        day = shop.clock.date()
        for name, kind, last in (("P-1", LotKind.PLATE, None), ("OLD", LotKind.GLUE, day - timedelta(days=1))):
            MaterialLot.objects.create(
                code=name, kind=kind, name="x", received_on=day - timedelta(days=9), expires_on=last
            )
        with pytest.raises(ReadingRefused) as refused:
            mix(shop, lots={1: lot})
        assert refused.value.code == code
        assert not GlueBatch.objects.exists()

    def test_only_who_may_sign_at_the_press_mixes_and_only_there(self, shop: SmallShop) -> None:
        with pytest.raises(NotAllowedNow):
            mix(shop, station=shop.stations["cut"])
        Qualification.objects.filter(person=shop.worker, station=shop.stations["press"]).delete()
        with pytest.raises(NotQualified):
            mix(shop)
        assert not GlueBatch.objects.exists()


@pytest.mark.django_db
class TestSuggesting:
    def test_masses_follow_the_frozen_specs_and_the_recipes_proportion(self, shop: SmallShop) -> None:
        specs = list(ShellSpec.objects.filter(shell__in=shop.released(quantity=3)).select_related("shell"))
        one = specs[0].results["gluing"]["to_mix_g"]
        told = suggest_batch(specs=specs, glue=Glue.objects.get(), temperature_c=20.0)
        assert told.to_mix_g == pytest.approx(3 * one)
        assert [part.mass_g for part in told.mix] == pytest.approx([3 * one / 1.6, 3 * one * 0.6 / 1.6])
        assert told.shells_served == 29  # (180 − 5) / 6
        assert told.advice == ""

    def test_what_one_batch_can_not_serve_is_said(self, shop: SmallShop) -> None:
        specs = list(ShellSpec.objects.filter(shell__in=shop.released(quantity=3)).select_related("shell"))
        hot = suggest_batch(specs=specs, glue=Glue.objects.get(), temperature_c=35.0, minutes_per_shell=25)
        assert (hot.shells_served, "two people" in hot.advice) == (0, True)  # longer than the closed time
        Glue.objects.update(pot_life_min_at_20c=20)
        few = suggest_batch(specs=specs, glue=Glue.objects.get(), temperature_c=20.0)
        assert (few.shells_served, few.advice[:22]) == (2, "One batch serves 2 she")

    def test_no_shell_or_another_glue_is_refused(self, shop: SmallShop) -> None:
        specs = list(ShellSpec.objects.filter(shell__in=shop.released()).select_related("shell"))
        pva = Glue.objects.create(name="PVA", pot_life_min_at_20c=700, closed_time_min_at_20c=14)
        pva.mix.create(position=1, name="dispersion", parts_by_weight=100)
        with pytest.raises(SpecError, match="Choose at least one"):
            suggest_batch(specs=[], glue=pva, temperature_c=20.0)
        with pytest.raises(SpecError, match="glued with Urea"):
            suggest_batch(specs=specs, glue=pva, temperature_c=20.0)


@pytest.mark.django_db
class TestSigningWithABatch:
    def test_the_record_names_the_batch(self, shop: SmallShop) -> None:
        shell = at_press(shop)[0]
        batch = mix(shop)
        shop.wait(minutes=30)
        signed = sign(shop, shell, 2, glue=batch.code.lower()).sign_off
        assert signed.record.body["materials"] == [
            {"for": "Glue batch", "kind": "glue_batch", "code": batch.code, "name": "Urea"}
        ]
        assert signed.materials.get().glue_batch == batch
        shell.refresh_from_db()
        assert list(verify_shell(shell)) == []

    def test_a_batch_is_wanted_as_long_as_the_shop_mixes_that_glue_in_batches(self, shop: SmallShop) -> None:
        first, second, third, fourth = at_press(shop, 4)
        sign(shop, first, 2)  # nobody keeps batches
        other = Glue.objects.create(name="PVA", pot_life_min_at_20c=700, closed_time_min_at_20c=14)
        other.mix.create(position=1, name="dispersion", parts_by_weight=100)
        mix(shop, glue=other, masses_g={1: 400.0})
        sign(shop, second, 2)  # another glue's batches ask for nothing
        mix(shop)
        with pytest.raises(ReadingRefused) as refused:
            sign(shop, third, 2)
        assert refused.value.code == "material_missing"
        shop.wait(hours=5)  # the batch is too old, but it is still that day: a new one is to be mixed
        with pytest.raises(ReadingRefused):
            sign(shop, third, 2)
        shop.wait(days=1)
        sign(shop, fourth, 2)  # nothing was mixed today

    @pytest.mark.parametrize(
        ("spoil", "code"),
        [
            (lambda shop, batch: shop.wait(minutes=181), "pot_life_over"),
            (lambda shop, batch: shop.wait(minutes=-1), "not_mixed_yet"),
            (lambda shop, batch: GlueBatch.objects.update(is_empty=True), "batch_empty"),
            (lambda shop, batch: Glue.objects.filter(name="Urea").update(name="Urea two"), None),
            (
                lambda shop, batch: GlueBatch.objects.update(
                    glue=Glue.objects.create(name="PVA", pot_life_min_at_20c=700, closed_time_min_at_20c=14)
                ),
                "wrong_glue",
            ),
        ],
    )
    def test_a_batch_that_may_not_be_spread_is_refused(
        self, shop: SmallShop, spoil: Callable[[SmallShop, GlueBatch], object], code: str | None
    ) -> None:
        shell = at_press(shop)[0]
        batch = mix(shop)
        spoil(shop, batch)
        if code is None:  # the glue was only renamed: it is the same glue
            assert sign(shop, shell, 2, glue=batch.code).sign_off.materials.count() == 1
            return
        with pytest.raises(ReadingRefused) as refused:
            sign(shop, shell, 2, glue=batch.code)
        assert refused.value.code == code
        assert batch.code in refused.value.message
        assert shop.step(shell, 2).state == "ready"

    def test_it_may_be_spread_to_the_last_minute(self, shop: SmallShop) -> None:
        shell = at_press(shop)[0]
        batch = mix(shop)
        shop.wait(minutes=180)
        assert sign(shop, shell, 2, glue=batch.code).sign_off.materials.count() == 1

    def test_a_tap_that_arrives_late_counts_from_when_it_was_made(self, shop: SmallShop) -> None:
        shell = at_press(shop)[0]
        batch = mix(shop)
        made = shop.clock + timedelta(minutes=179)
        stamp = replace(shop.stamp(shop.worker), at=made, received_at=made + timedelta(hours=2))
        signed = sign_off(
            serial=shell.serial,
            position=2,
            person=shop.worker,
            answers={},
            materials={"glue": batch.code},
            stamp=stamp,
        )
        assert signed.sign_off.materials.get().glue_batch == batch

    def test_a_lot_is_no_batch_and_a_batch_no_lot(self, shop: SmallShop) -> None:
        cut, glued = shop.released(quantity=2)
        sign_through(shop, glued, 1)
        batch = mix(shop)
        MaterialLot.objects.create(code="GL-1", kind=LotKind.GLUE, name="x", received_on=shop.clock.date())
        for shell, position, given in ((glued, 2, {"glue": "GL-1"}), (cut, 1, {"plate_birch_3_0": batch.code})):
            with pytest.raises(ReadingRefused) as refused:
                sign(shop, shell, position, **given)
            assert refused.value.code == "wrong_kind"

    def test_used_up_is_said_once_and_holds(self, shop: SmallShop) -> None:
        batch = mix(shop)
        for _ in range(2):
            use_up(batch=batch, person=shop.worker, station=shop.stations["press"], stamp=shop.stamp(shop.worker))
        batch.refresh_from_db()
        assert batch.is_empty


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_many_mix_at_once_and_each_batch_has_its_own_number(self, transactional_db: None) -> None:
        shop = small_shop()
        assert at_once(*[lambda n=n: mix(shop, key=f"key {n}") for n in range(6)]) == {"done": 6}
        assert sorted(GlueBatch.objects.values_list("code", flat=True)) == [f"G-261102-{n}" for n in range(1, 7)]

    def test_one_tap_that_arrives_many_times_at_once_mixes_once(self, transactional_db: None) -> None:
        shop = small_shop()
        assert at_once(*[lambda: mix(shop, key="one tap")] * 5) == {"done": 5}
        assert GlueBatch.objects.count() == 1
