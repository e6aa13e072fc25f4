"""Sub-assemblies made in the shop: begin a lot, sign its steps one after the other, prove that nobody changed that.

A lot that is being made can't be used in a drum; after its last signature it is in stock like one that was delivered.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.errors import QualityError, ReadingRefused
from quality.lots import note_lot_change, open_lot
from quality.materials import IN_STOCK
from quality.may_sign import require_qualified
from quality.models import (
    LotComponent,
    LotRoute,
    LotRouteStep,
    LotSignOff,
    LotState,
    MadeLot,
    MaterialLot,
    Person,
)
from quality.rights import Right, require_right
from routing.errors import LostRace, NotAllowedNow
from routing.history import Stamp, content_hash
from routing.languages import day, moment
from routing.models import Station
from routing.turnstile import writing

MOST_PIECES = 100_000


@dataclass(frozen=True, slots=True)
class LotStep:
    """The step that a lot being made waits for."""

    made: MadeLot
    step: LotRouteStep
    good: int  # pieces that came through the steps before
    not_before: datetime | None
    is_last: bool

    def waits(self, now: datetime) -> bool:
        return self.not_before is not None and self.not_before > now


@dataclass(frozen=True, slots=True)
class BrokenLot:
    code: str
    what: str


def begin_lot(*, route: LotRoute, quantity: int, person: Person, stamp: Stamp) -> MadeLot:
    """Begin a lot of ``quantity`` pieces by the route in force; its code is made from the route and the day."""
    require_right(person, Right.MANAGE_MATERIALS)
    if not 1 <= quantity <= MOST_PIECES:
        raise QualityError(
            "quantity", _("Say how many pieces are begun: 1 to {most_pieces}.").format(most_pieces=MOST_PIECES)
        )
    with writing():
        route = LotRoute.objects.select_for_update(of=("self",)).get(pk=route.pk)
        if stamp.tap_key and (earlier := MadeLot.objects.filter(tap_key=stamp.tap_key).first()):
            return earlier
        if not route.is_current:
            raise LostRace(
                "route_changed",
                _("The route of {name} was changed meanwhile; open the page again.").format(name=route.name),
            )
        lot = MaterialLot.objects.create(
            code=_next_code(route, timezone.localdate(stamp.at)),
            kind=route.kind,
            name=route.name,
            state=LotState.MAKING,
            received_on=timezone.localdate(stamp.at),
            note=f"made here, {quantity} {route.unit} begun",
        )
        made = MadeLot.objects.create(
            lot=lot, route=route, quantity=quantity, begun_at=stamp.at, begun_by=person, tap_key=stamp.tap_key
        )
        note_lot_change(lot, LotState.MAKING, stamp, f"{quantity} {route.unit} begun")
    return made


def sign_lot_step(
    *,
    made: MadeLot,
    position: int,
    person: Person,
    station: Station,
    good: int,
    checked: bool,
    components: Sequence[str] = (),
    note: str = "",
    stamp: Stamp,
) -> LotSignOff:
    """Sign one step of a lot: how many pieces are good, that its check was made, and which lots went in.

    Raises NotQualified, ReadingRefused (pieces, check, components), NotAllowedNow (not its turn, waiting, on hold),
    LostRace (signed by somebody else). With no good piece left the lot is empty, and its route ends.
    """
    with writing():
        codes = list(dict.fromkeys(code.strip().upper() for code in components if code.strip()))
        # The lot and what goes in, locked in one order: nobody waits in a circle.
        rows = MaterialLot.objects.select_for_update(of=("self",)).filter(Q(pk=made.lot_id) | Q(code__in=codes))
        locked = {row.code.upper(): row for row in rows.order_by("pk")}
        if stamp.tap_key and (earlier := LotSignOff.objects.filter(tap_key=stamp.tap_key).first()):
            if earlier.made_id != made.pk:
                raise LostRace("key_used", _("This tap was used for something else already; open the lot again."))
            return earlier
        lot = locked[made.lot.code.upper()]
        used = _components(codes, locked, lot, stamp.worked_at)
        signed = list(made.sign_offs.select_related("step").order_by("pk"))
        waiting = _its_turn(made, lot, signed, position, station)
        step = waiting.step
        if waiting.not_before is not None and waiting.waits(stamp.worked_at):
            until = moment(waiting.not_before)
            raise NotAllowedNow(
                "still_waiting",
                _("{code} waits until {until} before “{title}”.").format(code=lot.code, until=until, title=step.title),
            )
        require_qualified(person, station, timezone.localdate(stamp.received_at))
        if not 0 <= good <= waiting.good:
            raise ReadingRefused("pieces", _("Say how many pieces are good: 0 to {good}.").format(good=waiting.good))
        if step.check_text and good and not checked:
            raise ReadingRefused("missing", _("Still to be checked: {check}").format(check=step.check_text))
        sign_off = LotSignOff(
            made=made,
            step=step,
            person=person,
            person_name=person.name,
            device=stamp.device,
            at=stamp.at,
            received_at=stamp.received_at,
            good=good,
            note=note.strip()[:300],
            tap_key=stamp.tap_key,
            previous_hash=signed[-1].hash if signed else "",
        )
        sign_off.hash = _hash(sign_off, [each.code for each in used])
        sign_off.save(force_insert=True)
        LotComponent.objects.bulk_create([LotComponent(sign_off=sign_off, lot=each) for each in used])
        for each in used:
            if each.state == LotState.RECEIVED:
                open_lot(each, stamp)
        if not good:
            _end(lot, LotState.EMPTY, stamp, "no good piece is left")
        elif waiting.is_last:
            lot.received_on = timezone.localdate(stamp.at)
            _end(lot, LotState.RECEIVED, stamp, f"{good} {made.route.unit} good")
    return sign_off


def _its_turn(
    made: MadeLot, lot: MaterialLot, signed: Sequence[LotSignOff], position: int, station: Station
) -> LotStep:
    """The step at ``position`` if it is what a locked lot waits for, at this station; else why not."""
    steps = list(made.route.steps.select_related("station").order_by("position"))
    step = next((each for each in steps if each.position == position), None)
    if step is None:
        raise NotAllowedNow(
            "no_such_step", _("{code} has no step {position}; open it again.").format(code=lot.code, position=position)
        )
    if step.station_id != station.pk:
        raise NotAllowedNow(
            "other_station",
            _("“{title}” belongs to {station}; sign it there.").format(title=step.title, station=step.station.name),
        )
    if taken := next((each for each in signed if each.step_id == step.pk), None):
        raise LostRace(
            "already_done",
            _("{name} signed “{title}” of {code} already.").format(
                name=taken.person_name, title=step.title, code=lot.code
            ),
        )
    waiting = next_step(made, steps, signed)
    if waiting is None or waiting.step.pk != step.pk:
        first = _("{code}: “{title}” comes first.") if waiting else _("{code}: nothing is left to do on it.")
        title = waiting.step.title if waiting else ""
        raise NotAllowedNow("not_its_turn", first.format(code=lot.code, title=title))
    if lot.state != LotState.MAKING:
        raise NotAllowedNow(
            "not_in_work",
            _("{code} is {state}; a supervisor decides first.").format(code=lot.code, state=_(lot.get_state_display())),
        )
    return waiting


def next_step(made: MadeLot, steps: Sequence[LotRouteStep], signed: Sequence[LotSignOff]) -> LotStep | None:
    """The first step of a lot that nobody signed, or None when all are. Both lists in order."""
    done = {each.step_id for each in signed}
    step = next((each for each in steps if each.pk not in done), None)
    if step is None:
        return None
    last = signed[-1] if signed else None
    dwell = timedelta(hours=last.step.dwell_h) if last else timedelta()
    return LotStep(
        made,
        step,
        last.good if last else made.quantity,
        min(last.at, last.received_at) + dwell if last and dwell else None,
        step.pk == steps[-1].pk,
    )


def steps_waiting(station: Station | None = None) -> list[LotStep]:
    """Of all lots that are being made the step each waits for, oldest lot first; those of one station, or all."""
    lots = (
        MadeLot.objects.filter(lot__state=LotState.MAKING)
        .select_related("lot", "route")
        .prefetch_related("route__steps__station", "sign_offs__step")
        .order_by("begun_at")
    )
    found = []
    for made in lots:
        signed = sorted(made.sign_offs.all(), key=lambda each: each.pk)
        waiting = next_step(made, list(made.route.steps.all()), signed)
        if waiting is not None and (station is None or waiting.step.station_id == station.pk):
            found.append(waiting)
    return found


def lots_with(lot: MaterialLot) -> list[int]:
    """Ids of the lots made here that a lot is in, also by way of other lots made here."""
    found: list[int] = []
    new = [lot.pk]
    while new:
        inside = LotComponent.objects.filter(lot__in=new).order_by().values_list("sign_off__made__lot", flat=True)
        new = [pk for pk in dict.fromkeys(inside) if pk not in found and pk != lot.pk]
        found += new
    return found


def components_of(lots: Iterable[MadeLot]) -> dict[int, list[LotComponent]]:
    """What went into each of some lots so far, by the lot's id."""
    found: dict[int, list[LotComponent]] = defaultdict(list)
    for row in LotComponent.objects.filter(sign_off__made__in=lots).select_related("lot", "sign_off").order_by("pk"):
        found[row.sign_off.made_id].append(row)
    return found


