"""What a drum's record says to somebody on the phone: what it is, what might explain a complaint, and which parts it has.

Read from the frozen spec and the records; nothing is computed again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quality.actions import final_check_of
from quality.bags import bag_words
from quality.dispositions import concessions_of
from quality.models import (
    Bag,
    BagState,
    Carton,
    CustomerRequest,
    HeldShell,
    LotState,
    MaterialUse,
    Problem,
    ProblemState,
)
from quality.recall import state_words
from routing.languages import day, numeral
from routing.models import RecordKind, Shell, ShellRecord, ShellSpec
from routing.shop_hours import ShopHours

_FITS_THE_DIAMETER = ("hoop", "head", "wires")


@dataclass(frozen=True, slots=True)
class AsBuiltPart:
    bag: str  # empty for loose parts
    name: str
    quantity: int
    spare: int
    size: str  # “12-24 UNC, 52 mm long”, “14 in”; empty where the name says it all
    unit_mass_g: float | None


@dataclass(frozen=True, slots=True)
class AsBuilt:
    """The parts list of a drum at the revision that its final check was signed at."""

    revision: int
    signed: bool  # False: there is no final check; the list is that of the present revision
    parts: tuple[AsBuiltPart, ...]


def as_built_parts(shell: Shell) -> AsBuilt:
    final = final_check_of(shell)
    revision = int(final.record.body["revision"]) if final else shell.spec_revision
    spec = ShellSpec.objects.get(shell=shell, revision=revision)
    masses = {(part["bag"], part["name"]): part["unit_mass_g"] for part in spec.inputs["hardware"]["parts"]}
    return AsBuilt(
        revision,
        final is not None,
        tuple(
            AsBuiltPart(
                line["bag"],
                line["name"],
                line["quantity"],
                line["spare"],
                _size(line["name"], spec.inputs),
                masses.get((line["bag"], line["name"])),
            )
            for line in spec.results["hardware"]["pick_list"]
        ),
    )


def _size(name: str, inputs: dict[str, Any]) -> str:
    """Thread and length, or the diameter a part is for, as far as the frozen spec says it."""
    hardware, words = inputs["hardware"], name.lower()
    rod = hardware["rod"]
    if rod and "washer" not in words and (name == rod["name"] or "rod" in words.split()):
        return _("{thread}, {length} mm long").format(thread=rod["thread"], length=numeral(rod["length_mm"]))
    if "lug screw" in words and "washer" not in words:
        return str(hardware["lugs"]["screw"])
    for fitting in hardware["fittings"]:
        if fitting["screw"] and "screw" in words and "washer" not in words and fitting["name"].lower() in words:
            return str(fitting["screw"])
    if any(word in words for word in _FITS_THE_DIAMETER):
        return f"{numeral(inputs['nominal_diameter_in'])} in"
    return ""


@dataclass(frozen=True, slots=True)
class PackedBag:
    """Who filled and checked a bag of a drum, and in which carton it left."""

    name: str
    found: bool  # False: the record knows of no bag of this name
    state: str = ""
    attempt: int = 1
    filled_by: str = ""
    filled_at: datetime | None = None
    checked_by: str = ""
    checked_at: datetime | None = None
    checked_how: str = ""  # “counted: 20”, “weighed: 345.2 g (338.0 … 352.0 g)”
    carton: str = ""  # “1 of 3”
    closed_by: str = ""
    closed_at: datetime | None = None

    @property
    def title(self) -> str:
        return bag_words(self.name)


def packed_bags(shell: Shell, names: Iterable[str]) -> list[PackedBag]:
    """The bags of a drum by name, as they were filled last, with their check and the carton. Two queries."""
    wanted = list(dict.fromkeys(names))
    last: dict[str, Bag] = {}
    for bag in (
        Bag.objects.filter(shell=shell, name__in=wanted).select_related("filled_by", "checked_by").order_by("attempt")
    ):
        last[bag.name] = bag
    carton = _carton_of(shell)
    return [_packed(last[name], carton) if name in last else PackedBag(name, False) for name in wanted]


def _carton_of(shell: Shell) -> Carton | None:
    """The carton a drum is in, or was in last when it was opened since."""
    return Carton.objects.filter(drums__shell=shell).select_related("closed_by").order_by("-closed_at", "-pk").first()


def _packed(bag: Bag, carton: Carton | None) -> PackedBag:
    return PackedBag(
        bag.name,
        True,
        bag.get_state_display(),
        bag.attempt,
        bag.filled_by.name,
        bag.filled_at,
        bag.checked_by.name if bag.checked_by else "",
        bag.checked_at,
        _how_checked(bag),
        _which(carton) if carton else "",
        carton.closed_by.name if carton else "",
        carton.closed_at if carton else None,
    )


def _which(carton: Carton) -> str:
    words = _("{number} of {all}, opened again since") if carton.opened_at else _("{number} of {all}")
    return words.format(number=carton.number, all=carton.of)


def _how_checked(bag: Bag) -> str:
    if bag.state == BagState.FILLED or not bag.checked_how:
        return ""
    how = _(bag.get_checked_how_display())
    if bag.weight_g is not None:
        limits = ""
        if bag.low_g is not None and bag.high_g is not None:
            limits = f" ({numeral(bag.low_g, '.1f')} … {numeral(bag.high_g, '.1f')} g)"
        return f"{how}: {numeral(bag.weight_g, '.1f')} g{limits}"
    counts = ", ".join(str(count) for count in bag.counts or [])
    return f"{how}: {counts}" if counts else how


def work_left(hours: ShopHours, now: datetime, due: datetime) -> int:
    """Minutes in which the shop works until ``due``; 0 when that is past."""
    spans = hours.between(timezone.localdate(now), timezone.localdate(due))
    # By timestamps: two times of one zone are subtracted as the hands of a clock show them, across a clock change, too.
    seconds = sum(
        max(min(due.timestamp(), ends.timestamp()) - max(now.timestamp(), begins.timestamp()), 0)
        for begins, ends in spans
    )
    return int(seconds // 60)


@dataclass(frozen=True, slots=True)
class AtAGlance:
    """What the person on the phone should see before the customer has finished the sentence."""

    state: str
    shipped_at: datetime | None
    final_check_by: str
    final_check_at: datetime | None
    warnings: tuple[str, ...]  # what might explain it: problems, lots on hold, concessions
    earlier: tuple[CustomerRequest, ...]


def at_a_glance(shell: Shell) -> AtAGlance:
    """``shell`` should come with its order selected."""
    shipped = ShellRecord.objects.filter(shell=shell, kind=RecordKind.SHIPPED).order_by("sequence").last()
    final = final_check_of(shell)
    return AtAGlance(
        state=state_words(shell),
        shipped_at=shipped.at if shipped else None,
        final_check_by=final.record.person_name if final else "",
        final_check_at=final.at if final else None,
        warnings=tuple(_warnings(shell)),
        earlier=tuple(CustomerRequest.objects.filter(shell=shell).select_related("taken_by").order_by("-asked_at")),
    )


def _warnings(shell: Shell) -> Iterable[str]:
    for problem in Problem.objects.filter(shell=shell, state=ProblemState.OPEN):
        yield _("On hold since {day}: {text}").format(day=_day(problem.found_at), text=problem.text)
    for held in HeldShell.objects.filter(shell=shell).select_related("hold__lot", "hold__glue_batch"):
        hold = held.hold
        words = _("It was in the hold of lot {lot}, {day}: {reason}")
        if hold.lot is None:
            words = _("It was in the hold of glue batch {lot}, {day}: {reason}")
        yield words.format(lot=hold.lot or hold.glue_batch, day=_day(hold.at), reason=hold.reason)
    lots = (
        MaterialUse.objects.filter(sign_off__operation__shell=shell, lot__state=LotState.HELD)
        .values_list("lot__code", "lot__name")
        .distinct()
    )
    for code, name in lots.order_by("lot__code"):
        yield _("Lot {code} {name} that went into it is on hold now").format(code=code, name=name)
    for problem in concessions_of(shell):
        words = _("Used as it is, under a concession: {text} ({why})")
        yield words.format(text=problem.text, why=problem.settlement)


def _day(at: datetime) -> str:
    return day(timezone.localdate(at))
