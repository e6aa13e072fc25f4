"""The smallest shop in which a snare can be made, for tests: rows with round numbers, invented."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.contrib.auth.hashers import make_password

from quality.actions import print_card
from quality.bags import bags_of
from quality.carton_contents import packing_of
from quality.cartons import close_carton
from quality.kitting import count_bag, fill_bag
from quality.models import Carton, Person, Qualification, Role
from routing.history import Stamp
from routing.models import (
    DrumModel,
    EdgeProfile,
    Finish,
    FinishCoat,
    Glue,
    GluePart,
    HardwareSet,
    KitLine,
    KitOrder,
    LayUp,
    LayUpPlate,
    Operation,
    Part,
    Plate,
    PressCycle,
    ProductLine,
    RouteStep,
    RouteTemplate,
    Shell,
    ShellState,
    Shop,
    Species,
    Station,
    StationKind,
)
from routing.release import release_order

NOW = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)
PIN = "482915"
STATIONS = [
    ("cut", StationKind.CUT),
    ("press", StationKind.PRESS),
    ("edge", StationKind.EDGE),
    ("finish", StationKind.FINISH),
    ("assemble", StationKind.ASSEMBLE),
    ("final-check", StationKind.FINAL_CHECK),
    ("pack", StationKind.PACK),
]


@dataclass
class SmallShop:
    """Handles to the rows; ``clock`` moves only when told."""

    model: DrumModel
    finish: Finish
    stations: dict[str, Station]
    worker: Person
    checker: Person
    supervisor: Person
    clock: datetime = NOW
    taps: int = field(default=0)

    def stamp(self, person: Person | None = None, *, key: str | None = None, device: str = "tablet 1") -> Stamp:
        return Stamp(
            person_id=person.pk if person else None,
            person_name=person.name if person else "command line",
            at=self.clock,
            received_at=self.clock,
            device=device,
            tap_key=key,
        )

    def wait(self, **delta: float) -> None:
        self.clock += timedelta(**delta)

    def order(self, number: str = "K-1", quantity: int = 1, **fields: Any) -> KitOrder:
        order = KitOrder.objects.create(
            number=number,
            customer=fields.pop("customer", "Harrow Lane School"),
            due=fields.pop("due", date(2026, 12, 18)),
            created_at=self.clock,
            **fields,
        )
        KitLine.objects.create(order=order, position=1, model=self.model, finish=self.finish, quantity=quantity)
        return order

    def released(self, number: str = "K-1", quantity: int = 1, **fields: Any) -> list[Shell]:
        self.order(number, quantity, **fields)
        return release_order(number=number, stamp=self.stamp(self.supervisor))

    def fill_bags(self, shell: Shell) -> None:
        """Fill each bag of a drum by its parts list and count it, and print the drum's card."""
        for bag in bags_of(shell):
            if not bag.is_loose:
                fill_bag(serial=shell.serial, name=bag.name, person=self.worker, stamp=self.stamp(self.worker))
                counts = [line.quantity for line in bag.contents]
                count_bag(
                    serial=shell.serial,
                    name=bag.name,
                    counts=counts,
                    person=self.checker,
                    stamp=self.stamp(self.checker),
                )
        print_card(serial=shell.serial, person=self.checker, stamp=self.stamp(self.checker))

    def close_cartons(self, number: str = "K-1") -> list[Carton]:
        """Fill the bags of a packed order, print its cards and close its cartons, so that it can ship."""
        order = KitOrder.objects.get(number=number)
        for shell in order.shells.filter(state=ShellState.PACKED).order_by("pk"):
            self.fill_bags(shell)
        packing = packing_of(order, self.clock)
        assert packing is not None
        return [
            close_carton(order=order, number=carton.number, person=self.worker, stamp=self.stamp(self.worker)).carton
            for carton in packing.cartons
        ]

    def step(self, shell: Shell, position: int) -> Operation:
        return Operation.objects.select_related("station").get(shell=shell, position=position)


def person(username: str, role: Role = Role.WORKER, *, stations: list[Station] | None = None, pin: str = PIN) -> Person:
    made = Person.objects.create(
        username=username,
        name=username.replace("-", " ").title(),
        role=role,
        pin=make_password(pin),
        pin_version=1,
        password=make_password("a long pass phrase"),
    )
    Qualification.objects.bulk_create(
        [Qualification(person=made, station=station, valid_from=date(2026, 1, 1)) for station in stations or []]
    )
    return made