def broken_lots() -> Iterator[BrokenLot]:
    """Signatures under lots made here that were changed, or that are missing in the middle; nothing when all hold."""
    lots = MadeLot.objects.select_related("lot", "route").prefetch_related(
        "sign_offs__components__lot", "sign_offs__step", "route__steps"
    )
    for made in lots.order_by("pk").iterator(chunk_size=200):
        yield from _broken(made)


def _broken(made: MadeLot) -> Iterator[BrokenLot]:
    previous = ""
    signed = sorted(made.sign_offs.all(), key=lambda each: each.pk)
    for each in signed:
        if each.previous_hash != previous:
            yield BrokenLot(made.lot.code, f"“{each.step.title}” does not follow from the signature before it")
        codes = [component.lot.code for component in sorted(each.components.all(), key=lambda row: row.pk)]
        if each.hash != _hash(each, codes):
            yield BrokenLot(made.lot.code, f"the signature under “{each.step.title}” was changed")
        previous = each.hash
    steps = sorted(made.route.steps.all(), key=lambda step: step.position)
    if [each.step_id for each in signed] != [step.pk for step in steps[: len(signed)]]:
        yield BrokenLot(made.lot.code, "a signature in the middle is missing")
    finished = len(signed) == len(steps)
    emptied = bool(signed) and signed[-1].good == 0
    if not finished and not emptied and made.lot.state in (LotState.RECEIVED, LotState.OPEN):
        yield BrokenLot(made.lot.code, "it counts as in stock, but not every step is signed")


