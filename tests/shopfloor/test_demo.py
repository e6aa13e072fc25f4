"""The demo shop: loads once and never over another shop, every drum in it can be made, and its order book imports."""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import check_password
from django.core.management import CommandError, call_command

import shopfloor.demo
from quality.checks import count_lines, spec_value
from quality.models import CheckKind, CheckPoint, Defect, LotKind, MaterialLot, Person, Qualification, Role
from quality.pins import confirm_pin
from routing.freezing import drum_inputs
from routing.models import (
    DrumModel,
    EdgeProfile,
    Finish,
    GluePart,
    KitLine,
    KitOrder,
    LayUp,
    Plate,
    RouteTemplate,
    Shop,
    Species,
    Station,
    StationKind,
    WrapSheet,
)
from routing.order_book import import_order_book, read_order_book
from routing.recipe_check import recipe_models
from routing.release import prepare_order
from routing.specs.inputs import CoatStage, EdgeShape, FinishKind
from routing.specs.inputs import Role as DrumRole
from routing.specs.jsonable import to_json
from routing.specs.sheet import compute_sheet
from shopfloor.command_line import command_line_stamp
from shopfloor.demo.loading import NotEmpty, load_demo
from shopfloor.demo.people import PEOPLE
from tests.small_shop import small_shop

NOW = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)
TODAY = date(2026, 11, 2)
ORDER_BOOK = Path(shopfloor.demo.__file__).with_name("order_book.csv")


@pytest.fixture
def demo(db: None) -> None:
    load_demo(now=NOW, today=TODAY)


def everything() -> dict[str, Any]:
    return {
        "shop": list(Shop.objects.values()),
        "people": list(Person.objects.order_by("pk").values()),
        "models": list(DrumModel.objects.order_by("pk").values()),
        "checks": list(CheckPoint.objects.order_by("pk").values()),
        "qualifications": list(Qualification.objects.order_by("pk").values()),
    }


# The command