def small_shop() -> SmallShop:
    """Make the rows. One route: cut, press (48 h rest), edge, two coats, assemble, final check, pack."""
    shop = Shop.current()
    shop.name, shop.serial_prefix = "Small Shop", "SS"
    shop.save()
    stations = {
        code: Station.objects.create(
            code=code, name=code.replace("-", " "), kind=kind, position=n, caution=f"Mind your hands at {code}."
        )
        for n, (code, kind) in enumerate(STATIONS, start=1)
    }
    model, finish = _snare()
    route = RouteTemplate.objects.create(role="snare", finish_kind="lacquer", created_at=NOW)
    RouteStep.objects.bulk_create(
        [
            RouteStep(
                template=route,
                position=n,
                station=station,
                repeat="finish_coats" if code == "finish" else "once",
                dwell_kind={"press": "cure", "finish": "dry"}.get(code, ""),
            )
            for n, (code, station) in enumerate(stations.items(), start=1)
        ]
    )
    everywhere = list(stations.values())
    return SmallShop(
        model=model,
        finish=finish,
        stations=stations,
        worker=person("wanda-worker", stations=everywhere),
        checker=person("chris-checker", Role.FINAL_CHECKER, stations=everywhere),
        supervisor=person("sam-supervisor", Role.SUPERVISOR, stations=everywhere),
    )


def _snare() -> tuple[DrumModel, Finish]:
    birch = Species.objects.create(
        name="Birch", specific_gravity=0.62, change_radial_per_pct=0.00256, change_tangential_per_pct=0.00338
    )
    plate = Plate.objects.create(
        name="Birch 3.0", species=birch, thickness_mm=3.0, veneers=3, stock_length_mm=1250, stock_width_mm=2500
    )
    glue = Glue.objects.create(name="Urea", pot_life_min_at_20c=180, closed_time_min_at_20c=15)
    GluePart.objects.create(glue=glue, position=1, name="powder", parts_by_weight=100)
    GluePart.objects.create(glue=glue, position=2, name="water", parts_by_weight=60)
    cycle = PressCycle.objects.create(
        name="Hot", pressure_n_per_mm2=0.6, temperature_c=100, base_time_min=4, minutes_per_mm=1, rest_h=48
    )
    lay_up = LayUp.objects.create(name="Three by three", glue=glue, press_cycle=cycle)
    for n in (1, 2, 3):
        LayUpPlate.objects.create(lay_up=lay_up, position=n, plate=plate, face_grain="axial")
    edge = EdgeProfile.objects.create(name="Double 45", shape="double_45", apex_offset_mm=2.0, outer_angle_deg=45)
    finish = Finish.objects.create(name="Heron satin", kind="lacquer", gloss_target_gu=25)
    for n, name in ((1, "clear 1"), (2, "clear 2")):
        FinishCoat.objects.create(
            finish=finish, position=n, name=name, stage="clear", wet_film_um=90, volume_solids_pct=35, base_dwell_h=2
        )
    hardware = HardwareSet.objects.create(
        name="Snare ten",
        role="snare",
        lug_name="double lug",
        lug_kind="double_ended",
        lugs_per_head=10,
        lug_hole_spacing_mm=50.8,
        lug_hole_diameter_mm=5,
        hoop_holes=10,
        rod_name="rod 52",
        rod_length_mm=52,
    )
    Part.objects.create(hardware=hardware, name="tension rod", bag="rods", quantity=20, unit_mass_g=17)
    line = ProductLine.objects.create(name="Heron", finish_kind="lacquer")
    model = DrumModel.objects.create(
        code="heron-snare-14x5-5",
        line=line,
        role="snare",
        nominal_diameter_in=14,
        nominal_depth_in=5.5,
        lay_up=lay_up,
        batter_edge=edge,
        resonant_edge=edge,
        hardware=hardware,
        snare_bed_depth_mm=1.2,
        snare_bed_flat_mm=50,
        snare_bed_width_mm=90,
    )
    return model, finish
