"""Sub-assemblies as lots: begun, signed step by step, in stock at the end; held and recalled through what is in them."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from quality.errors import NotQualified, QualityError, ReadingRefused
from quality.lot_hold import hold_lot
from quality.lots import set_lot_state
from quality.made_here import begin_lot, broken_lots, lots_with, sign_lot_step, steps_waiting
from quality.models import (
    HeldShell,
    LotComponent,
    LotKind,
    LotRoute,
    LotRouteStep,
    LotSignOff,
    LotState,
    MadeLot,
    MaterialLot,
    Person,
    Qualification,
)
from quality.recall import by_lot
from routing.append_only import protect, unprotect
from routing.errors import LostRace, NotAllowedNow
from tests.quality.test_materials import lot
from tests.quality.test_materials import sign as sign_cut
from tests.quality.test_races import at_once
from tests.small_shop import SmallShop, person, small_shop

pytestmark = pytest.mark.django_db
TABLES = ["quality_lotsignoff", "quality_lotcomponent"]


def route(shop: SmallShop, code: str = "plates", name: str = "Birch 3.0", kind: str = "plate") -> LotRoute:
    """Two steps at the cut station, the second 2 h after the first, then one at the press."""
    made = LotRoute.objects.create(code=code, name=name, kind=kind)
    for position, (station, title, check, dwell) in enumerate(
        [("cut", "Saw", "Square", 2.0), ("cut", "Joint", "", 0.0), ("press", "Count", "None split", 0.0)], start=1
    ):
        LotRouteStep.objects.create(
            route=made,
            position=position,
            title=title,
            station=shop.stations[station],
            check_text=check,
            dwell_h=dwell,
        )
    return made


def begin(shop: SmallShop, by: LotRoute, quantity: int = 10, **stamp: Any) -> MadeLot:
    return begin_lot(route=by, quantity=quantity, person=shop.supervisor, stamp=shop.stamp(shop.supervisor, **stamp))


def sign(shop: SmallShop, made: MadeLot, position: int, good: int = 10, **fields: Any) -> LotSignOff:
    given: dict[str, Any] = {
        "checked": True,
        "person": shop.worker,
        "station": shop.stations["press" if position == 3 else "cut"],
        "stamp": shop.stamp(shop.worker, key=fields.pop("key", None)),
        **fields,
    }
    return sign_lot_step(made=made, position=position, good=good, **given)


def finished(shop: SmallShop, made: MadeLot, *components: str) -> MaterialLot:
    sign(shop, made, 1, components=components)
    shop.wait(hours=2)
    sign(shop, made, 2)
    sign(shop, made, 3)
    return MaterialLot.objects.get(pk=made.lot_id)


def state(made: MadeLot) -> str:
    return MaterialLot.objects.get(pk=made.lot_id).state


def test_it_is_in_stock_after_its_last_step(shop: SmallShop) -> None:
    made = begin(shop, route(shop))
    assert (made.lot.code, state(made)) == ("PLATES-261102-1", LotState.MAKING)
    sign(shop, made, 1, good=9)
    shop.wait(hours=2)
    sign(shop, made, 2, good=9)
    assert state(made) == LotState.MAKING
    sign(shop, made, 3, good=8)
    assert state(made) == LotState.RECEIVED
    assert [change.state for change in made.lot.changes.order_by("pk")] == ["making", "received"]
    assert "8 pieces good" in made.lot.changes.get(state="received").reason
    assert list(broken_lots()) == []


def test_in_the_making_it_goes_into_no_drum(shop: SmallShop) -> None:
    made = begin(shop, route(shop))
    lot(shop, "P-9", received_on=shop.clock.date())
    shell = shop.released()[0]
    with pytest.raises(ReadingRefused, match="still being made"):
        sign_cut(shop, shell, plate_birch_3_0=made.lot.code)
    finished(shop, made)
    sign_cut(shop, shell, plate_birch_3_0=made.lot.code)
    assert [each.serial for each in by_lot(made.lot)] == [shell.serial]


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"position": 2}, "not_its_turn"),
        ({"position": 7}, "no_such_step"),
        ({"good": 11}, "pieces"),
        ({"good": -1}, "pieces"),
        ({"checked": False}, "missing"),
        ({"components": ["X-1"]}, "unknown_lot"),
        ({"components": ["PLATES-261102-1"]}, "itself"),
    ],
)
def test_what_is_refused_writes_nothing(shop: SmallShop, fields: dict[str, Any], code: str) -> None:
    made = begin(shop, route(shop))
    with pytest.raises((NotAllowedNow, ReadingRefused)) as refused:
        sign(shop, made, fields.pop("position", 1), **fields)
    assert getattr(refused.value, "code", "") == code
    assert not LotSignOff.objects.exists() and not LotComponent.objects.exists()


def test_its_wait_its_station_and_who_may(shop: SmallShop) -> None:
    made = begin(shop, route(shop))
    with pytest.raises(NotAllowedNow, match="sign it there"):
        sign(shop, made, 1, station=shop.stations["press"])
    with pytest.raises(NotQualified):
        sign(shop, made, 1, person=person("stranger"))
    with pytest.raises(NotQualified):
        begin_lot(route=made.route, quantity=1, person=shop.worker, stamp=shop.stamp(shop.worker))
    with pytest.raises(QualityError):
        begin(shop, made.route, quantity=0)
    sign(shop, made, 1)
    with pytest.raises(NotAllowedNow, match="waits until"):
        sign(shop, made, 2)
    Qualification.objects.filter(person=shop.worker, station=shop.stations["cut"]).update(valid_to="2026-11-01")
    shop.wait(hours=2)
    with pytest.raises(NotQualified, match="ended on"):
        sign(shop, made, 2)


def test_with_no_good_piece_left_it_is_empty(shop: SmallShop) -> None:
    made = begin(shop, route(shop))
    sign(shop, made, 1, good=0, checked=False)
    assert state(made) == LotState.EMPTY
    with pytest.raises(NotAllowedNow):
        sign(shop, made, 2, good=0)
    assert steps_waiting() == []
    assert list(broken_lots()) == []


def test_a_tap_twice_is_one_and_the_second_person_is_told(shop: SmallShop) -> None:
    made = begin(shop, route(shop), key="begin")
    assert begin(shop, made.route, key="begin") == made
    first = sign(shop, made, 1, key="tap")
    assert sign(shop, made, 1, key="tap") == first
    with pytest.raises(LostRace, match=f"{shop.worker.name} signed"):
        sign(shop, made, 1)
    other = begin(shop, made.route)
    assert other.lot.code == "PLATES-261102-2"
    with pytest.raises(LostRace, match="something else"):
        sign(shop, other, 1, key="tap")


def test_a_hold_stops_its_steps_and_freeing_goes_on_where_it_stopped(shop: SmallShop) -> None:
    made = begin(shop, route(shop))
    sign(shop, made, 1)
    shop.wait(hours=2)
    with pytest.raises(QualityError, match="still being made"):
        set_lot_state(lot=made.lot, state=LotState.OPEN, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
    for to, reason in ((LotState.HELD, "wrong wood"), (LotState.OPEN, "it is right")):
        set_lot_state(lot=made.lot, state=to, reason=reason, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
        if to == LotState.HELD:
            with pytest.raises(NotAllowedNow, match="on hold"):
                sign(shop, made, 2)
    assert state(made) == LotState.MAKING
    sign(shop, made, 2)


def test_a_bad_component_holds_the_lots_it_is_in_and_their_drums(shop: SmallShop) -> None:
    """Glue in plates, plates in panels, panels in drums."""
    bad = lot(shop, "GL-1", LotKind.OTHER, "contact cement")
    inner = finished(shop, begin(shop, route(shop, "inner", "strip", "other")), "gl-1")
    outer = finished(shop, begin(shop, route(shop)), inner.code)
    assert lots_with(bad) == [inner.pk, outer.pk]
    (shell, other) = shop.released(quantity=2)
    sign_cut(shop, shell, plate_birch_3_0=outer.code)
    lot(shop, "P-2")
    sign_cut(shop, other, plate_birch_3_0="P-2")
    assert [each.serial for each in by_lot(bad)] == [shell.serial]
    hold_lot(lot=bad, reason="does not set", person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
    assert [row.shell.serial for row in HeldShell.objects.all()] == [shell.serial]
    for each in (inner, outer):
        each.refresh_from_db()
        assert each.state == LotState.HELD
    assert "contains GL-1" in outer.changes.order_by("pk").last().reason  # type: ignore[union-attr]


def test_a_component_must_be_usable(shop: SmallShop) -> None:
    part = begin(shop, route(shop, "inner", "strip", "other"))
    made = begin(shop, route(shop))
    with pytest.raises(ReadingRefused, match="being made"):
        sign(shop, made, 1, components=[part.lot.code])
    old = lot(shop, "OLD", LotKind.OTHER, "rubber", expires_on=shop.clock.date())
    shop.wait(hours=48)
    with pytest.raises(ReadingRefused, match="expired"):
        sign(shop, made, 1, components=["old"])
    assert old.uses.count() == 0


def test_the_first_use_of_a_component_opens_it(shop: SmallShop) -> None:
    part = lot(shop, "R-1", LotKind.OTHER, "rubber")
    sign(shop, begin(shop, route(shop)), 1, components=["r-1", "R-1", " "])
    part.refresh_from_db()
    assert part.state == LotState.OPEN
    assert LotComponent.objects.count() == 1


def test_what_waits_where_in_a_fixed_number_of_queries(shop: SmallShop, django_assert_num_queries: Any) -> None:
    by = route(shop)
    made = [begin(shop, by) for _ in range(3)]
    sign(shop, made[0], 1)
    shop.wait(hours=2)
    sign(shop, made[0], 2)
    with django_assert_num_queries(5):
        assert [each.made for each in steps_waiting(shop.stations["press"])] == [made[0]]
    assert [each.made for each in steps_waiting()] == made


class TestTampering:
    @pytest.fixture
    def signed(self, shop: SmallShop) -> MadeLot:
        lot(shop, "R-1", LotKind.OTHER, "rubber")
        made = begin(shop, route(shop))
        sign(shop, made, 1, components=["R-1"])
        shop.wait(hours=2)
        sign(shop, made, 2)
        return made

    def test_the_database_refuses(self, signed: MadeLot) -> None:
        for table in TABLES:
            for statement in (f"UPDATE {table} SET id = id + 100", f"DELETE FROM {table}"):
                with (
                    pytest.raises(DatabaseError, match="kept as written"),
                    transaction.atomic(),
                    connection.cursor() as cursor,
                ):
                    cursor.execute(statement)

    @pytest.mark.parametrize(
        ("statement", "what"),
        [
            ("UPDATE quality_lotsignoff SET person_name = 'Nobody'", "was changed"),
            ("UPDATE quality_lotsignoff SET good = 9", "was changed"),
            ("UPDATE quality_lotsignoff SET previous_hash = 'x' WHERE previous_hash <> ''", "does not follow"),
            ("DELETE FROM quality_lotcomponent", "was changed"),
            ("UPDATE quality_lotroutestep SET check_text = 'none'", "was changed"),
            ("UPDATE quality_materiallot SET state = 'open' WHERE code LIKE 'PLATES%'", "not every step is signed"),
        ],
    )
    def test_past_the_triggers_it_is_found(self, signed: MadeLot, statement: str, what: str) -> None:
        assert list(broken_lots()) == []
        unprotect(connection, TABLES)
        with connection.cursor() as cursor:
            cursor.execute(statement)
        protect(connection, TABLES)
        assert any(what in broken.what for broken in broken_lots())
        with pytest.raises(CommandError, match=signed.lot.code):
            call_command("verify_records")


@pytest.mark.django_db(transaction=True)
def test_two_tablets_at_once(transactional_db: None) -> None:
    shop = small_shop()
    made = begin(shop, route(shop))
    done = at_once(*[lambda: sign(shop, made, 1)] * 2)
    assert done["done"] == 1 and sum(done.values()) == 2
    assert LotSignOff.objects.count() == 1
    assert Person.objects.filter(lot_sign_offs__isnull=False).count() == 1