@pytest.mark.django_db
def test_the_command_loads_once_and_prints_the_sign_ins_each_time(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("demo")
    first = capsys.readouterr().out
    assert "The demo shop is loaded." in first
    assert Shop.current().is_demo
    before = everything()
    for options in ({}, {"if_empty": True}):
        call_command("demo", **options)
        again = capsys.readouterr().out
        assert "there already; nothing was changed" in again
        for shown in (first, again):
            assert all(row.username in shown and row.password in shown and row.pin in shown for row in PEOPLE)
            assert "http://" in shown
    assert everything() == before


@pytest.mark.django_db
def test_a_changed_sign_in_is_not_printed_as_if_it_held(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("demo")
    greta, bram = Person.objects.get(username="greta"), Person.objects.get(username="bram")
    greta.set_password("another long one")
    greta.save()
    Person.objects.filter(pk=bram.pk).update(pin_version=2)
    Person.objects.filter(username="kit").update(is_active=False)
    capsys.readouterr()
    call_command("demo")
    lines = {line.split()[0]: line for line in capsys.readouterr().out.splitlines() if line.strip()}
    assert "every-ring-closed" not in lines["greta"] and "(changed)" in lines["greta"]
    assert "204681" not in lines["bram"] and "wood-before-noon" in lines["bram"]
    assert "kit" not in lines


@pytest.mark.django_db
def test_a_shop_of_your_own_is_never_touched(capsys: pytest.CaptureFixture[str]) -> None:
    small_shop()
    before = everything()
    with pytest.raises(CommandError, match="holds a shop already"):
        call_command("demo")
    call_command("demo", if_empty=True)
    assert capsys.readouterr().out == ""
    assert everything() == before


@pytest.mark.django_db
def test_one_person_is_enough_to_make_it_a_shop_of_your_own() -> None:
    Person.objects.create_superuser("owner", "a long enough one")
    with pytest.raises(NotEmpty):
        load_demo(now=NOW, today=TODAY)
    assert not Station.objects.exists()


@pytest.mark.django_db
def test_a_slip_in_the_data_leaves_the_database_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopfloor.demo.loading.DEFECTS", [("D1", "", "cut", "cut", "minor", "rework")])
    with pytest.raises(Exception, match="cannot be blank"):
        load_demo(now=NOW, today=TODAY)
    assert not Person.objects.exists() and not Station.objects.exists() and not DrumModel.objects.exists()
    assert not Shop.objects.filter(is_demo=True).exists()


# What is in it


@pytest.mark.usefixtures("demo")
def test_the_printed_secrets_open_the_doors() -> None:
    people = {person.username: person for person in Person.objects.all()}
    assert len({row.pin for row in PEOPLE if row.pin}) == sum(bool(row.pin) for row in PEOPLE)
    for row in PEOPLE:
        assert check_password(row.password, people[row.username].password)
        assert len(row.password) >= 10
        if row.pin:
            assert len(row.pin) == 6 and row.pin.isdigit()
            confirm_pin(person=people[row.username], pin=row.pin, at=NOW)
    count = Counter(Role(person.role) for person in people.values())
    assert count[Role.WORKER] >= 6 and count[Role.FINAL_CHECKER] == 2
    assert count[Role.SUPERVISOR] == count[Role.OFFICE] == count[Role.ADMINISTRATOR] == 1


@pytest.mark.usefixtures("demo")
def test_every_station_has_people_cautions_checks_and_defects() -> None:
    assert {station.kind for station in Station.objects.all()} == set(StationKind.values)
    found_at = [set(defect.found_at.split(", ")) for defect in Defect.objects.all()]
    kinds = {station.kind for station in Station.objects.all()}
    for defect in Defect.objects.all():
        assert set(filter(None, defect.caused_at.split(", "))) <= kinds and defect.usual_disposition, defect
    assert set().union(*found_at) <= set(StationKind.values)
    assert len(found_at) >= 50
    for station in Station.objects.all():
        holders = [q.person for q in station.qualifications.select_related("person") if q.holds_on(TODAY)]
        # One may be away; and whoever assembled a drum may not be the one who checks it.
        assert len(holders) >= 2, station
        assert len(station.caution) > 80, station
        assert station.check_points.filter(is_current=True).count() >= 2, station
        assert any(station.kind in kinds for kinds in found_at), station
    expired = [q for q in Qualification.objects.all() if not q.holds_on(TODAY)]
    assert [(q.person.username, q.station.code) for q in expired] == [("ewan", "edge")]


@pytest.mark.usefixtures("demo")
def test_every_role_and_finish_has_its_own_route() -> None:
    routes = {
        (template.role, template.finish_kind): [step.station.code for step in template.steps.all()]
        for template in RouteTemplate.objects.filter(is_current=True)
    }
    assert set(routes) == {(role.value, kind.value) for role in DrumRole for kind in FinishKind}
    for (role, kind), codes in routes.items():
        assert codes[:3] == ["cut", "press", "trim"] and codes[-2:] == ["final-check", "pack"]
        assert ("tune" in codes) == (role == DrumRole.SNARE)
        if kind == FinishKind.LACQUER:
            assert (
                codes.index("edge")
                < codes.index("seal")
                < codes.index("sand")
                < codes.index("finish")
                < codes.index("drill")
            )
        elif kind == FinishKind.OIL:
            assert codes.index("edge") < codes.index("drill") < codes.index("sand") < codes.index("finish")
            assert "seal" not in codes
        else:
            assert codes.index("wrap") < codes.index("drill")
            assert not {"seal", "sand", "finish"} & set(codes)


@pytest.mark.usefixtures("demo")
def test_the_recipe_book_is_as_wide_as_the_trade() -> None:
    assert {edge.shape for edge in EdgeProfile.objects.all()} == {shape.value for shape in EdgeShape}
    lay_ups = {lay_up.name: lay_up for lay_up in LayUp.objects.prefetch_related("plates__plate")}
    birch = lay_ups["Birch 9 mm, nine veneers"], lay_ups["Birch 7 mm, seven veneers"]
    assert [(round(lay_up.wall_mm, 6), lay_up.veneers) for lay_up in birch] == [(9.0, 9), (7.0, 7)]
    sizes = defaultdict(set)
    for model in DrumModel.objects.select_related("line"):
        sizes[model.line.name].add((model.role, model.nominal_diameter_in, model.nominal_depth_in))
    assert sizes["Heron"] == sizes["Bittern"] == sizes["Wren"] and len(sizes["Heron"]) == 21
    for finish in Finish.objects.filter(kind=FinishKind.LACQUER).prefetch_related("coats"):
        stages = Counter(coat.stage for coat in finish.coats.all())
        assert (stages[CoatStage.INSIDE_SEAL], stages[CoatStage.SEAL]) == (1, 2), finish


@pytest.mark.usefixtures("demo")
def test_woods_have_the_published_values() -> None:
    """USDA Wood Handbook: Table 13-5, and for Khaya eq. (13-3) on the shrinkage of Table 4-4 (2.5 and 4.5 %)."""
    published = {
        "Yellow birch": (0.62, 0.00256, 0.00338),
        "Sugar maple": (0.63, 0.00165, 0.00353),
        "American beech": (0.64, 0.00190, 0.00431),
        "Black walnut": (0.55, 0.00190, 0.00274),
    }
    woods = {wood.name: wood for wood in Species.objects.all()}
    for name, values in published.items():
        wood = woods[name]
        assert (wood.specific_gravity, wood.change_radial_per_pct, wood.change_tangential_per_pct) == values
    khaya = woods["African mahogany (Khaya)"]
    assert khaya.change_radial_per_pct == pytest.approx(1 / (30 * 100 / 2.5 - 30 + 10), abs=5e-6)
    assert khaya.change_tangential_per_pct == pytest.approx(1 / (30 * 100 / 4.5 - 30 + 10), abs=5e-6)
    assert all(wood.note for wood in woods.values())


# Every drum can be made

HONEST_WARNINGS = {
    "sharp_outer_corner": {"heron-snare-13x6", "heron-snare-12x5"},  # the bright edge is meant to be sharp
    "wrap_in_pieces": {f"wren-bass-{size}" for size in ("18x14", "20x14", "20x16", "22x16", "22x18", "24x14")}
    | {"wren-floor-18x16"},  # the short sheet does not go round
}


@pytest.mark.usefixtures("demo")
def test_every_drum_in_every_finish_of_its_line_can_be_made_and_warns_only_where_it_should() -> None:
    shop = Shop.current()
    finishes = defaultdict(list)
    for finish in Finish.objects.select_related("wrap").prefetch_related("coats"):
        finishes[finish.kind].append(finish)
    warned: dict[str, set[str]] = defaultdict(set)
    made = 0
    for model in recipe_models():
        for finish in finishes[model.line.finish_kind]:
            sheet = compute_sheet(drum_inputs(model, finish, shop))
            assert sheet.shell.depth_mm == pytest.approx(model.nominal_depth_in * 25.4)
            for warning in sheet.warnings:
                warned[warning.code].add(model.code)
            made += 1
    assert made == 21 * (8 + 3 + 5)
    assert {code: models - HONEST_WARNINGS.get(code, set()) for code, models in warned.items()} == {
        code: set() for code in warned
    }


@pytest.mark.usefixtures("demo")
def test_measured_checks_find_their_nominal_value_in_the_spec_of_every_drum_they_are_for() -> None:
    shop = Shop.current()
    points = CheckPoint.objects.exclude(spec_key="").select_related("station")
    assert points
    steps_of_coats = {"seal": {CoatStage.INSIDE_SEAL, CoatStage.SEAL}, "finish": {CoatStage.COLOUR, CoatStage.CLEAR}}
    finish_of = {finish.kind: finish for finish in Finish.objects.select_related("wrap").prefetch_related("coats")}
    looked_at: Counter[str] = Counter()
    for model in recipe_models():
        finish = finish_of[model.line.finish_kind]
        results = to_json(compute_sheet(drum_inputs(model, finish, shop)))
        stations = set(
            Station.objects.filter(
                route_steps__template__role=model.role, route_steps__template__finish_kind=finish.kind
            ).values_list("code", flat=True)
        )
        for point in points:
            if point.station.code not in stations or point.finish_kind not in ("", finish.kind):
                continue
            stages = steps_of_coats.get(point.station.code, set())
            coats = (
                [n for n, coat in enumerate(finish.coats.all()) if coat.stage in stages]
                if "{coat}" in point.spec_key
                else [0]
            )
            if point.kind == CheckKind.COUNT:
                assert count_lines(results, point.spec_key), (model.code, point.spec_key)
                looked_at[point.code] += 1
                continue
            for coat in coats:
                value = spec_value(results, point.spec_key.replace("{coat}", str(coat)))
                assert isinstance(value, float), (model.code, point.spec_key, coat)
                looked_at[point.code] += 1
    assert set(looked_at) == {point.code for point in points}


# The order book


@pytest.mark.usefixtures("demo")
def test_the_order_book_imports_cleanly_and_every_order_can_be_released() -> None:
    book = read_order_book(ORDER_BOOK.read_bytes(), today=TODAY)
    assert book.errors == () and book.warnings == ()
    imported = import_order_book(book, stamp=command_line_stamp(), today=TODAY)
    assert len(imported.created) >= 60 and 200 <= imported.drums <= 350
    with ORDER_BOOK.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert KitLine.objects.count() == len(rows)
    assert sum(line.quantity for line in KitLine.objects.all()) == sum(int(row["quantity"]) for row in rows)
    for order in KitOrder.objects.all():
        assert prepare_order(order)
    again = import_order_book(
        read_order_book(ORDER_BOOK.read_bytes(), today=TODAY), stamp=command_line_stamp(), today=TODAY
    )
    assert again.created == () and len(again.unchanged) == len(imported.created)


# Materials


def test_the_lots_fit_the_recipe_book_and_one_of_each_trouble_is_among_them(demo: None) -> None:
    lots = list(MaterialLot.objects.all())
    assert len(lots) >= 12
    known = {
        "plate": set(Plate.objects.values_list("name", flat=True)),
        "wrap": set(WrapSheet.objects.values_list("name", flat=True)),
        "glue": set(GluePart.objects.values_list("name", flat=True)),
    }
    assert [lot.name for lot in lots if lot.kind in known and lot.name not in known[lot.kind]] == []
    assert {lot.kind for lot in lots} == {*LotKind} - {LotKind.OTHER}
    assert sum(lot.expires_on is not None and lot.expires_on < TODAY for lot in lots) == 1
    assert Counter(lot.state for lot in lots)["empty"] == 1
    assert all(lot.changes.order_by("pk").values_list("state", flat=True).last() == lot.state for lot in lots)
