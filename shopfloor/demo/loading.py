"""Putting the demo shop into an empty database, whole or not at all."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.contrib.auth.hashers import make_password
from django.db.models import Model

from quality.models import (
    CheckPoint,
    Defect,
    LotChange,
    LotRoute,
    LotRouteStep,
    MaterialLot,
    Person,
    Qualification,
    Role,
    StockMove,
    StockPart,
)
from routing.models import (
    Absence,
    Closure,
    Drawdown,
    DrumModel,
    DryingRoom,
    EdgeProfile,
    Finish,
    FinishCoat,
    Fitting,
    Glue,
    GluePart,
    HardwareSet,
    KitOrder,
    LayUp,
    LayUpPlate,
    Mould,
    Part,
    Plate,
    PressCycle,
    ProductLine,
    RouteStep,
    RouteTemplate,
    Shift,
    Shop,
    Species,
    Station,
    WrapSheet,
)
from routing.turnstile import in_turn, writing
from shopfloor.demo import (
    capacity,
    drums,
    edges,
    finishes,
    hardware,
    lay_ups,
    lots,
    made_here,
    people,
    shelf,
    stations,
    woods,
)
from shopfloor.demo.checks import CHECK_POINTS
from shopfloor.demo.defects import DEFECTS
from shopfloor.demo.which_shop import SHOP

_ANYTHING: tuple[type[Model], ...] = (Person, Station, Species, Plate, HardwareSet, Finish, DrumModel, KitOrder)
_PLACES: tuple[type[Model], ...] = (Station, RouteTemplate, CheckPoint, Defect)
_RECIPES: tuple[type[Model], ...] = (
    *(Species, Plate, Glue, PressCycle, LayUp, EdgeProfile),
    *(Finish, WrapSheet, HardwareSet, ProductLine, DrumModel),
)
_M = TypeVar("_M", bound=Model)


class NotEmpty(Exception):
    """The database holds a shop already; the demo never overwrites one."""


def shop_is_empty() -> bool:
    """Whether nobody has put anything into this database yet. The shop's own row with its defaults does not count."""
    return _has_none(_ANYTHING)


def has_no_stations() -> bool:
    """Whether the usual stations can be taken over."""
    return _has_none(_PLACES)


def has_no_recipes() -> bool:
    """Whether the example recipes can be taken over."""
    return _has_none(_RECIPES)


def _has_none(models: tuple[type[Model], ...]) -> bool:
    return not any(model._default_manager.exists() for model in models)


def load_usual_stations(*, now: datetime) -> None:
    """The demo's stations with their cautions, routes, checks and defects, for a shop of one's own. Raises NotEmpty."""
    with in_turn():
        if not has_no_stations():
            raise NotEmpty
        _load_stations_and_routes(now)
        _load_checks_and_defects()


def load_example_recipes() -> None:
    """The demo's recipe book, to be put right by whoever makes drums of it. Raises NotEmpty when there is a recipe."""
    with in_turn():
        if not has_no_recipes():
            raise NotEmpty
        _load_woods_and_lay_ups()
        _load_finishes()
        _load_hardware()
        _load_drums()


def load_demo(*, now: datetime, today: date) -> None:
    """The whole demo shop in one transaction. Raises NotEmpty when there is anything in the database."""
    secrets = {person.username: (make_password(person.password), _hashed_pin(person.pin)) for person in people.PEOPLE}
    with writing():
        if not shop_is_empty():
            raise NotEmpty
        shop = Shop.current()
        for field, value in SHOP.items():
            setattr(shop, field, value)
        shop.full_clean()
        shop.save()
        _load_woods_and_lay_ups()
        _load_finishes()
        _load_hardware()
        _load_drums()
        _load_stations_and_routes(now)
        _load_checks_and_defects()
        _load_people(secrets, today)
        _load_capacity(today)
        _load_lots(now, today)
        _load_routes_of_lots()
        _load_shelf(now)


def _hashed_pin(pin: str) -> str:
    return make_password(pin) if pin else ""


def _add(model: type[_M], **fields: Any) -> _M:
    """One row, its fields checked like those that somebody enters; the database holds it to the rest."""
    row = model(**fields)
    row.clean_fields(exclude={field.name for field in model._meta.get_fields() if field.many_to_one})
    row.clean()
    row.save(force_insert=True)
    return row