def _hash(sign_off: LotSignOff, codes: Sequence[str]) -> str:
    """SHA-256 over everything a signature says, in a fixed order, and the hash of the one before."""
    made = sign_off.made
    content = {
        "lot": made.lot.code,
        "route": [made.route.code, made.route.revision, made.quantity],
        "step": [sign_off.step.position, sign_off.step.title, sign_off.step.check_text],
        "person": [sign_off.person_id, sign_off.person_name],
        "device": sign_off.device,
        "at": sign_off.at.astimezone(UTC).isoformat(),
        "received_at": sign_off.received_at.astimezone(UTC).isoformat(),
        "good": sign_off.good,
        "note": sign_off.note,
        "components": list(codes),
        "tap_key": sign_off.tap_key,
        "previous": sign_off.previous_hash,
    }
    return content_hash(content)


def _components(
    codes: Iterable[str], locked: Mapping[str, MaterialLot], made: MaterialLot, at: datetime
) -> list[MaterialLot]:
    """The locked lots of some codes; ReadingRefused says why one may not go in."""
    used = []
    for code in codes:
        lot = locked.get(code)
        if lot is None:
            raise ReadingRefused(
                "unknown_lot", _("No lot has the code “{code}”; look at the label again.").format(code=code[:40])
            )
        if lot.pk == made.pk:
            raise ReadingRefused("itself", _("{code} can't go into itself.").format(code=lot.code))
        if lot.state not in IN_STOCK:
            raise ReadingRefused(
                "lot_state", _("{lot} is {state}; take another.").format(lot=lot, state=_(lot.get_state_display()))
            )
        if lot.expires_on is not None and lot.expires_on < timezone.localdate(at):
            raise ReadingRefused(
                "lot_expired",
                _("{lot} expired: its last day was {day}. Take another.").format(lot=lot, day=day(lot.expires_on)),
            )
        used.append(lot)
    return used


def _end(lot: MaterialLot, state: LotState, stamp: Stamp, reason: str) -> None:
    lot.state = state
    lot.save(update_fields=["state", "received_on"])
    note_lot_change(lot, state, stamp, reason)


def _next_code(route: LotRoute, day: date) -> str:
    """“WIRES-261125-2”: the route, the day, and a number when it is not the first of that day."""
    base = f"{route.code.upper()[:24]}-{day:%y%m%d}"
    taken = set(MaterialLot.objects.filter(code__startswith=base).values_list("code", flat=True))
    number = next(n for n in range(1, len(taken) + 2) if f"{base}-{n}" not in taken)
    return f"{base}-{number}"