def _load_woods_and_lay_ups() -> None:
    species = {row["name"]: _add(Species, **row) for row in woods.SPECIES}
    plates = {row["name"]: _add(Plate, **row | {"species": species[row["species"]]}) for row in woods.PLATES}
    glues = {}
    for row in lay_ups.GLUES:
        mix = row["mix"]
        glue = glues[row["name"]] = _add(Glue, **_without(row, "mix"))
        for position, (name, parts) in enumerate(mix, start=1):
            _add(GluePart, glue=glue, position=position, name=name, parts_by_weight=parts)
    cycles = {row["name"]: _add(PressCycle, **row) for row in lay_ups.PRESS_CYCLES}
    for row in lay_ups.LAY_UPS:
        recipes = {"glue": glues[row["glue"]], "press_cycle": cycles[row["press_cycle"]]}
        lay_up = _add(LayUp, **_without(row, "plates") | recipes)
        for position, (plate, grain) in enumerate(row["plates"], start=1):
            _add(LayUpPlate, lay_up=lay_up, position=position, plate=plates[plate], face_grain=grain)
    for row in edges.EDGES:
        _add(EdgeProfile, **row)


def _load_finishes() -> None:
    for row in finishes.LACQUERS_AND_OILS:
        finish = _add(Finish, **_without(row, "coats", "drawdowns"))
        for position, coat in enumerate(row["coats"], start=1):
            _add(FinishCoat, finish=finish, position=position, **coat)
        for share, units in row.get("drawdowns", []):
            _add(Drawdown, finish=finish, gloss_base_pct=share, gloss_gu=units)
    sheets = {row["name"]: _add(WrapSheet, **row) for row in finishes.WRAP_SHEETS}
    for row in finishes.WRAPS:
        _add(Finish, **row | {"wrap": sheets[row["wrap"]]})


def _load_hardware() -> None:
    for row in hardware.HARDWARE:
        hardware_set = _add(HardwareSet, **_without(row, "fittings", "parts"))
        for fitting in row["fittings"]:
            _add(Fitting, hardware=hardware_set, **fitting)
        for position, (name, bag, quantity, mass_g, tolerance_pct, spare) in enumerate(row["parts"], start=1):
            _add(
                Part,
                hardware=hardware_set,
                position=position,
                name=name,
                bag=bag,
                quantity=quantity,
                unit_mass_g=mass_g,
                mass_tolerance_pct=tolerance_pct,
                spare=spare,
            )


def _load_drums() -> None:
    lines = {row["name"]: _add(ProductLine, **row) for row in drums.LINES}
    lay_up = {row.name: row for row in LayUp.objects.all()}
    edge = {row.name: row for row in EdgeProfile.objects.all()}
    hardware_set = {row.name: row for row in HardwareSet.objects.all()}
    for row in drums.MODELS:
        recipes = {
            "line": lines[row["line"]],
            "lay_up": lay_up[row["lay_up"]],
            "batter_edge": edge[row["batter_edge"]],
            "resonant_edge": edge[row["resonant_edge"]],
            "hardware": hardware_set[row["hardware"]],
        }
        _add(DrumModel, **row | recipes)


def _load_stations_and_routes(now: datetime) -> None:
    station = {
        row["code"]: _add(Station, position=10 * number, **row | capacity.STATIONS[row["code"]])
        for number, row in enumerate(stations.STATIONS, start=1)
    }
    for finish_kind, steps in stations.ROUTES.items():
        for role in stations.ROLES:
            template = _add(
                RouteTemplate,
                role=role,
                finish_kind=finish_kind,
                created_at=now,
                note=stations.ROUTE_NOTES[finish_kind],
            )
            taken = [step for step in steps if step[0] != "tune" or role in stations.TUNED_ROLES]
            for position, (code, repeat, dwell_kind) in enumerate(taken, start=1):
                _add(
                    RouteStep,
                    template=template,
                    position=position,
                    station=station[code],
                    repeat=repeat,
                    dwell_kind=dwell_kind,
                    work_min=capacity.WORK_MIN.get((code, role)),
                )


def _load_checks_and_defects() -> None:
    station = {row.code: row for row in Station.objects.all()}
    position: dict[str, int] = {}
    for row in CHECK_POINTS:
        position[row["station"]] = position.get(row["station"], 0) + 1
        _add(CheckPoint, **row | {"station": station[row["station"]], "position": position[row["station"]]})
    for code, name, found_at, caused_at, severity, usual in DEFECTS:
        _add(
            Defect,
            code=code,
            name=name,
            found_at=found_at,
            caused_at=caused_at,
            severity=severity,
            usual_disposition=usual,
        )


def _load_people(secrets: dict[str, tuple[str, str]], today: date) -> None:
    station = {row.code: row for row in Station.objects.all()}
    persons = {}
    for row in people.PEOPLE:
        password, pin = secrets[row.username]
        persons[row.username] = _add(
            Person,
            username=row.username,
            name=row.name,
            role=row.role,
            password=password,
            pin=pin,
            pin_version=1 if pin else 0,
        )
    long_ago, last_year = today - timedelta(days=3 * 365), date(today.year - 1, 12, 31)
    trainer = persons[people.TRAINED_BY]
    for row in people.PEOPLE:
        for code in row.stations:
            _add(
                Qualification,
                person=persons[row.username],
                station=station[code.lstrip("-")],
                valid_from=long_ago,
                valid_to=last_year if code.startswith("-") else None,
                trained_by=None if row.username == people.TRAINED_BY else trainer,
            )


def _load_capacity(today: date) -> None:
    for weekday, spans in capacity.SHIFTS.items():
        for starts, ends in spans:
            _add(Shift, weekday=weekday, starts=starts, ends=ends)
    for row in capacity.closures(today):
        _add(Closure, **row)
    for row in capacity.absences(today):
        _add(Absence, **row | {"person": Person.objects.get(username=row["person"])})
    for diameter_in, count in capacity.MOULDS.items():
        _add(Mould, diameter_in=diameter_in, count=count)
    for row in capacity.DRYING_ROOMS:
        room = _add(DryingRoom, **_without(row, "stations"))
        room.stations.set(Station.objects.filter(code__in=row["stations"]))


def _load_routes_of_lots() -> None:
    for fields, steps in made_here.LOT_ROUTES:
        route = _add(LotRoute, **fields)
        for position, (station, title, check_text, dwell_h) in enumerate(steps, start=1):
            _add(
                LotRouteStep,
                route=route,
                position=position,
                station=Station.objects.get(code=station),
                title=title,
                check_text=check_text,
                dwell_h=dwell_h,
            )


def _load_lots(now: datetime, today: date) -> None:
    office = Person.objects.filter(role=Role.OFFICE).first()
    for row in lots.LOTS:
        received = timedelta(days=row["days_ago"])
        keeps = row.get("keeps_days")
        lot = _add(
            MaterialLot,
            **_without(row, "days_ago", "keeps_days"),
            received_on=today - received,
            expires_on=None if keeps is None else today + timedelta(days=keeps),
        )
        name = office.name if office else ""
        said = {"lot": lot, "person": office, "person_name": name}
        _add(LotChange, **said, state="received", at=now - received)
        if lot.state != "received":
            _add(LotChange, **said, state=lot.state, at=now - received / 2, reason=lot.note)


def _load_shelf(now: datetime) -> None:
    """Every part of the hardware sets as somebody counted it a week ago: plenty of most, few of some, one not counted."""
    keeper = Person.objects.filter(role=Role.OFFICE).first()
    for name in sorted(set(Part.objects.values_list("name", flat=True)) - shelf.NOT_COUNTED):
        counted = shelf.FEW.get(name, shelf.PLENTY)
        part = _add(StockPart, name=name, on_hand=counted, reorder_at=shelf.REORDER_AT, place=shelf.place_of(name))
        _add(
            StockMove,
            part=part,
            change=counted,
            on_hand_after=counted,
            reason="first count",
            person=keeper,
            person_name=keeper.name if keeper else "",
            at=now - timedelta(days=7),
        )


def _without(row: dict[str, Any], *fields: str) -> dict[str, Any]:
    return {field: value for field, value in row.items() if field not in fields}
